"""The results of a study file, given one by one or as grids, as drafts with keys; each with its place for checks."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from evidence.reading.plain_yaml import Path, written
from evidence.reading.study_cells import Cell, is_empty_cell, read_cell
from evidence.reading.study_draft import ConditionDraft, OutcomeDraft, PeopleDraft, ResultDraft
from evidence.reading.study_entries import (
    Notes,
    candidates_in_words,
    date_of,
    entries_of,
    fault_in_words,
    number_of,
    pair_of,
    text_of,
    whole_of,
    word_of,
)
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import ReadFrom, Spread, Statistic, Timepoint

_COMPARING = {Statistic.DIFFERENCE, Statistic.PERCENT_POINTS, Statistic.RATIO, Statistic.SMD}
_OVER = {Statistic.CHANGE, Statistic.PERCENT_CHANGE, Statistic.COUNT, Statistic.CORRELATION, Statistic.TEST}


class ResultReader:
    """Reads `tables` and `results`. Defaults that the file states once reach every result."""

    def __init__(
        self,
        data: Mapping[str, Any],
        vocabulary: Vocabulary,
        notes: Notes,
        people: Iterable[PeopleDraft],
        conditions: Iterable[ConditionDraft],
        outcomes: Iterable[OutcomeDraft],
    ) -> None:
        self._data = data
        self._vocabulary = vocabulary
        self._notes = notes
        self._people = {group.key for group in people}
        self._conditions = {condition.key: condition for condition in conditions}
        self._outcomes = {outcome.key: outcome for outcome in outcomes}
        self._keys: set[str] = set()
        self._regions: dict[tuple[str, Path], str | None] = {}

    def read(self) -> tuple[list[ResultDraft], dict[str, Path]]:
        """All results in file order, and the place of each by its key."""
        for path, entry in entries_of(self._data, "results"):
            key = text_of(entry, "key")
            if key is not None and key in self._keys:
                self._notes.problem(
                    (*path, "key"), f'"{key}" is given twice in results', "Keys are used once."
                )
            self._keys.add(key or "")
        drafts: list[ResultDraft] = []
        places: dict[str, Path] = {}
        for path, entry in self._table_entries():
            self._add(path, entry, drafts, places)
        for path, entry in entries_of(self._data, "results"):
            self._add(path, entry, drafts, places)
        return drafts, places

    def _add(
        self, path: Path, entry: dict[str, Any], drafts: list[ResultDraft], places: dict[str, Path]
    ) -> None:
        draft = self._read_result(path, entry)
        if draft is not None:
            drafts.append(draft)
            places.setdefault(draft.key, path)

    # -- grids -------------------------------------------------------------------------------------------

    def _table_entries(self) -> Iterable[tuple[Path, dict[str, Any]]]:
        """The cells of all tables as entries of the kind that `results` holds."""
        for path, table in entries_of(self._data, "tables"):
            columns = [self._read_column(c) for c in table.get("columns") or () if c is not None]
            for row_path, row in ((((*path, *p)), r) for p, r in entries_of(table, "rows")):
                cells = row.get("cells")
                if not isinstance(cells, list):
                    continue
                if len(cells) != len(columns):
                    message = f"{len(cells)} cells in a row of {len(columns)} columns"
                    self._notes.problem(row_path, message, "Write null or a dash for an empty cell.")
                    continue
                for number, (cell, column) in enumerate(zip(cells, columns, strict=True)):
                    printed = "" if cell is None else written(cell)
                    if not is_empty_cell(printed):
                        yield (*row_path, "cells", number), self._cell_entry(table, row, column, printed)

    @staticmethod
    def _read_column(column: Any) -> dict[str, Any]:
        return column if isinstance(column, dict) else {"condition": written(column)}

    @staticmethod
    def _cell_entry(
        table: dict[str, Any], row: dict[str, Any], column: dict[str, Any], printed: str
    ) -> dict[str, Any]:
        shared = {k: v for k, v in table.items() if k not in ("columns", "rows", "spread")}
        own = {k: v for k, v in row.items() if k != "cells"}
        entry = {**shared, **own, **column, "printed": printed}
        if "spread" in table:
            entry["spread_kind"] = table["spread"]
        return entry

    # -- one result --------------------------------------------------------------------------------------

    def _read_result(self, path: Path, entry: dict[str, Any]) -> ResultDraft | None:
        outcome = self._linked(path, entry, "outcome", self._outcomes)
        condition = self._linked(path, entry, "condition", self._conditions)
        comparator = self._linked(path, entry, "comparator", self._conditions)
        people = self._linked(path, entry, "people", self._people)
        if outcome is None or condition is None:
            return None
        figures = self._read_figures(path, entry)
        statistic = word_of(entry, "statistic", Statistic) or Statistic.MEAN
        region = self._read_region(path, entry)
        timepoint = self._read_timepoint(path, entry, self._outcomes[outcome], statistic)
        key = text_of(entry, "key")
        return ResultDraft(
            key=key
            if key is not None
            else self._make_key(outcome, region, condition, comparator, timepoint, statistic),
            outcome=outcome,
            condition=condition,
            comparator=comparator,
            people=people,
            region=region,
            timepoint=timepoint,
            timepoint_label=text_of(entry, "timepoint_label"),
            statistic=statistic,
            n=whole_of(entry, "n"),
            events=whole_of(entry, "events"),
            person_time=number_of(entry, "person_time"),
            test=text_of(entry, "test"),
            p=text_of(entry, "p"),
            printed_unit=text_of(entry, "unit"),
            locator=self._inherited(path, entry, "locator") or "",
            read_from=self._read_source(path, entry),
            read_by=text_of(entry, "read_by") or text_of(self._data, "read_by"),
            read_on=date_of(entry, "read_on") or date_of(self._data, "read_on"),
            verified_by=text_of(entry, "verified_by"),
            note=text_of(entry, "note"),
            **figures,
        )

    def _linked(self, path: Path, entry: dict[str, Any], kind: str, known: Iterable[str]) -> str | None:
        key = text_of(entry, kind)
        if key is None or key in known:
            return key
        listed = ", ".join(sorted(known)) or "none"
        word = {"people": "group of people", "comparator": "condition"}.get(kind, kind)
        self._notes.problem((*path, kind), f'no {word} has the key "{key}"', f"Known: {listed}.")
        return None

    def _read_figures(self, path: Path, entry: dict[str, Any]) -> dict[str, Any]:
        """value, spread, low, high, level, marks, printed:

        as stated, or read from `printed` when it stands alone.
        """
        stated = ("value", "spread", "sd", "se", "ci", "iqr", "range", "events", "test", "p")
        printed = text_of(entry, "printed")
        kind = word_of(entry, "spread_kind", Spread)
        figures: dict[str, Any] = {"marks": text_of(entry, "marks"), "printed": printed or ""}
        if printed is not None and not any(entry.get(name) is not None for name in stated):
            cell = read_cell(printed)
            if isinstance(cell, str):
                self._notes.problem(path, f'cell "{printed}": {cell}', "Or give value and spread apart.")
                return figures
            figures |= _from_cell(cell, kind)
        else:
            figures |= self._stated_figures(path, entry, kind)
            if not printed:
                figures["printed"] = _compose_printed(entry)
        figures["level"] = _share(number_of(entry, "level"))
        return figures

    def _stated_figures(self, path: Path, entry: dict[str, Any], kind: Spread | None) -> dict[str, Any]:
        figures: dict[str, Any] = {"value": number_of(entry, "value"), "spread": number_of(entry, "spread")}
        given = [name for name in ("spread", "sd", "se") if entry.get(name) is not None]
        if len(given) > 1:
            self._notes.problem(
                path, f"both {given[0]} and {given[1]} are given", "Keep the one that is printed."
            )
        for name, meaning in (("sd", Spread.SD), ("se", Spread.SE)):
            if entry.get(name) is not None:
                figures["spread"], kind = number_of(entry, name), meaning
        for name, meaning in (("ci", Spread.CI), ("iqr", Spread.IQR), ("range", Spread.RANGE)):
            pair = pair_of(entry, name)
            if pair is not None:
                figures["low"], figures["high"] = pair
                kind = kind if figures["spread"] is not None and kind else meaning
        figures["spread_kind"] = kind or _missing_kind(figures)
        return figures

    def _read_region(self, path: Path, entry: dict[str, Any]) -> str | None:
        text = text_of(entry, "region")
        if text is None:
            return None
        place = path[:4] if path[0] == "tables" else path
        if (text, place) not in self._regions:
            found = self._vocabulary.find_region(text)
            if found.match is None:
                fault = fault_in_words(found)
                self._notes.problem(
                    (*place, "region"), f'region "{text}" {fault}', candidates_in_words(found)
                )
            elif found.unused:
                unused = " ".join(found.unused)
                self._notes.warn(
                    (*place, "region"),
                    f'region "{text}" is read as {found.match}; "{unused}" is not kept',
                    "Say it in a note, or make it an outcome of its own.",
                )
            self._regions[text, place] = found.match
        return self._regions[text, place]

    def _read_timepoint(
        self, path: Path, entry: dict[str, Any], outcome: OutcomeDraft, statistic: Statistic
    ) -> Timepoint:
        stated = word_of(entry, "timepoint", Timepoint)
        if stated is not None:
            return stated
        construct = self._vocabulary.constructs.get(outcome.construct)
        if construct is not None and construct.acute:
            return Timepoint.ACUTE
        if statistic in _COMPARING | _OVER:
            return Timepoint.OVER
        if entry.get("timepoint") is None:
            self._notes.problem(
                path, "timepoint is missing", "Was this measured before (pre) or after (post)?"
            )
        return Timepoint.POST

    def _inherited(self, path: Path, entry: dict[str, Any], key: str) -> str | None:
        text = text_of(entry, key) or text_of(self._data, key)
        if text is None:
            self._notes.problem(
                path, f"{key} is missing", "Say where the figure stands: Table 1, p. 5, abstract."
            )
        return text

    def _read_source(self, path: Path, entry: dict[str, Any]) -> ReadFrom:
        source = word_of(entry, "read_from", ReadFrom) or word_of(self._data, "read_from", ReadFrom)
        if source is None:
            hint = "Say what was open: abstract, full text, figure or open data."
            if entry.get("read_from") is None:
                self._notes.problem(path, "read_from is missing", hint)
        return source or ReadFrom.ABSTRACT

    def _make_key(
        self,
        outcome: str,
        region: str | None,
        condition: str,
        comparator: str | None,
        timepoint: Timepoint,
        statistic: Statistic,
    ) -> str:
        against = f"{condition}-vs-{comparator}" if comparator else condition
        kind = statistic.value if statistic is not Statistic.MEAN else None
        stem = ".".join(part for part in (outcome, region, against, timepoint.value, kind) if part)
        stem = re.sub(r"[^A-Za-z0-9_.:-]+", "-", stem)
        key, number = stem, 2
        while key in self._keys:
            key, number = f"{stem}.{number}", number + 1
        self._keys.add(key)
        return key


def _from_cell(cell: Cell, kind: Spread | None) -> dict[str, Any]:
    figures: dict[str, Any] = {"value": cell.value, "spread": cell.spread, "low": cell.low, "high": cell.high}
    bare = cell.spread is None and cell.low is None
    figures["spread_kind"] = Spread.NONE if bare else kind or Spread.NOT_STATED
    if cell.marks:
        figures["marks"] = cell.marks
    return figures


def _missing_kind(figures: Mapping[str, Any]) -> Spread:
    return Spread.NOT_STATED if figures.get("spread") is not None else Spread.NONE


def _share(level: float | None) -> float | None:
    return None if level is None else level / 100 if level >= 1 else level


def _compose_printed(entry: Mapping[str, Any]) -> str:
    """What stands for the printed text where a file gives the figures apart: each as written."""
    parts = []
    for name in ("value", "events", "spread", "sd", "se", "ci", "iqr", "range", "test", "p"):
        item = entry.get(name)
        if item is None:
            continue
        text = " to ".join(map(written, item)) if isinstance(item, list) else written(item)
        label = (
            ""
            if name in ("value", "test")
            else f"{entry.get('spread_kind') or name} "
            if name == "spread"
            else f"{name} "
        )
        parts.append(f"{label.upper() if name in ('sd', 'se', 'ci', 'iqr') else label}{text}")
    return ", ".join(parts)
