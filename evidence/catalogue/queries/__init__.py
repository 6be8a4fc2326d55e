"""What is asked of a catalogue. Every function is given a session; every list comes in the order of its keys.

Rows stay usable after the session ends. `NotFound` names the nearest keys.
"""

from evidence.catalogue.queries.bibliography import (
    ReferenceFilter,
    all_references,
    count_references,
    list_references,
    list_unread,
    reference_by_identifier,
    reference_by_key,
    stored_records,
    studies_of_reference,
)
from evidence.catalogue.queries.claims import (
    appraisals_of,
    claim_by_key,
    exclusions_of,
    last_content_change,
    last_evidence_change,
    latest_appraisal,
    latest_appraisals,
    list_claims,
    overrides_of,
    uses_named,
    uses_of,
    uses_of_kind,
)
from evidence.catalogue.queries.finding import by_key, nearest_keys
from evidence.catalogue.queries.searching import (
    Clause,
    ReferenceSearch,
    Subject,
    Term,
    search_references,
)
from evidence.catalogue.queries.studies import (
    StudyRows,
    list_studies,
    studies_measuring,
    study_by_digest,
    study_by_key,
    study_rows,
    study_rows_of,
)
from evidence.catalogue.queries.vocabulary import own_aliases, own_exercises, setting, settings
from evidence.catalogue.queries.writing import (
    draft_by_key,
    find_draft,
    list_drafts,
    references_against,
)

__all__ = [
    "Clause",
    "ReferenceFilter",
    "ReferenceSearch",
    "StudyRows",
    "Subject",
    "Term",
    "all_references",
    "appraisals_of",
    "by_key",
    "claim_by_key",
    "count_references",
    "draft_by_key",
    "exclusions_of",
    "find_draft",
    "last_content_change",
    "last_evidence_change",
    "latest_appraisal",
    "latest_appraisals",
    "list_claims",
    "list_drafts",
    "list_references",
    "list_studies",
    "list_unread",
    "nearest_keys",
    "overrides_of",
    "own_aliases",
    "own_exercises",
    "reference_by_identifier",
    "reference_by_key",
    "references_against",
    "search_references",
    "setting",
    "settings",
    "stored_records",
    "studies_measuring",
    "studies_of_reference",
    "study_by_digest",
    "study_by_key",
    "study_rows",
    "study_rows_of",
    "uses_named",
    "uses_of",
    "uses_of_kind",
]
