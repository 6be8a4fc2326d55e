"""Check of safety: promises about pain and injury, loads against warning signs, clinical advice, without a caution.

Steelyard gives no medical advice; claims of pain, injury and clinical groups defer to licensed practice.
"""

from collections.abc import Iterator

from evidence.appraisal.draft_cues import Cue, find_safety_cue
from evidence.workflows.drafts.findings import Draught, Suggestion, mark_of
from evidence.workflows.drafts.readings import Reading

CLINICAL_OUTCOMES = {"pain", "injury"}
PAIN, CLINICAL = "pain_or_injury", "clinical"  # cautions of the vocabulary


def check_safety(reading: Reading) -> Iterator[Draught]:
    """What could get somebody hurt, with no caution in the same sentence or cue."""
    if reading.not_held or find_safety_cue("caution", reading.near_text):
        return
    found = reading.safety("promise")
    if found is not None and not reading.left_open and not reading.safety("warns"):
        yield _unsafe(
            reading,
            f'"{found.text}" promises what no training can.',
            "it says of a body what only a clinician may judge",
            found,
        )
        return
    found = reading.safety("through_pain")
    if found is not None and not reading.safety("warns"):
        yield _unsafe(
            reading,
            f'"{found.text}" works against warning signs.',
            "pain that stays or grows needs a clinician",
            found,
        )
        return
    if answers_clinical_question(reading):
        yield _unsafe(
            reading,
            "Advice for a clinical state, with no caution.",
            "timing and loads belong to those who treat it",
            None,
            CLINICAL,
        )
        return
    found = reading.safety("clinical")
    if found is not None and reading.safety("advice") and not reading.reports:
        yield _unsafe(
            reading,
            f'"{found.text}": advice for a clinical state, with no caution.',
            "timing and loads belong to those who treat it",
            found,
            CLINICAL,
        )
        return
    clinical = [c for c in reading.claims if c.construct in CLINICAL_OUTCOMES]
    cautioned = find_safety_cue("caution", text_behind(reading)) is not None
    if clinical and reading.asserts and not (reading.left_open or cautioned or says_of_whom(reading)):
        mark = reading.safety("injury") or reading.safety("body")
        yield _unsafe(
            reading,
            "A claim of pain or injury is told with no caution.",
            "studies describe groups, not the reader",
            mark,
        )


def text_behind(reading: Reading) -> str:
    """The next sentence of the same block; behind a question ("Had one before?") its answer too."""
    if reading.after is None:
        return ""
    later = reading.draft.sentences[reading.number + 2 : reading.number + 3]
    if not reading.after.text.endswith("?") or not later or later[0].block != reading.after.block:
        return reading.after.text
    return f"{reading.after.text} {later[0].text}"


def answers_clinical_question(reading: Reading) -> bool:
    """ "Torn meniscus? Keep squatting": the state stands in a short question, the advice behind it."""
    asked = reading.before
    if asked is None or not asked.text.endswith("?") or len(asked.text) > 80:
        return False
    advises = reading.tells_to_do or reading.safety("advice") is not None
    return find_safety_cue("clinical", asked.text) is not None and advises and not reading.safety("warns")


def says_of_whom(reading: Reading) -> bool:
    """Whether the sentence tells, with a hedge or as a report, what was found in people it names."""
    hedged = reading.strength in ("may", "probably", "very_uncertain")
    return (hedged or reading.reports) and reading.cue("studied") is not None


def _unsafe(reading: Reading, what: str, why: str, mark: Cue | None, usual: str = PAIN) -> Draught:
    """A finding with one sentence that would do: the caution that its words call up, else the `usual` one."""
    vocabulary = reading.knowledge.vocabulary
    caution = next(iter(vocabulary.cautions_for(reading.text)), vocabulary.cautions[usual])
    return Draught(
        "safety",
        what,
        why,
        mark_of(mark),
        suggestions=(Suggestion("caution", caution.sentence),),
        claim=next((c.key for c in reading.claims), None),
    )
