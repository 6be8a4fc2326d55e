"""A study file to fill in, for each design: what is asked stands empty, with a comment on what goes there."""

from evidence.vocabulary import Design, Vocabulary

_HEAD = """\
# A study file to fill in: {name}.
# Fill in what is empty or "?", and take out the lines of what the paper does not tell. What stands behind # is for you.
# Then: steelyard study load FILE. What is still to be filled in is told, and nothing is stored before it is right.
steelyard: study/1
key:                  # a short name of your own, such as oak-2021
title:                # as printed; in "quotation marks" where it holds a colon
year:
references: []        # keys or DOIs of references, such as [oak2021] or [{{doi: 10.5555/oak}}]
design: {id}
"""
_WEEKS = "weeks:                # length of the training; take it out for a single session\n"
_READ = """\
read_from:            # what you have open: abstract, full text, figure, open data

people:
  - key: all
    recruited:        # people who began
    analysed:         # people in the results
    sex:              # female, male, both, not stated
    age_mean:
    age_sd:
    training_status:  # {statuses}, not stated
    health:           # healthy, not stated, or the condition in the paper's words

conditions:           # {each}
"""
_CONDITION = """\
  - key: {key}
    exercise: "?"     # its name, such as back squat; whether it is known: steelyard words find "back squat"
    printed:          # as the paper calls it
    n:                # people analysed in it
"""
_OUTCOME = """
outcomes:
  - key: measure
    construct:        # {constructs}
    instrument:       # such as ultrasound muscle thickness, surface EMG, 1RM
    unit:             # as printed: mm, cm2, %MVIC, kg
"""
_NO_TABLES = """
# No results stand here: {why}
"""
_TABLES = """
tables:               # one for each time; or leave them out, and paste the paper's table: steelyard results paste KEY
"""
_TABLE = """\
  - outcome: measure
    timepoint: {time}
    locator:          # where it stands, such as Table 2
    spread:           # what stands behind ± or in brackets: SD, SE, CI, IQR, range, none, not stated
    columns: [{columns}]
    rows:             # one for each muscle
      - region: "?"   # the muscle, such as vastus lateralis; take it out where none is meant, as in a jump
        cells: [{cells}]
"""
_EACH = {
    "between": "what each group did, one entry for each",
    "within": "what the same people did, one entry for each exercise, side or trial",
    "none": "what the people did",
}
_WITHOUT_RESULTS = {
    "systematic_review": "the studies in a review are entered one by one, each in a file of its own.",
    "mechanistic_or_model_or_expert": "what is reasoned or modelled backs a claim, but is no effect in people.",
}


def study_template(design: Design, vocabulary: Vocabulary) -> str:
    """The text of a study file with everything left to fill in, for one design."""
    keys = ("first",) if design.pairing == "none" else ("first", "second")
    statuses = ", ".join(s for s in vocabulary.training_statuses if s != "not stated")
    text = _HEAD.format(name=design.name, id=design.id) + _WEEKS
    text += _READ.format(statuses=statuses, each=_EACH[design.pairing])
    text += "".join(_CONDITION.format(key=key) for key in keys)
    text += _OUTCOME.format(constructs=", ".join(vocabulary.constructs))
    if why := _WITHOUT_RESULTS.get(design.id):
        return text + _NO_TABLES.format(why=why)
    return text + _TABLES + "".join(_table(time, keys) for time in _times(design))


def _times(design: Design) -> tuple[str, ...]:
    """Before and after where groups trained; one time where the same people did both, mostly in one session."""
    return ("acute",) if design.pairing == "within" else ("pre", "post")


def _table(time: str, keys: tuple[str, ...]) -> str:
    told = _TABLE.format(time=time, columns=", ".join(keys), cells=", ".join('"?"' for _ in keys))
    lines = told.split("\n")
    if time == "acute":
        lines[1] += "  # one session; after weeks of training: one table with pre, one with post"
    lines[-2] += '  # each exactly as printed, such as "18.2 ± 2.1"'
    return "\n".join(lines)
