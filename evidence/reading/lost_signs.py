"""A ± that a copy left out altogether: "69.5 32.6" in a cell of its own, under a legend that says mean ± SD."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evidence.reading.table import Repair

FEWEST = 2  # such cells, before they count as means with their spread
_PAIR = re.compile(r"(?P<mean>[-−]?\d+[.,·]\d+) (?P<spread>\d+[.,·]\d+)(?P<marks>[*†‡§¶#a-e]{0,3})")
_FIGURE = re.compile(r"[-−]?\d+[.,·]\d+[*†‡§¶#a-e]{0,3}")
_LEGEND = re.compile(
    r"\bmeans?\b\W{0,4}(?:and |with )?(?:S\.?D|S\.?E|standard (?:deviation|error))", re.IGNORECASE
)


def put_signs_back(lines: Sequence[str]) -> tuple[list[str], tuple[Repair, ...]]:
    """The lines with ± between the two figures of a cell, where the legend says that one stands there."""
    said, pairs = _LEGEND.search("\n".join(lines)), find_pairs(lines)
    if said is None or not pairs:
        return list(lines), ()
    restored = ["\t".join(map(with_sign, line.split("\t"))) for line in lines]
    evidence = f"the legend says {said.group()}, and two figures stand in one cell ({len(pairs)} places)"
    return restored, (Repair("± was lost between two figures", pairs[0], with_sign(pairs[0]), evidence),)


def find_pairs(lines: Sequence[str]) -> list[str]:
    """Cells of two bare figures, in a table whose cells are set apart by tabs and mostly such pairs.

    None where any cell holds a ± or a bracket, which would say otherwise.
    """
    cells = [cell.strip() for line in lines for cell in line.split("\t")[1:]]
    pairs = [cell for cell in cells if _PAIR.fullmatch(cell)]
    signed = any(re.search(r"\d\s*(?:±|\(\d)", cell) for cell in cells)
    lone = sum(bool(_FIGURE.fullmatch(cell)) and not cell.startswith(("0", ".")) for cell in cells)
    return [] if signed or len(pairs) < max(FEWEST, lone) else pairs


def with_sign(cell: str) -> str:
    """A cell of two figures with the ± between them; any other as it is."""
    found = _PAIR.fullmatch(cell.strip())
    return f"{found['mean']} ± {found['spread']}{found['marks']}" if found else cell
