"""Drafts as stored: when each was last held against the catalogue, and what its author accepted."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import find_draft
from evidence.catalogue.state import catalogue_state
from evidence.catalogue.tables import Draft as StoredDraft
from evidence.reading.drafts import Draft
from evidence.workflows.drafts.checking import Checked


@dataclass(frozen=True, slots=True)
class LastChecked:
    """When a draft was last checked, and the state of the catalogue then."""

    at: datetime
    catalogue_hash: str | None


def key_of_draft(draft: Draft) -> str:
    """A draft is known by the name of its file."""
    from pathlib import Path

    return Path(draft.name).name


def last_check(catalogue: Catalogue, draft: Draft) -> LastChecked | None:
    """When this draft was last checked and recorded; None: never."""
    with catalogue.reading() as session:
        row = find_draft(session, key_of_draft(draft))
    return LastChecked(row.checked_at, row.catalogue_hash) if row is not None and row.checked_at else None


def with_last_check(draft: Draft, last: LastChecked | None) -> Draft:
    """The draft with the day of its last recorded check, where its front matter names none."""
    if last is None or draft.settings.get("checked"):
        return draft
    return replace(draft, settings={**draft.settings, "checked": last.at.date()})


def record_check(catalogue: Catalogue, checked: Checked, who: str) -> str:
    """Store the draft as it was checked, and the state of the catalogue; returns its key."""
    draft, now = checked.draft, catalogue.now()
    key = key_of_draft(draft)
    accepted = {
        str(f.number): {"kind": f.kind, "place": str(f.place), "reason": f.accepted}
        for f in checked.findings
        if f.accepted is not None
    }
    with catalogue.changing(who, f"draft check {key}") as session:
        row = find_draft(session, key)
        state = catalogue_state(session)
        values: dict[str, Any] = {
            "title": draft.title[:500], "format": draft.format, "text": draft.source.replace("\x00", ""),
            "audience": {"said": draft.audience} if draft.audience else {}, "accepted": accepted, "checked_at": now,
            "catalogue_hash": state,
        }  # fmt: skip
        if row is None:
            session.add(StoredDraft(key=key, added_at=now, added_by=who, **values))
        else:
            for name, value in values.items():
                setattr(row, name, value)
    return key
