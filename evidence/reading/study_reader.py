"""From the entries of a study file to a StudyDraft: names looked up, keys linked, everything odd noted."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from evidence.reading.plain_yaml import Document, Path, written
from evidence.reading.study_checks import check_study
from evidence.reading.study_draft import (
    BiasDomain,
    BiasDraft,
    ConditionDraft,
    CorrelationDraft,
    OutcomeDraft,
    PeopleDraft,
    Problem,
    ReferenceLink,
    StudyDraft,
)
from evidence.reading.study_entries import (
    Notes,
    candidates_in_words,
    details_of,
    entries_of,
    fault_in_words,
    number_of,
    text_of,
    whole_of,
    word_of,
)
from evidence.reading.study_results import ResultReader
from evidence.vocabulary import Lookup, Vocabulary
from evidence.vocabulary.terms import Pairing

NOT_STATED = "not stated"


class StudyReader:
    """Reads one document once. `problems` and `warnings` are filled by `read`."""

    def __init__(self, document: Document, vocabulary: Vocabulary) -> None:
        self._data: dict[str, Any] = document.data
        self._vocabulary = vocabulary
        self._notes = Notes(document)

    @property
    def problems(self) -> list[Problem]:
        return self._notes.problems

    @property
    def warnings(self) -> list[Problem]:
        return self._notes.warnings

    def read(self) -> StudyDraft | None:
        """The draft, or None where nothing like a study could be made of the file."""
        data = self._data
        people = [self._read_people(path, entry) for path, entry in entries_of(data, "people")]
        conditions = [self._read_condition(path, entry) for path, entry in entries_of(data, "conditions")]
        outcomes = [self._read_outcome(path, entry) for path, entry in entries_of(data, "outcomes")]
        for kind in ("people", "conditions", "outcomes"):
            self._check_keys(kind)
        reader = ResultReader(self._data, self._vocabulary, self._notes, people, conditions, outcomes)
        results, places = reader.read()
        self._check_links(conditions, people)
        design = self._look_up("design", ("design",), data, self._vocabulary.find_design)
        known = self._vocabulary.designs.get(design or "")
        pairing = word_of(data, "pairing", Pairing) or Pairing(known.pairing if known else "none")
        randomised = text_of(data, "randomised") or (known.randomised if known else NOT_STATED)
        key, title = text_of(data, "key"), text_of(data, "title")
        if key is None or title is None or design is None:
            return None
        draft = StudyDraft(
            key=key,
            title=title,
            design=design,
            pairing=pairing,
            randomised=randomised,
            year=whole_of(data, "year"),
            weeks=number_of(data, "weeks"),
            invented=data.get("invented") is True,
            sample=text_of(data, "sample"),
            funding=text_of(data, "funding"),
            source=text_of(data, "source"),
            note=text_of(data, "note"),
            references=self._read_references(),
            people=tuple(people),
            conditions=tuple(conditions),
            outcomes=tuple(outcomes),
            results=tuple(results),
            correlations=self._read_correlations({result.key for result in results}),
            bias=self._read_bias(),
        )
        check_study(draft, places, self._vocabulary, self._notes)
        return replace(draft, warnings=tuple(dict.fromkeys(self.warnings)))

    def _look_up(
        self, key: str, path: Path, entry: dict[str, Any], find: Callable[[str], Lookup]
    ) -> str | None:
        """The id that the text at `key` names; a problem with the candidates where that is not one thing."""
        text = text_of(entry, key)
        if text is None:
            return None
        found = find(text)
        if found.match is None:
            fault = fault_in_words(found)
            self._notes.problem(path, f'{key} "{text}" {fault}', candidates_in_words(found))
        elif found.broad:
            self._notes.warn(
                path, f'{key} "{text}" is read as {found.candidates[0].name}', "Check that it is."
            )
        return found.match

    def _look_up_softly(
        self,
        key: str,
        path: Path,
        entry: dict[str, Any],
        find: Callable[[str], Lookup],
        default: str = NOT_STATED,
    ) -> str:
        """The id that the text at `key` names, or the text itself with a warning."""
        text = text_of(entry, key)
        if text is None:
            return default
        found = find(text)
        if found.match is None:
            hint = candidates_in_words(found, 6)
            self._notes.warn(path, f'{key} "{text}" is not in the vocabulary and is kept as written', hint)
        return found.match or text

    def _read_people(self, path: Path, entry: dict[str, Any]) -> PeopleDraft:
        find = self._vocabulary
        status = self._look_up(
            "training_status", (*path, "training_status"), entry, find.find_training_status
        )
        return PeopleDraft(
            key=text_of(entry, "key") or "",
            label=text_of(entry, "label") or "",
            recruited=whole_of(entry, "recruited"),
            analysed=whole_of(entry, "analysed"),
            sex=self._look_up("sex", (*path, "sex"), entry, find.find_sex) or NOT_STATED,
            age_mean=number_of(entry, "age_mean"),
            age_sd=number_of(entry, "age_sd"),
            training_status=status or NOT_STATED,
            health=self._look_up_softly("health", (*path, "health"), entry, find.find_health),
            note=text_of(entry, "note"),
        )

    def _read_condition(self, path: Path, entry: dict[str, Any]) -> ConditionDraft:
        exercise = self._look_up("exercise", (*path, "exercise"), entry, self._vocabulary.find_exercise)
        return ConditionDraft(
            key=text_of(entry, "key") or "",
            exercise=exercise,
            printed=text_of(entry, "printed") or "",
            details=details_of(entry, "details"),
            dose=details_of(entry, "dose"),
            people=text_of(entry, "people"),
            n=whole_of(entry, "n"),
        )

    def _read_outcome(self, path: Path, entry: dict[str, Any]) -> OutcomeDraft:
        find = self._vocabulary
        construct = self._look_up("construct", (*path, "construct"), entry, find.find_construct) or ""
        instrument = self._look_up_softly("instrument", (*path, "instrument"), entry, find.find_instrument)
        normalisation = self._look_up(
            "normalisation", (*path, "normalisation"), entry, find.find_normalisation
        )
        unit = text_of(entry, "unit") or ""
        if unit and find.find_unit(unit) is None:
            self._notes.warn(
                (*path, "unit"), f'unit "{unit}" is not in the vocabulary and is kept as written'
            )
        tool = find.instruments.get(instrument)
        usual = find.constructs[construct].better if construct in find.constructs else "higher"
        return OutcomeDraft(
            key=text_of(entry, "key") or "",
            construct=construct,
            instrument=instrument,
            unit=unit,
            normalisation=normalisation or NOT_STATED,
            amplitude=text_of(entry, "amplitude") or NOT_STATED,
            phase=text_of(entry, "phase") or NOT_STATED,
            better=text_of(entry, "better") or (tool.better if tool and tool.better else usual),
            note=text_of(entry, "note"),
        )

    def _check_keys(self, kind: str) -> None:
        seen: set[str] = set()
        for path, entry in entries_of(self._data, kind):
            key = text_of(entry, "key")
            if key is not None and key in seen:
                self._notes.problem(
                    (*path, "key"), f'"{key}" is given twice in {kind}', "Keys are used once."
                )
            seen.add(key or "")

    def _check_links(self, conditions: list[ConditionDraft], people: list[PeopleDraft]) -> None:
        groups = {group.key for group in people}
        for number, condition in enumerate(conditions):
            if condition.people is not None and condition.people not in groups:
                known = ", ".join(sorted(groups)) or "none"
                path: Path = ("conditions", number, "people")
                self._notes.problem(
                    path, f'no group of people has the key "{condition.people}"', f"Known: {known}."
                )

    def _read_references(self) -> tuple[ReferenceLink, ...]:
        listed = self._data.get("references")
        links = []
        for item in listed if isinstance(listed, list) else ():
            if isinstance(item, dict):
                doi = text_of(item, "doi")
                links.append(
                    ReferenceLink(text_of(item, "key"), plain_doi(doi), text_of(item, "role") or "report")
                )
            elif item is not None and not isinstance(item, list):
                text = written(item)
                doi = plain_doi(text)
                links.append(
                    ReferenceLink(doi=doi) if doi and doi.startswith("10.") else ReferenceLink(key=text)
                )
        return tuple(links)

    def _read_correlations(self, keys: set[str]) -> tuple[CorrelationDraft, ...]:
        drafts = []
        for path, entry in entries_of(self._data, "correlations"):
            r = number_of(entry, "r")
            a, b = text_of(entry, "a"), text_of(entry, "b")
            for name, key in (("a", a), ("b", b)):
                if key is not None and key not in keys:
                    self._notes.problem(
                        (*path, name),
                        f'no result has the key "{key}"',
                        "Give the result a key, and name that key here.",
                    )
            if a == b and a is not None:
                self._notes.problem(path, "a correlation of a result with itself")
            if r is not None and not -1 <= r <= 1:
                self._notes.problem((*path, "r"), f"a correlation of {r:g}", "It lies between -1 and 1.")
            if a is None or b is None or r is None:
                continue
            origin = text_of(entry, "origin") or "printed"
            drafts.append(CorrelationDraft(a, b, r, origin, text_of(entry, "locator") or ""))
        return tuple(drafts)

    def _read_bias(self) -> BiasDraft | None:
        entry = self._data.get("bias")
        if not isinstance(entry, dict):
            return None
        domains = tuple(
            BiasDomain(
                text_of(item, "domain") or "", text_of(item, "judgement") or "", text_of(item, "reason") or ""
            )
            for _, item in entries_of(entry, "domains")
        )
        return BiasDraft(
            tool=text_of(entry, "tool") or "",
            overall=text_of(entry, "overall") or "not assessed",
            score=number_of(entry, "score"),
            domains=domains,
            note=text_of(entry, "note"),
        )


def plain_doi(text: str | None) -> str | None:
    """A DOI without its resolver or prefix word, in lower case (DOIs ignore case: DOI Handbook 2.4)."""
    if text is None:
        return None
    plain = text.strip().lower()
    for prefix in ("https://", "http://", "dx.", "doi.org/", "doi:"):
        plain = plain.removeprefix(prefix)
    return plain.strip()
