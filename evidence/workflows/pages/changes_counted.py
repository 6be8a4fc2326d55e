"""What a change set changed, counted in the words of its kinds: "12 results added"."""

from collections.abc import Sequence

from evidence.catalogue.history import RowCount

OPERATIONS = {"add": "added", "edit": "edited", "remove": "removed"}
KINDS = {
    "setting": ("setting", "settings"),
    "own_exercise": ("exercise", "exercises"),
    "own_alias": ("name", "names"),
    "unread_entry": ("entry to mend", "entries to mend"),
    "draft": ("draft", "drafts"),
    "programme": ("programme", "programmes"),
    "reference": ("reference", "references"),
    "study": ("study", "studies"),
    "study_reference": ("link to a reference", "links to references"),
    "people": ("group of people", "groups of people"),
    "condition": ("condition", "conditions"),
    "outcome": ("outcome", "outcomes"),
    "raw_table": ("table", "tables"),
    "result": ("result", "results"),
    "correlation": ("correlation", "correlations"),
    "claim": ("claim", "claims"),
    "exclusion": ("study left out", "studies left out"),
    "override": ("rating by a person", "ratings by a person"),
    "claim_link": ("linked source", "linked sources"),
    "rating": ("judgement", "judgements"),
    "appraisal": ("finding", "findings"),
    "use": ("published statement", "published statements"),
}
# Not counted beside what it comes with: whoever reads "12 results added" pasted one table, not thirteen things.
COMES_WITH = {
    "raw_table": ("result",),
    "people": ("study",),
    "condition": ("study",),
    "outcome": ("study",),
    "study_reference": ("study", "reference"),
    "appraisal": ("study", "claim", "result", "reference", "exclusion", "override", "claim_link", "rating"),
}


def count_rows(counts: Sequence[RowCount]) -> str:
    """ "1 study, 4 results added; 1 claim edited" in words; "nothing" where no row changed."""
    told = []
    for operation, done in OPERATIONS.items():
        rows = {c.table: c.rows for c in counts if c.operation == operation}
        own = [name for name in rows if not any(other in rows for other in COMES_WITH.get(name, ()))]
        if own:
            told.append(f"{', '.join(count_kind(name, rows[name]) for name in own)} {done}")
    return "; ".join(told) or "nothing"


def count_kind(table: str, rows: int) -> str:
    """ "1 study", "12 results"."""
    return f"{rows} {KINDS.get(table, (table, table))[rows != 1]}"
