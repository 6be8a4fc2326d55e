"""One invented table in every layout, with every way to print a spread: always the same figures, nothing asked."""

from itertools import product

import pytest

from evidence.reading.pasted import read_table
from evidence.vocabulary.terms import Spread

ROWS = ("Back squat 1RM (kg)", "5x sit-to-stand (s)", "Peak torque at 60°/s (N·m)")
GROUPS, TIMES = ("Heavy (n = 12)", "Light (n = 11)"), ("Baseline", "Week 8")
FIGURES = (
    (("98.2", "15.1"), ("110.4", "16.2"), ("97.5", "14.0"), ("104.9", "14.8")),
    (("12.1", "2.4"), ("10.4", "2.1"), ("12.4", "2.6"), ("10.2", "2.0")),
    (("201.3", "30.2"), ("214.8", "31.0"), ("199.7", "28.8"), ("203.0", "29.1")),
)
P = ("0.03", "<0.001", "0.21")
STYLES = {"mean ± SD": "{} ± {}", "Values are mean (SD)": "{} ({})", "means +/- SD": "{}+/-{}", "": ""}
LAYOUTS = ("tabs", "pipes", "html", "commas", "spaces", "running", "one a line")


def lay_out(style: str, layout: str, with_p: bool, flat: bool) -> str:
    """The table as text."""
    apart = not style
    head = [["Test"], [""]]
    for group in GROUPS:
        head[0] += [group, *[""] * (len(TIMES) * (1 + apart) - 1)]
        head[1] += [text for time in TIMES for text in (time, *[""] * apart)]
    if flat:
        head = [["Test", *(t for g in GROUPS for time in TIMES for t in (f"{g} {time}", *[""] * apart))]]
    if apart:
        head.append(["", *("Mean", "SD") * 4])
    rows = [
        [label, *(text for pair in own for text in (pair if apart else (STYLES[style].format(*pair),)))]
        for label, own in zip(ROWS, FIGURES, strict=True)
    ]
    if with_p:
        head = [[*line, "p" if i == 0 else ""] for i, line in enumerate(head)]
        rows = [[*row, p] for row, p in zip(rows, P, strict=True)]
    return "\n".join(["Table 2. Results of the trial", *(divide(head, rows, layout)), f"{style}."])


def divide(head: list[list[str]], rows: list[list[str]], layout: str) -> list[str]:
    lines = head + rows
    if layout == "tabs":
        return ["\t".join(line) for line in lines]
    if layout == "pipes":
        table = ["| " + " | ".join(line) + " |" for line in lines]
        return [table[0], "|---" * len(head[0]) + "|", *table[1:]]
    if layout == "html":
        cells = ["".join(f"<td>{text.replace('<', '&lt;')}</td>" for text in line) for line in lines]
        return ["<table>" + "".join(f"<tr>{own}</tr>" for own in cells) + "</table>"]
    if layout == "commas":
        return [",".join(line) for line in lines]
    if layout == "spaces":
        widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
        return ["   ".join(t.ljust(w) for t, w in zip(line, widths, strict=True)).rstrip() for line in lines]
    if layout == "running":
        return [" ".join(text for text in line if text) for line in lines]
    return [text for line in lines for text in line if text]


@pytest.mark.parametrize(("style", "layout"), list(product(STYLES, LAYOUTS)))
@pytest.mark.parametrize("with_p", [False, True], ids=["", "with p"])
@pytest.mark.parametrize("flat", [False, True], ids=["two heads", "one head"])
def test_the_same_figures_in_every_layout(style: str, layout: str, with_p: bool, flat: bool):
    reading = read_table(lay_out(style, layout, with_p, flat))
    read = {
        (c.row, c.group, c.timepoint): (c.value, c.spread, c.spread_kind, c.n)
        for c in reading.cells
        if c.p is None
    }
    wanted = {
        (row, group[:5], time): (float(mean), float(spread), Spread.SD, 12 if group == GROUPS[0] else 11)
        for row, own in zip(ROWS, FIGURES, strict=True)
        for (group, time), (mean, spread) in zip(product(GROUPS, TIMES), own, strict=True)
    }
    assert read == wanted
    assert [cell.p for cell in reading.cells if cell.p] == (list(P) if with_p else [])
    assert not reading.doubtful
    assert not reading.questions
