"""Wordings of the kinds of claim that are no comparison of two: trend, level, association, best of, reasons, opinions.

Frames are in `rules/claim_kinds.yaml`; the words of strength are those of `rules/wording.yaml`, so that no kind of
claim can be said more strongly than another at the same confidence.
"""

from typing import Any

from evidence.appraisal.confidence import Confidence
from evidence.appraisal.rulebook import load_rules
from evidence.appraisal.verdict import Verdict, VerdictKind
from evidence.appraisal.wording import (
    Names,
    Wordings,
    finish,
    join_words,
    name_subject,
    say_figures,
    subject_row,
    word_claim,
)
from evidence.vocabulary.terms import Direction


def frame_of(confidence: Confidence) -> dict[str, str]:
    """The words of strength at the level of a confidence."""
    frame: dict[str, str] = load_rules("wording")["frames"][str(confidence.level)]
    return frame


def frames_of(kind: str) -> dict[str, Any]:
    """The sentences of one kind."""
    frames: dict[str, Any] = load_rules("claim_kinds")["wording"][kind]
    return frames


def size_word(verdict: Verdict) -> str:
    """What stands before a comparative: `much `, `slightly `, or nothing."""
    if verdict.size is None:
        return ""
    return str(load_rules("wording")["sizes"][str(verdict.size)]["say"])


def word_trend(verdict: Verdict, confidence: Confidence, names: Names, detail: str, step: str) -> Wordings:
    """`activation ... may be lower with more hip angle`, with the figure over a step of the detail."""
    frames, frame, row = frames_of("trend"), frame_of(confidence), subject_row(names.construct)
    subject = name_subject(names)
    if names.exercise:
        subject = f"{subject} in {names.exercise}"
    slots = {"subject": subject, "detail": detail, "size": size_word(verdict), **frame}
    if verdict.kind is VerdictKind.NOTHING_FOUND:
        claim = frames["nothing"].format(**slots)
    elif verdict.direction is Direction.SAME:
        claim = frames["same"].format(**slots) + frame.get("tail", "")
    elif verdict.direction is None or verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE:
        claim = frames["open"].format(**slots)
    else:
        higher = row["more"] if verdict.direction is Direction.MORE else row["less"]
        claim = frames["rises"].format(higher=higher, **slots) + frame.get("tail", "")
    figures = say_figures(verdict, None, names.unit).replace(
        "relative to the comparator's value", f"relative, {step}"
    )
    return word_claim(verdict, confidence, claim, names.people, figures)


def word_level(verdict: Verdict, confidence: Confidence, names: Names, side: str, line: str) -> Wordings:
    """`activation of ... may be above 60 % of the maximum with the hip thrust`."""
    frames, frame = frames_of("level"), frame_of(confidence)
    slots = {"subject": name_subject(names), "exercise": names.exercise, "side": side, "line": line, **frame}
    which = {VerdictKind.NOTHING_FOUND: "nothing", VerdictKind.NO_CLEAR_DIFFERENCE: "open"}.get(
        verdict.kind, "clear"
    )
    claim = frames[which].format(**slots)
    if which == "clear":
        claim += frame.get("tail", "")
    return word_claim(
        verdict, confidence, claim, names.people, verdict.sentence if verdict.estimate is not None else ""
    )


def word_association(verdict: Verdict, confidence: Confidence, one: str, other: str, people: str) -> Wordings:
    """`more strength may go together with more ...`: never a word of cause."""
    frames, frame = frames_of("association"), frame_of(confidence)
    slots: dict[str, str] = {"one": one, "other": other, **frame}
    if verdict.kind is VerdictKind.NOTHING_FOUND:
        claim = frames["nothing"].format(**slots)
    elif verdict.direction is Direction.SAME:
        claim = frames["same"].format(**slots) + frame.get("tail", "")
    elif verdict.direction is None or verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE:
        claim = frames["open"].format(**slots)
    else:
        slots |= {"more": "more", "other_more": "more" if verdict.direction is Direction.MORE else "less"}
        claim = frames["clear"].format(verb=frames["verbs"][str(confidence.level)], **slots) + frame.get(
            "tail", ""
        )
    figures = verdict.sentence if verdict.estimate is not None else ""
    if figures:
        figures += " That two measures go together does not say that one brings the other about."
    return word_claim(verdict, confidence, claim, people, figures)


def word_superlative(
    verdict: Verdict, confidence: Confidence, names: Names, claimed: Direction, others: int, rivals: list[str]
) -> Wordings:
    """`... may be greater with the hip thrust than with the other 4 exercises compared`, with ties named."""
    frames, frame, row = frames_of("superlative"), frame_of(confidence), subject_row(names.construct)
    more = claimed is Direction.MORE
    slots = {
        "subject": name_subject(names),
        "exercise": names.exercise,
        "higher": row["more"] if more else row["less"],
        "highest": "highest" if more else "lowest",
        "field": "exercise" if others == 1 else f"{others} exercises",
        "rivals": join_words(rivals) if rivals else "",
        **frame,
    }
    which = {
        VerdictKind.SUPPORTED: "clear",
        VerdictKind.CONTRADICTED: "contradicted",
        VerdictKind.AMONG_THE_BEST: "tied",
    }.get(verdict.kind, "nothing")
    claim = frames[which].format(**slots)
    if which != "nothing":
        claim += frame.get("tail", "")
    return word_claim(
        verdict, confidence, claim, names.people, verdict.sentence if which != "nothing" else ""
    )


def word_backing(verdict: Verdict, statement: str, sources: str) -> Wordings:
    """What speaks for a reason; never said as an effect."""
    claim = frames_of("backing")[str(verdict.kind)].format(sources=sources)
    short = f"{statement.rstrip('.')}: {claim}."
    return Wordings(short, f"{short} {verdict.sentence}".strip(), f"{short} {verdict.sentence}".strip())


def word_practice(statement: str) -> Wordings:
    """An opinion, called one."""
    said = finish(frames_of("practice")["opinion"].format(statement=statement.rstrip(".")))
    return Wordings(said, said, said, f"{statement.rstrip('.')}.")
