"""What is kept of each reference, so that a few new ones, or a mention, are held against all of them in a moment."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from evidence.catalogue import Catalogue
from evidence.catalogue.worked_out import Kind, Tell, keep_up, read_kept, say_nothing
from evidence.workflows.gather.joining import OTHER_KEYS
from references.profiles import build_profile
from references.record import Record
from references.rules import state_of_library

if TYPE_CHECKING:
    from evidence.catalogue import Session
    from references.matching import Blocks
    from references.mention_index import Subject

_BLOCK = 88  # bytes of the blocking keys; behind them the keys under which the work came in besides, as JSON


@dataclass(frozen=True, slots=True)
class KnownKeys:
    """Of every stored reference its key and blocking keys, and its key by every key under which it came in."""

    keys: tuple[str, ...]
    blocks: "Blocks"
    homes: dict[str, str]

    def in_order(self) -> "KnownKeys":
        """The same in the order of keys, on which nothing rests but which of a pair is named first."""
        from references.matching import Blocks

        order = sorted(range(len(self.keys)), key=self.keys.__getitem__)
        blocks = Blocks(self.blocks.keys[order], self.blocks.narrow[order])
        return KnownKeys(tuple(self.keys[at] for at in order), blocks, self.homes)


def blocks_kind() -> Kind:
    """By which keys references are found that may be the same work."""
    return Kind("blocks", state_of_library(), _work_blocks)


def subjects_kind() -> Kind:
    """References as mentions see them."""
    return Kind("subject", state_of_library(), _work_subjects)


def _records(rows: Sequence[tuple[str, dict[str, Any]]]) -> list[Record]:
    return [replace(Record.from_csl(csl), key=key) for key, csl in rows]


def _work_blocks(rows: Sequence[tuple[str, dict[str, Any]]]) -> list[bytes]:
    from references.matching import blocks_of, write_blocks

    records = _records(rows)
    kept = write_blocks(blocks_of([build_profile(record) for record in records]))
    others = [record.extra.get(OTHER_KEYS) for record in records]
    return [
        block + (json.dumps(keys).encode() if keys else b"") for block, keys in zip(kept, others, strict=True)
    ]


def _work_subjects(rows: Sequence[tuple[str, dict[str, Any]]]) -> list[bytes]:
    from references.mention_index import read_subject, write_subject

    return [json.dumps(write_subject(read_subject(record))).encode() for record in _records(rows)]


def read_known_keys(session: "Session") -> KnownKeys:
    """The keys of every stored reference."""
    from references.matching import read_blocks

    keys: list[str] = []
    blocks: list[bytes] = []
    joined: dict[str, str] = {}
    for key, content in read_kept(session, blocks_kind()):
        keys.append(key)
        blocks.append(content[:_BLOCK])
        if len(content) > _BLOCK:
            joined |= dict.fromkeys(json.loads(content[_BLOCK:]), key)
    return KnownKeys(tuple(keys), read_blocks(blocks), joined | dict(zip(keys, keys, strict=True)))


def read_subjects(catalogue: Catalogue, tell: Tell = say_nothing) -> "list[Subject]":
    """Every stored reference as mentions see it, by key; what is missing is worked out and kept first."""
    from references.mention_index import subject_from

    kind = subjects_kind()
    keep_up(catalogue, kind, tell)
    with catalogue.reading() as session:
        kept = b",".join(content for _, content in read_kept(session, kind))
    return sorted(map(subject_from, json.loads(b"[" + kept + b"]")), key=lambda subject: subject.key)
