"""The notices known of each reference, kept in the catalogue: several sources add up, and a later one takes none away.

One setting a reference, so that each change can be undone by itself: its key is `notices` with the reference's key.
"""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from evidence.catalogue.queries import by_key, setting, settings
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Setting
from references.notices import Notice, NoticeKind
from references.record import PartialDate

PREFIX = "notices "


def notices_kept(kept: Mapping[str, str], key: str) -> tuple[Notice, ...]:
    """The notices known of a reference, from the settings of a catalogue."""
    text = kept.get(PREFIX + key)
    return tuple(map(read_notice, json.loads(text))) if text else ()


def keep_notices(session: ChangingSession, key: str, notices: Iterable[Notice]) -> None:
    """Remember the notices of a reference in place of those remembered before."""
    text = json.dumps([write_notice(notice) for notice in notices], ensure_ascii=False)
    name = PREFIX + key
    known = setting(session, name)
    if known is None:
        session.add(Setting(key=name, value=text))
    elif known != text:
        by_key(session, Setting, name, "setting").value = text
    session.flush()


def carry_notices(session: ChangingSession, gone: str, kept: str) -> None:
    """After `gone` was merged into `kept`: what was known of the one is known of the other."""
    known = settings(session)
    if PREFIX + gone not in known:
        return
    keep_notices(session, kept, add_notices(notices_kept(known, kept), notices_kept(known, gone)))
    session.delete(by_key(session, Setting, PREFIX + gone, "setting"))
    session.flush()


def add_notices(known: Iterable[Notice], new: Iterable[Notice]) -> tuple[Notice, ...]:
    """Known notices, then new ones; the same said by several sources counts once, with the first source."""
    found: dict[tuple[Any, ...], Notice] = {}
    for notice in (*known, *new):
        found.setdefault((notice.kind, str(notice.date or ""), notice.notice_doi), notice)
    return tuple(found.values())


def write_notice(notice: Notice) -> dict[str, Any]:
    """A notice as JSON can hold it; what it does not say is left out."""
    fields = {
        "kind": str(notice.kind),
        "date": notice.date.to_csl() if notice.date else None,
        "reasons": list(notice.reasons),
        "source": notice.source,
        "notice_doi": notice.notice_doi,
        "notice_pmid": notice.notice_pmid,
        "remark": notice.remark,
    }
    return {name: value for name, value in fields.items() if value}


def read_notice(item: Mapping[str, Any]) -> Notice:
    """The notice that was written so."""
    return Notice(
        NoticeKind(item["kind"]),
        None,
        None,
        PartialDate.from_csl(item["date"]) if item.get("date") else None,
        tuple(item.get("reasons", ())),
        item.get("source", ""),
        item.get("notice_doi"),
        item.get("notice_pmid"),
        item.get("remark", ""),
    )
