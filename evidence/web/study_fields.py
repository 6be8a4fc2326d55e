"""The fields of the study form: what each is called, what may stand in it, and how it is sent.

A field is sent as `title` or `people-0-sex`; the reader of study files checks what it holds.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evidence.errors import BadInput
from evidence.vocabulary import Vocabulary
from evidence.web.forms import Sent
from evidence.workflows.extract.study_forms import read_details, typed, write_details
from evidence.workflows.gather.typed_references import TypedReference, from_fields

MISSING = re.compile(r'"(?P<name>\w+)" is missing in ')
DETAILS = frozenset({"details", "dose"})
REPORT = frozenset({"references", "authors", "journal"})  # of the report alone
TEXTS = frozenset({"key", "title", "label", "printed", "note", "funding", "sample", "exercise", "instrument"})


@dataclass(frozen=True, slots=True)
class Field:
    """One field. `choices`: what may be chosen; `known`: what is offered while typing."""

    name: str
    label: str
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    known: str = ""  # the id of a list of suggestions
    wide: bool = False
    required: bool = False
    reported: bool = False  # of the report, not of the study


class FieldFault(BadInput):
    """What was typed in one field cannot be read; `field` is the name it was sent under."""

    def __init__(self, fault: BadInput, field: str, where: str) -> None:
        super().__init__(fault.message, where=where, hint=fault.hint)
        self.field = field


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that may be filled several times: one row for each of a kind."""

    name: str
    title: str
    one: str
    hint: str
    fields: tuple[Field, ...]
    least: int  # rows shown of a new study


def head_fields(vocabulary: Vocabulary) -> tuple[Field, ...]:
    """What is said of the study once."""
    designs = tuple((d.id, d.name) for d in vocabulary.designs.values())
    return (
        Field("title", "Title", "Of the main report.", wide=True, required=True),
        Field("authors", "Authors", "With semicolons between them: Vik, Ola; Dahl, Eva", reported=True),
        Field("journal", "Journal", reported=True),
        Field("year", "Year", reported=True),
        Field("references", "Reference", "Its DOI; or its key, if it is here already.", reported=True),
        Field("design", "Design", choices=(("", "choose"), *designs), wide=True, required=True),
        Field("weeks", "Weeks of training", "0 for a single session."),
        Field(
            "key",
            "Short name",
            "Its address: letters, digits and hyphens. Left empty, it is made from the reference or title.",
        ),
        Field("sample", "Sample", "A word shared by studies that report the same people."),
        Field("funding", "Funding and interests"),
        Field("note", "Note"),
    )


def words(*allowed: str, none: str = "not stated") -> tuple[tuple[str, str], ...]:
    """Words that may be chosen, and what it means to choose none."""
    return (("", none), *((word, word) for word in allowed))


def groups(vocabulary: Vocabulary) -> tuple[Group, ...]:
    """People, conditions and outcomes."""
    statuses = tuple((s.id, s.name) for s in vocabulary.training_statuses.values() if s.id != "not stated")
    constructs = tuple((c.id, c.name) for c in vocabulary.constructs.values())
    ways = tuple((n.id, n.name) for n in vocabulary.normalisations.values() if n.id != "not stated")
    return (
        Group(
            "people", "People", "group", "One row for each group of people.",
            (
                Field("label", "Group"),
                Field("recruited", "Recruited"),
                Field("analysed", "Analysed"),
                Field("sex", "Sex", choices=words("female", "male", "both")),
                Field("training_status", "Training", choices=(("", "not stated"), *statuses)),
                Field("age_mean", "Mean age"),
                Field("age_sd", "SD of age"),
                Field("health", "Health", "healthy, or the condition in the paper's words"),
            ), 1,
        ),
        Group(
            "conditions", "Conditions", "condition", "What people did in each arm or trial.",
            (
                Field("printed", "As the paper names it"),
                Field("exercise", "Exercise", "As it is known; empty for a control.", known="exercises"),
                Field("details", "Details", "load: 8RM; knee angle: 90"),
                Field("dose", "Dose", "sets: 3; reps: 10; weekly sets: 9"),
                Field("people", "Group", "Only where groups did different things.", known="groups"),
                Field("n", "People (n)", "Analysed in this condition."),
            ), 2,
        ),
        Group(
            "outcomes", "Outcomes", "outcome", "What was measured.",
            (
                Field("construct", "Outcome", choices=(("", "choose"), *constructs), required=True),
                Field("instrument", "Measured by", known="instruments"),
                Field("unit", "Unit as printed", "%MVIC, cm2, kg"),
                Field("normalisation", "EMG normalised to", choices=(("", "not stated"), *ways)),
                Field("amplitude", "EMG amplitude", choices=words("mean", "peak", "integrated")),
                Field("phase", "Phase", choices=words("concentric", "eccentric", "isometric", "whole repetition")),
                Field("better", "Better is", choices=words("higher", "lower", "neither", none="as usual")),
            ), 1,
        ),
    )  # fmt: skip


def read_fields(sent: Sent, vocabulary: Vocabulary) -> dict[str, Any]:
    """What was sent, as a study file would have it; rows in which nothing was typed are left out.

    Raises FieldFault for details that cannot be read.
    """
    fields: dict[str, Any] = {
        f.name: sent.text(f.name) if f.name in TEXTS else typed(sent.text(f.name))
        for f in head_fields(vocabulary)
        if sent.text(f.name) and f.name not in REPORT
    }
    if sent.text("references"):
        fields["references"] = [reference_of(part) for part in sent.text("references").split()]
    if sent.ticked("invented"):
        fields["invented"] = True
    for group in groups(vocabulary):
        rows = [row for number in range(count_rows(sent, group)) if (row := read_row(sent, group, number))]
        if rows:
            fields[group.name] = rows
    return fields


def read_report(sent: Sent) -> TypedReference | None:
    """Authors and journal, where they were typed, with a DOI beside them. Raises FieldFault beside a key."""
    if not (sent.text("authors") or sent.text("journal")):
        return None
    named = [reference_of(part) for part in sent.text("references").split()]
    if keys := [reference["key"] for reference in named if "key" in reference]:
        fault = BadInput(
            f"“{keys[0]}” names a reference that has its own.", hint="Leave one of the two empty."
        )
        raise FieldFault(fault, "authors" if sent.text("authors") else "journal", "Authors and journal")
    doi = named[0]["doi"] if named else ""
    journal = {"kind": "article-journal", "container": sent.text("journal")}
    return from_fields({"authors": sent.text("authors"), "doi": doi, **journal})


def reference_of(text: str) -> dict[str, str]:
    """A reference named by its key or its DOI."""
    plain = text.removeprefix("https://doi.org/").removeprefix("doi:")
    return {"doi": plain} if plain.startswith("10.") and "/" in plain else {"key": text}


def read_row(sent: Sent, group: Group, number: int) -> dict[str, Any]:
    """One row of a group; empty where nothing was typed."""
    row: dict[str, Any] = {}
    for field in group.fields:
        text = sent.text(f"{group.name}-{number}-{field.name}")
        if text and field.name in DETAILS:
            try:
                row[field.name] = read_details(text)
            except BadInput:
                sent_as = f"{group.name}-{number}-{field.name}"
                fault = BadInput(
                    f"“{text}” could not be read.", hint=f"Write names and values: {field.hint}."
                )
                raise FieldFault(fault, sent_as, f"{group.title}, row {number + 1}, {field.label}") from None
        elif text:
            row[field.name] = text if field.name in TEXTS else typed(text)
    key = sent.text(f"{group.name}-{number}-key")
    return {"key": key, **row} if row and key else row


def count_rows(sent: Sent, group: Group) -> int:
    """How many rows of a group were sent."""
    count = sent.text(f"{group.name}-count")
    return min(int(count), 200) if count.isascii() and count.isdecimal() else 0


def as_sent(fields: Mapping[str, Any], vocabulary: Vocabulary) -> dict[str, str]:
    """A study's fields as they would be sent: what an opened form shows."""
    values = {
        f.name: str(fields[f.name])
        for f in head_fields(vocabulary)
        if f.name != "references" and fields.get(f.name) is not None
    }
    values["references"] = " ".join(str(r) for r in fields.get("references", ()) if r)
    if fields.get("invented"):
        values["invented"] = "yes"
    for group in groups(vocabulary):
        rows: Sequence[Mapping[str, Any]] = fields.get(group.name, ())
        values[f"{group.name}-count"] = str(max(len(rows), group.least))
        for number, row in enumerate(rows):
            for name, value in row.items():
                text = write_details(value) if name in DETAILS else str(value)
                values[f"{group.name}-{number}-{name}"] = text
    return values


def tell_fault(path: Sequence[str | int], message: str, hint: str, vocabulary: Vocabulary) -> tuple[str, str]:
    """What is wrong with an entry of a study, in the words of the form: the field to go to, and the text."""
    missing = MISSING.match(message)
    steps = [*path[:2], missing["name"]] if missing else [*path[:3]]
    group = next((g for g in groups(vocabulary) if steps and g.name == steps[0]), None)
    if group is None:
        field = next((f for f in head_fields(vocabulary) if f.name == str(steps[0] if steps else "")), None)
        name, place = str(steps[0]) if steps else "title", field.label if field else ""
    elif len(steps) < 2 or not isinstance(steps[1], int):
        return f"{group.name}-0-{group.fields[0].name}", f"{group.title}: fill in at least one."
    else:
        field = next((f for f in group.fields if f.name == str(steps[2] if len(steps) > 2 else "")), None)
        name = f"{group.name}-{steps[1]}-{field.name if field else group.fields[0].name}"
        place = f"{group.title}, row {steps[1] + 1}" + (f", {field.label}" if field else "")
    if missing:
        return name, f"{place or missing['name']}: it must be filled."
    told = ", ".join(f"entry {step + 1}" if isinstance(step, int) else str(step) for step in path)
    said = message.removeprefix(told).strip() if told else message
    return name, " ".join(part for part in (f"{place}: {said}." if place else f"{said}.", hint) if part)
