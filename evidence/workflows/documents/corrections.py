"""Correction notes: for each thing that was published and no longer holds, what it said, what holds now, what to do."""

import re
from collections.abc import Sequence
from pathlib import Path

from evidence.appraisal.levels import read_level
from evidence.appraisal.moves import MoveKind
from evidence.publishing.corrections import Correction, CorrectionNote, note_markdown
from evidence.publishing.sources import Made
from evidence.workflows.upkeep.changes import Changes, ClaimChange
from evidence.workflows.upkeep.uses import UseLine
from evidence.workflows.weigh.inventing import INVENTED


def correction_notes(changes: Changes) -> tuple[CorrectionNote, ...]:
    """A note for each thing published that no longer holds, in the order of their names."""
    things: dict[tuple[str, str, str], list[tuple[UseLine, Correction]]] = {}
    for claim in changes.claims:
        for use in claim.uses:
            if use.holds is False:
                entry = (use, correct_claim(claim, use))
                things.setdefault((use.kind, use.name, use.place), []).append(entry)
    for use in changes.uses:
        things.setdefault((use.kind, use.name, use.place), []).append((use, correct_other(use)))
    return tuple(
        CorrectionNote(
            kind,
            name,
            place,
            entries[0][0].format,
            max(use.at for use, _ in entries),
            changes.at,
            tuple({c.key: c for _, c in entries}.values()),  # told twice: the later telling counts
            any(c.invented for _, c in entries),
        )
        for (kind, name, place), entries in sorted(things.items())
    )


def correct_claim(claim: ClaimChange, use: UseLine) -> Correction:
    """What has to be corrected of one claim in one thing published."""
    return Correction(
        claim.key,
        "claim",
        claim.statement,
        use.told or claim.before.short,
        use.figures,
        use.confidence,
        claim.now.short,
        claim.now.figures,
        claim.now.span,
        tuple(move.text for move in use.moves or claim.moves),
        tuple(cause.text for cause in claim.causes),
        advise(claim),
        claim.invented,
    )


def correct_other(use: UseLine) -> Correction:
    """A source that is marked now, or a ranking in another order."""
    if use.about == "reference":
        do = f"Take it out, or say beside it that it is {use.now}; look again at what was said with it."
        now = f"The source is marked: {use.now}."
    else:
        do, now = "Rank again and publish the new order, with a word on what changed.", use.now
    reasons = tuple(move.text for move in use.moves)
    return Correction(
        use.key, use.about, use.key, use.told, "", "", now, "", "", reasons, reasons, do, INVENTED in use.told
    )


def advise(claim: ClaimChange) -> str:
    """What to do about a sentence, by what moved."""
    kinds = {move.kind for move in claim.moves}
    if MoveKind.VERDICT in kinds and claim.before.verdict != claim.now.verdict:
        return f"Take the sentence back, or say instead: {claim.now.short}"
    if MoveKind.LEVEL in kinds and read_level(claim.now.level).rank < read_level(claim.before.level).rank:
        return f"Say it less firmly: {claim.now.short}"
    if kinds & {MoveKind.SIZE, MoveKind.SCALE, MoveKind.VERDICT}:
        return f"Correct the figures: {claim.now.plain}"
    if MoveKind.WORDING in kinds:
        return f"Say instead: {claim.now.short}"
    return "The sentence may stand; give the new confidence and figures where they are shown."


def write_notes(
    notes: Sequence[CorrectionNote],
    folder: Path,
    *,
    replace: bool = False,
    form: str = "md",
    made: Made | None = None,
) -> tuple[Path, ...]:
    """Write each note into a folder, which is made if need be; nothing is written over unasked.

    `form`: md, or a format of documents, which names the state of the catalogue it was `made` from.
    """
    from evidence.errors import BadInput
    from evidence.publishing.correction_pages import correction_document
    from evidence.publishing.formats import choose_format, write_document
    from evidence.workflows.making import require_free, write_bytes, write_text

    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file, not a folder.", where=str(folder), hint="Name a folder for the notes.")
    paths: dict[Path, CorrectionNote] = {}
    for note in notes:
        paths[free_name(folder, note, paths, form)] = note
    wanted = choose_format(form, folder / f"note.{form}")
    for path in paths:
        require_free(path, replace)
    if paths:
        folder.mkdir(parents=True, exist_ok=True)
    for path, note in paths.items():
        if wanted.format == "md" or made is None:
            write_text(path, note_markdown(note))
        else:
            write_bytes(path, write_document(correction_document(note, made), wanted))
    return tuple(paths)


def free_name(
    folder: Path, note: CorrectionNote, taken: dict[Path, CorrectionNote], form: str = "md"
) -> Path:
    """A file name from what was published, none twice."""
    stem = re.sub(r"[^\w.-]+", "-", f"correction-{note.kind}-{Path(note.name).name}").strip("-.")[:80]
    path, number = folder / f"{stem}.{form}", 1
    while path in taken:
        number += 1
        path = folder / f"{stem}-{number}.{form}"
    return path
