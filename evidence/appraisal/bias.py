"""Risk of bias of one study: answers to prompts in, a proposed judgement per domain and over all out.

The prompts and the order of the rules are data (`rules/rob2.yaml`,
`rules/emg_within_subject_checks.yaml`): short labels of our own over the published domains, the published
logic, no question texts of the tools. Domain 1 of RoB 2 is verified; other branches are from memory and
marked so. A person's choice replaces a proposal and both are kept.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from evidence.appraisal.rulebook import load_rules
from evidence.errors import BadInput

LOW, SOME, HIGH = "low", "some concerns", "high"
ORDER = (LOW, SOME, HIGH)
ROBINS_ORDER = ("low", "moderate", "no information", "serious", "critical")
BAD = (HIGH, "serious", "critical")
OVERALL = "overall"
ANSWERS = ("Y", "PY", "PN", "N", "NI", "NA")
VARIANTS = {
    "parallel": (
        "D1_randomisation",
        "D2a_deviations_assignment",
        "D3_missing_outcome",
        "D4_measurement",
        "D5_selective_result",
    ),
    "parallel_adhering": (
        "D1_randomisation",
        "D2b_deviations_adhering",
        "D3_missing_outcome",
        "D4_measurement",
        "D5_selective_result",
    ),
    "crossover": (
        "D1_randomisation",
        "DS_period_carryover",
        "D2a_deviations_assignment",
        "D3_missing_outcome",
        "D4_measurement",
        "D5_selective_result",
    ),
}
NAMES = {
    "D1": "randomisation",
    "DS": "period and carry-over",
    "D2": "departures from the plan",
    "D3": "missing results",
    "D4": "measurement",
    "D5": "choice of what is reported",
}


@dataclass(frozen=True, slots=True)
class DomainJudgement:
    """One domain: the judgement proposed (None: answers are missing), from which rule, and what a person
    chose.
    """

    domain: str
    name: str
    proposed: str | None
    because: str
    conf: str
    missing: tuple[str, ...] = ()
    chosen: str | None = None
    reason: str = ""
    person: str = ""

    @property
    def judgement(self) -> str | None:
        """What holds: the person's choice, else the proposal."""
        return self.chosen or self.proposed


@dataclass(frozen=True, slots=True)
class BiasJudgement:
    """All domains of one study, and the overall judgement: the least favourable domain, or what a person chose.

    `chosen`, `reason`, `person`: a choice of the overall judgement over the proposed one.
    """

    tool: str
    domains: tuple[DomainJudgement, ...]
    note: str = ""
    chosen: str | None = None
    reason: str = ""
    person: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """The judgements that this tool knows, the most favourable first."""
        return ROBINS_ORDER if self.tool == "nonrandomised" else ORDER

    @property
    def proposed(self) -> str:
        """What the domains as they stand come to."""
        return combine_domains([d.judgement for d in self.domains])

    @property
    def overall(self) -> str:
        """The person's choice, else `proposed`; `not assessed` while a domain is open and none is at the worst."""
        return self.chosen or self.proposed

    @property
    def high_domains(self) -> int:
        """Domains judged high, serious or critical."""
        return sum(d.judgement in BAD for d in self.domains)


def combine_domains(held: Sequence[str | None]) -> str:
    """The least favourable domain (RoB 2 and ROBINS-I alike); `not assessed` while one is open that could be worse.

    ROBINS-I: no information in a domain comes before moderate, and after serious and critical.
    """
    for worst in (HIGH, "critical"):
        if worst in held:
            return worst
    if None in held or not held:
        return "not assessed"
    words = ROBINS_ORDER if set(held) <= set(ROBINS_ORDER) else ORDER
    return max((word for word in held if word is not None), key=words.index)


def list_prompts(tool: str) -> tuple[tuple[str, str, str, tuple[str, ...]], ...]:
    """(key, domain, prompt, answers allowed) of a tool: parallel, parallel_adhering, crossover or
    emg_within_person.
    """
    if tool == "emg_within_person":
        items = load_rules("emg_within_subject_checks")["items"]
        return tuple(
            (key, NAMES[item["domain"]], item["ask"], tuple(item.get("choices", ("yes", "no", "unclear"))))
            for key, item in items.items()
        )
    domains, prompts = load_rules("rob2")["domains"], load_rules("rob2_prompts")
    return tuple(
        (key, NAMES[name[:2]], prompts[name].get(key, label), ANSWERS)
        for name in _variant(tool)
        for key, label in domains[name]["questions"].items()
    )


def judge_bias(tool: str, answers: Mapping[str, str]) -> BiasJudgement:
    """Propose a judgement for every domain of a tool from the answers given (see `list_prompts`).

    Raises BadInput for an unknown tool, an unknown prompt or an answer that is not allowed.
    """
    allowed = {key: options for key, _, _, options in list_prompts(tool)}
    for key, answer in answers.items():
        if key not in allowed:
            raise BadInput(f"no prompt is called {key!r}", hint=f"There are: {', '.join(allowed)}.")
        if answer not in allowed[key]:
            raise BadInput(
                f"{answer!r} does not answer {key!r}", hint=f"Use one of: {', '.join(allowed[key])}."
            )
    if tool == "emg_within_person":
        return BiasJudgement(
            tool, _judge_emg(answers), load_rules("emg_within_subject_checks").get("note", "")
        )
    return BiasJudgement(
        tool, tuple(_judge_rob2(name, answers) for name in _variant(tool)), _note_several(tool)
    )


def choose_judgement(
    whole: BiasJudgement, domain: str, chosen: str, reason: str, person: str
) -> BiasJudgement:
    """A person's judgement of one domain, or `overall`, in place of the proposal; both stay.

    Raises BadInput without a reason.
    """
    if chosen not in whole.words:
        raise BadInput(f"{chosen!r} is no judgement", hint=f"Use one of: {', '.join(whole.words)}.")
    if not reason.strip():
        raise BadInput("a choice needs a reason", hint="Write a sentence that says why.")
    if domain == OVERALL:
        return replace(whole, chosen=chosen, reason=reason.strip(), person=person)
    if domain not in {d.domain for d in whole.domains}:
        raise BadInput(
            f"no domain is called {domain!r}",
            hint=f"There are: {', '.join(d.domain for d in whole.domains)}.",
        )
    settled = tuple(
        replace(d, chosen=chosen, reason=reason, person=person) if d.domain == domain else d
        for d in whole.domains
    )
    return replace(whole, domains=settled)


def judge_nonrandomised(answers: Mapping[str, str]) -> BiasJudgement:
    """ROBINS-I from a person's word for each domain; domains without one stay open."""
    prompts = load_rules("robins_prompts")
    known = {key: prompts[key] for key in prompts if key != "words"}
    for key, word in answers.items():
        if key not in known:
            raise BadInput(f"no domain is called {key!r}", hint=f"There are: {', '.join(known)}.")
        if word not in prompts["words"]:
            raise BadInput(
                f"{word!r} is no judgement of {key}", hint=f"Use one of: {', '.join(prompts['words'])}."
            )
    domains = tuple(
        DomainJudgement(
            key,
            entry["name"],
            answers.get(key),
            "judged by a person" if key in answers else "",
            entry["conf"],
            () if key in answers else (key,),
        )
        for key, entry in known.items()
    )
    return BiasJudgement(
        "nonrandomised", domains, "One word per domain, by a person: no rule stands behind it."
    )


def judge_robins(domains: Mapping[str, str]) -> str:
    """The overall ROBINS-I judgement from a person's judgements of its seven domains (no signalling
    questions here).
    """
    book = load_rules("robins_i")
    known = {entry["id"] for entry in book["domains"]}
    words = ("low", "moderate", "serious", "critical", "no information")
    for key, word in domains.items():
        if key not in known or word not in words:
            raise BadInput(
                f"{key}: {word!r} is no judgement of ROBINS-I", hint=f"Domains D1 to D7; {', '.join(words)}."
            )
    if known - set(domains):
        return "no information"
    held = set(domains.values())
    for word in ("critical", "serious", "no information", "moderate"):
        if word in held:
            return word
    return "low"


def _variant(tool: str) -> Sequence[str]:
    if tool not in VARIANTS:
        raise BadInput(
            f"no tool is called {tool!r}", hint=f"There are: {', '.join((*VARIANTS, 'emg_within_person'))}."
        )
    return VARIANTS[tool]


def _note_several(tool: str) -> str:
    note = "Several domains with some concerns may together come to high: that is a person's call."
    return (
        f"{note} No information on carry-over is taken as high: uncertain." if tool == "crossover" else note
    )


def _judge_rob2(name: str, answers: Mapping[str, str]) -> DomainJudgement:
    entry = load_rules("rob2")["domains"][name]
    known = {key: answers[key] for key in entry["questions"] if key in answers}
    if "aware" in {key for rule in entry.get("rules", ()) for key in rule}:
        known |= _derive_aware(known)
    parts = list(entry["parts"].values()) if "parts" in entry else [entry["rules"]]
    found = [_first_rule(rules, known) for rules in parts]
    missing = tuple(sorted({key for _, keys, _ in found for key in keys}))
    judged = [word for word, _, _ in found if word is not None]
    word = max(judged, key=ORDER.index) if judged and (not missing or HIGH in judged) else None
    because = "; ".join(
        reason for judgement, _, reason in found if judgement is not None and judgement == word
    )
    return DomainJudgement(name, NAMES[name[:2]], word, because, entry["conf"], () if word else missing)


def _derive_aware(known: Mapping[str, str]) -> dict[str, str]:
    """Anyone aware, or nobody said: yes; both known to be unaware: no; else not known yet."""
    pair = [known.get("q2_1"), known.get("q2_2")]
    if any(answer in ("Y", "PY", "NI") for answer in pair):
        return {"aware": "Y"}
    return {"aware": "N"} if all(pair) else {}


def _first_rule(
    rules: Sequence[Mapping[str, Any]], known: Mapping[str, str]
) -> tuple[str | None, set[str], str]:
    """(judgement, prompts still to be answered, why): the first rule that holds, unless an open one
    stands before it.
    """
    sets = load_rules("rob2")["answer_sets"]
    for rule in rules:
        asked = {key: sets[value] for key, value in rule.items() if key != "then"}
        if any(key in known and known[key] not in options for key, options in asked.items()):
            continue
        open_ones = {key for key in asked if key not in known}
        if open_ones:
            return None, _asked_for(open_ones, known), ""
        why = ", ".join(f"{key} {known[key]}" for key in asked)
        return rule["then"].replace("_", " "), set(), why
    return (
        None,
        {key for rule in rules for key in rule if key not in known and key not in ("then", "aware")},
        "",
    )


def _asked_for(open_ones: set[str], known: Mapping[str, str]) -> set[str]:
    """The prompts behind what a rule still asks: being aware is two prompts, of which one may be answered."""
    asked = open_ones - {"aware"}
    if "aware" in open_ones:
        asked |= {key for key in ("q2_1", "q2_2") if key not in known}
    return asked


def _judge_emg(answers: Mapping[str, str]) -> tuple[DomainJudgement, ...]:
    items = load_rules("emg_within_subject_checks")["items"]
    by_domain: dict[str, list[str]] = {}
    for key, item in items.items():
        by_domain.setdefault(item["domain"], []).append(key)
    return tuple(_judge_emg_domain(domain, keys, answers) for domain, keys in sorted(by_domain.items()))


def _judge_emg_domain(domain: str, keys: Sequence[str], answers: Mapping[str, str]) -> DomainJudgement:
    items = load_rules("emg_within_subject_checks")["items"]
    judged = {key: _judge_emg_item(items[key], answers[key]) for key in keys if key in answers}
    missing = tuple(key for key in keys if key not in answers)
    worst = max(judged.values(), key=ORDER.index, default=LOW)
    word = worst if not missing or worst == HIGH else None
    because = "; ".join(
        f"{key}: {answers[key]}" for key, got in judged.items() if got == worst and got != LOW
    )
    if not because and missing:
        because = f"{len(judged)} of {len(keys)} answered" if judged else "not answered yet"
    return DomainJudgement(
        domain, NAMES[domain], word, because or "all answered yes", "project", () if word else missing
    )


def _judge_emg_item(item: Mapping[str, Any], answer: str) -> str:
    if "choices" in item:
        return str(item["choices"][answer])
    return LOW if answer == "yes" else str(item.get(answer, SOME))
