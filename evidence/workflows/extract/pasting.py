"""A table out of a paper into a study: understood, shown, asked about, and only then stored, with the raw paste."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, study_by_key, study_rows
from evidence.catalogue.tables import RawTable, Result
from evidence.errors import BadInput
from evidence.reading.study_checks import LARGEST
from evidence.reading.table import Answers, ReadCell, TableReading
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import ReadFrom, Spread, Statistic, Timepoint
from evidence.workflows.extract.mixed_decimals import (
    ANSWER,
    OtherDecimal,
    as_printed,
    find_unread,
    with_one_sign,
)
from evidence.workflows.extract.table_answers import read_table_answers, unused_choices
from evidence.workflows.extract.table_mapping import (
    LabelReader,
    Place,
    Unclear,
    joined,
    missing_parts,
    unit_beside,
)
from evidence.workflows.extract.table_questions import (
    BESIDE_THE_MEAN,
    ask_about_cells,
    ask_about_labels,
    ask_about_signs,
)
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of


@dataclass(frozen=True, slots=True)
class TableAnswers:
    """What the user says of a table beside the paste itself."""

    outcome: str | None = None
    spread: str | None = None
    locator: str | None = None
    read_from: str | None = None
    timepoint: str | None = None
    says: tuple[str, ...] = ()
    region: str | None = None  # of the whole table, where its labels name none
    answers: tuple[str, ...] = ()  # NAME=CHOICE, for the questions and cells that the preview names


@dataclass(frozen=True, slots=True)
class MappedCell:
    """A cell with its place in the study."""

    cell: ReadCell
    place: Place
    doubts: tuple[str, ...]

    @property
    def sure(self) -> bool:
        """Whether it can be stored without asking."""
        return not self.doubts


@dataclass(frozen=True, slots=True)
class Understood:
    """A table as understood for one study; nothing is stored yet."""

    study: str
    name: str
    raw: str
    preview: str
    cells: tuple[MappedCell, ...]
    questions: tuple[str, ...]
    skipped: int
    locator: str
    read_from: str | None
    answers: TableAnswers
    legend: tuple[tuple[str, str], ...] = ()
    reading: TableReading | None = None
    unclear: tuple[Unclear, ...] = ()  # labels that could not be placed
    missing: tuple[str, ...] = ()  # what no label says: condition, region, outcome, time
    set_aside: tuple[ReadCell, ...] = ()  # cells that could not be read as a figure
    other_decimals: tuple[OtherDecimal, ...] = ()  # figures not read for their decimal sign


def understand_table(
    catalogue: Catalogue, study: str, source: bytes | Path, name: str, answers: TableAnswers
) -> Understood:
    """Read a table against a study and say what was understood and what is in doubt."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, study))
    check_answers(answers, rows)
    reading = read_source(source, name, answers)
    if knows_people(rows):
        reading = replace(reading, questions=tuple(q for q in reading.questions if q.id != "n"))
    if reading.refused:
        raise BadInput(reading.refused, where=name)
    if not reading.cells:
        raise BadInput("no figures were found in it.", where=name, hint="Paste the table with its headings.")
    says = dict(split_saying(text) for text in answers.says)
    reader = LabelReader(rows, vocabulary, says)
    usual = usual_place(rows, answers, vocabulary)
    mapped: list[MappedCell] = []
    parts: list[str] = []
    skipped = 0
    aside: list[ReadCell] = []
    for cell in reading.cells:
        if cell.value is None and cell.p is not None and not cell.doubts:
            skipped += 1  # a p-value goes nowhere: its heading is not asked about
            continue
        place = reader.place(cell)
        if place is None or cell.value is None or cell.value_kind is None:
            skipped += 1
            if place is not None and cell.doubts:
                aside.append(cell)
            continue
        place = joined(place, usual)
        construct = next((o.construct_id for o in rows.outcomes if o.key == place.outcome), None)
        missing = missing_parts(place, construct)
        parts += missing
        doubts = [d.text for d in cell.doubts] + [f"{part} not known" for part in missing]
        if any(x is not None and abs(x) > LARGEST for x in (cell.value, cell.spread, cell.low, cell.high)):
            doubts.append("larger than any measurement")
        if cell.spread_kind is Spread.NOT_STATED:
            doubts.append(BESIDE_THE_MEAN)
        mapped.append(MappedCell(cell, place, tuple(dict.fromkeys(doubts))))
    others = () if ANSWER in answers.answers else find_unread(reading, told_decimal(answers))
    own = [condition.key for condition in rows.conditions]
    questions = ask_about_labels(tuple(reader.unclear.values()), parts, own) if parts else []
    if answers.read_from is None:
        questions.append(
            'what is it read from? Answer with --from "full text" (or abstract, figure, open data).'
        )
    if any(m.cell.spread_kind is Spread.NOT_STATED for m in mapped):
        questions.append(f"{BESIDE_THE_MEAN} Answer with --spread SD (or SE, CI, IQR, range).")
    questions += ask_about_cells([m.cell for m in mapped], reading.questions) + ask_about_signs(others)
    return Understood(
        study,
        name,
        reading.raw,
        show(reading, mapped, vocabulary),
        tuple(mapped),
        tuple(dict.fromkeys(questions)),
        skipped,
        answers.locator or reading.title.split(".")[0][:60] or name,
        answers.read_from,
        answers,
        tuple(reading.legend.marks.items()),
        reading,
        tuple(reader.unclear.values()),
        tuple(dict.fromkeys(parts)),
        tuple(aside),
        others,
    )


def told_decimal(answers: TableAnswers) -> str | None:
    """The decimal sign that was answered; None where none was."""
    return read_answers(answers).decimal if any(a.startswith("decimal=") for a in answers.answers) else None


def read_source(source: bytes | Path, name: str, answers: TableAnswers) -> TableReading:
    """The table as read from text, or from a saved CSV, TSV or XLSX file."""
    from evidence.reading.files import decode_input
    from evidence.reading.pasted import read_table

    told = read_answers(answers)
    text = "" if isinstance(source, Path) else decode_input(source, name).text
    both = ANSWER in answers.answers

    def read(said: Answers) -> TableReading:
        if isinstance(source, Path):
            from evidence.reading.sheets import read_saved_table

            return read_saved_table(source, answers=said)
        return (
            as_printed(read_table(with_one_sign(text), answers=said), text)
            if both
            else read_table(text, answers=said)
        )

    reading = read(told)
    if told.cells:
        unused = unused_choices(told, read(replace(told, cells={})))
        reading = replace(reading, warnings=(*reading.warnings, *unused))
    return reading


def read_answers(answers: TableAnswers) -> Answers:
    """What the user said, in the form that the table reader takes."""
    return read_table_answers([a for a in answers.answers if a != ANSWER], answers.spread)


def knows_people(rows: StudyRows) -> bool:
    """Whether the study itself says how many people stand behind each figure."""
    return all(c.n for c in rows.conditions) or (len(rows.people) == 1 and bool(rows.people[0].analysed))


def check_answers(answers: TableAnswers, rows: StudyRows) -> None:
    """Refuse answers that name nothing."""
    for text, allowed, option in (
        (answers.spread, [s.value for s in Spread], "--spread"),
        (answers.read_from, [r.value for r in ReadFrom], "--from"),
        (answers.timepoint, [t.value for t in Timepoint], "--time"),
        (answers.outcome, [o.key for o in rows.outcomes], "--outcome"),
    ):
        if text is not None and text not in allowed:
            raise BadInput(f'{option} cannot be "{text}".', hint=f"Use one of: {', '.join(allowed)}.")


def split_saying(text: str) -> tuple[str, str]:
    """NAME=ID as its two parts; the name may itself hold an equals sign."""
    name, sign, meaning = text.rpartition("=")
    if not sign or not name.strip() or not meaning.strip():
        raise BadInput(
            f'--says "{text}" is not NAME=ID.', hint='Write for example --says "GM=gluteus_medius".'
        )
    return name.strip(), meaning.strip()


def usual_place(rows: StudyRows, answers: TableAnswers, vocabulary: Vocabulary) -> Place:
    """What holds for the whole table where its labels say nothing."""
    outcome = answers.outcome or (rows.outcomes[0].key if len(rows.outcomes) == 1 else None)
    condition = rows.conditions[0].key if len(rows.conditions) == 1 else None
    time = Timepoint(answers.timepoint) if answers.timepoint else None
    if time is None and outcome:
        construct = next(o.construct_id for o in rows.outcomes if o.key == outcome)
        time = Timepoint.ACUTE if vocabulary.constructs[construct].acute else None
    region = require_match(vocabulary.find_region(answers.region), "region") if answers.region else None
    return Place(condition=condition, outcome=outcome, timepoint=time, region=region)


def show(reading: TableReading, mapped: Sequence[MappedCell], vocabulary: Vocabulary) -> str:
    """The preview: the grid as understood, then where each cell goes."""
    from evidence.reading.preview import preview

    asked = tuple(
        q for q in reading.questions if q.id != "spread"
    )  # that one stands among the questions below
    lines = [preview(replace(reading, questions=asked), doubts=False), "", "Goes to:"]
    for m in mapped:
        region = vocabulary.regions[m.place.region].name if m.place.region else "-"
        time = m.place.timepoint.told if m.place.timepoint else "?"
        doubt = f"   ? {'; '.join(m.doubts)}" if m.doubts else ""
        kind = m.cell.spread_kind.value
        lines.append(
            f"  {m.cell.printed:<18} {kind:<10} {region}, {m.place.condition or '?'}, "
            f"{m.place.outcome or '?'}, {time}{doubt}"
        )
    return "\n".join(lines)


def store_table(catalogue: Catalogue, understood: Understood, who: str, *, leave_doubts: bool = False) -> str:
    """Store the cells of a table with its raw text; nothing while a cell is in doubt, unless those are left out."""
    if understood.read_from is None:
        raise BadInput(
            "what it was read from has not been said; nothing was stored.",
            where=understood.name,
            hint='Add --from "full text" (or abstract, figure, open data).',
        )
    unsure = [m for m in understood.cells if not m.sure]
    if unsure and not leave_doubts:
        raise BadInput(
            f"{len(unsure)} of {len(understood.cells)} cells are in doubt; nothing was stored.",
            where=understood.name,
            hint="Answer the questions above, or store the sure ones alone with --leave-doubts.",
        )
    sure = [m for m in understood.cells if m.sure]
    if not sure:
        raise BadInput("no cell is sure enough to be stored.", where=understood.name)
    digest = hashlib.sha256(understood.raw.encode("utf-8", "surrogatepass")).hexdigest()
    with catalogue.changing(who, f"results paste {understood.study} ({understood.locator})") as session:
        rows = study_rows(session, study_by_key(session, understood.study))
        assert rows.study.id is not None
        if any(raw.digest == digest for raw in rows.raw_tables):
            return "This very table is stored already; nothing was changed."
        raw = RawTable(
            study_id=rows.study.id,
            name=understood.name,
            text=understood.raw.replace("\x00", "\N{SYMBOL FOR NULL}"),
            digest=digest,
            mapping={
                "says": list(understood.answers.says),
                "spread": understood.answers.spread or "as stated",
            },
            added_at=catalogue.now(),
        )
        session.add(raw)
        session.flush()
        taken = Counter(r.key for r in rows.results)
        results = [as_result(m, understood, rows, raw, who, catalogue, taken) for m in sure]
        refuse_twice(results, rows, understood)
        session.add_all(results)
    left = f" {len(unsure)} in doubt were left out." if unsure else ""
    return f"{len(sure)} results stored from {understood.locator}.{left}"


def as_result(
    mapped: MappedCell,
    understood: Understood,
    rows: StudyRows,
    raw: RawTable,
    who: str,
    catalogue: Catalogue,
    taken: Counter[str],
) -> Result:
    """A result row for one cell, exactly as printed."""
    cell, place = mapped.cell, mapped.place
    assert understood.read_from is not None
    assert (
        place.outcome
        and place.condition
        and place.timepoint
        and cell.value_kind
        and rows.study.id is not None
    )
    stem = "-".join(p for p in (place.outcome, place.region, place.condition, place.timepoint.value) if p)
    taken[stem] += 1
    changed = cell.value_kind in (Statistic.CHANGE, Statistic.PERCENT_CHANGE)
    meanings = [f"{mark}: {text}" for mark, text in understood.legend if mark in cell.marks]
    outcome = next(o for o in rows.outcomes if o.key == place.outcome)
    condition = next(c for c in rows.conditions if c.key == place.condition)
    assert outcome.id is not None and condition.id is not None
    return Result(
        study_id=rows.study.id,
        key=stem if taken[stem] == 1 else f"{stem}-{taken[stem]}",
        outcome_id=outcome.id,
        condition_id=condition.id,
        people_id=next((p.id for p in rows.people if p.key == place.people), None),
        region=place.region,
        timepoint=Timepoint.OVER.value if changed else place.timepoint.value,
        statistic=cell.value_kind.value,
        value=cell.value,
        spread=cell.spread,
        spread_kind=cell.spread_kind.value,
        low=cell.low,
        high=cell.high,
        level=cell.level / 100 if cell.level else None,
        n=cell.n,
        p=cell.p,
        marks=" ".join(cell.marks) or None,
        printed=cell.printed,
        printed_unit=unit_beside(cell.unit, outcome.unit),
        locator=understood.locator,
        read_from=understood.read_from,
        read_by=who,
        read_at=catalogue.now(),
        raw_table_id=raw.id,
        raw_cell=f"line {cell.position[0]}, column {cell.position[1]}",
        note="; ".join(meanings) or None,
    )


def refuse_twice(results: Sequence[Result], rows: StudyRows, understood: Understood) -> None:
    """Refuse figures for a place that already holds a figure: one of the two is wrong or goes elsewhere."""

    def place(r: Result) -> tuple[object, ...]:
        return (
            r.outcome_id,
            r.condition_id,
            r.people_id,
            r.region,
            r.timepoint,
            r.statistic,
            r.comparator_id,
        )

    held = {place(r): r for r in rows.results}
    fresh = Counter(place(r) for r in results)
    for result in results:
        if place(result) in held:
            old = held[place(result)]
            raise BadInput(
                f"{result.printed} would stand beside {old.printed} ({old.key}) for the same condition, "
                "region and time.",
                where=understood.name,
                hint="Undo or correct the stored one first, or say what sets them apart with --says.",
            )
        if fresh[place(result)] > 1:
            raise BadInput(
                f"{result.printed} and another cell go to the same condition, region and time.",
                where=understood.name,
                hint='Say what sets them apart, or skip one: --says "LABEL=skip".',
            )
