"""Details of conditions and claims known by name, and what their values look like. Data: `data/details.yaml`."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

NUMBER = r"[-+\N{MINUS SIGN}]?\d+(?:[.,]\d+)?"


@dataclass(frozen=True, slots=True)
class Detail:
    """One detail. `number`: its values are numbers (or a stretch of them) from `least` to `most`, in one of `units`."""

    name: str
    about: str
    example: str
    number: bool = False
    units: tuple[str, ...] = ()
    least: float = 0.0
    most: float = 0.0

    @property
    def told(self) -> str:
        """What a value of it is: `a number from 0 to 200 (percent)`, `words, such as seated`."""
        if not self.number:
            return f"words, such as {self.example}"
        unit = f" ({self.units[0]})" if self.units else ""
        return f"a number from {self.least:g} to {self.most:g}{unit}, such as {self.example}"

    def fits(self, value: str) -> bool:
        """Whether a text is a value of it: `80`, `80 %`, `8-12`; any words where it holds words."""
        if not self.number:
            return bool(value.strip())
        units = "|".join(re.escape(unit) for unit in sorted(self.units, key=len, reverse=True))
        tail = rf"\s*(?:{units})?" if units else ""
        match = re.fullmatch(
            rf"({NUMBER})(?:\s*(?:-|\N{{EN DASH}}|to)\s*({NUMBER}))?{tail}", value.strip(), re.IGNORECASE
        )
        return match is not None and all(
            self.least <= float(n.replace(",", ".").replace("\N{MINUS SIGN}", "-")) <= self.most
            for n in match.groups()
            if n is not None
        )


def fold_name(text: str) -> str:
    """A detail's name as it is kept: `Knee angle-deg` is knee_angle_deg."""
    return re.sub(r"[\s-]+", "_", text.strip().lower())


@cache
def load_details() -> Mapping[str, Detail]:
    """Every known detail by its name, in the order of the file."""
    import yaml

    text = (files("evidence.vocabulary") / "data" / "details.yaml").read_text("utf-8")
    rows: list[dict[str, Any]] = yaml.safe_load(text)
    return {row["name"]: read_detail(row) for row in rows}


def read_detail(row: Mapping[str, Any]) -> Detail:
    """One entry of the file."""
    number = row["is"] == "number"
    return Detail(
        row["name"],
        row["about"],
        str(row["example"]),
        number,
        tuple(row.get("unit", ())),
        float(row["least"]) if number else 0.0,
        float(row["most"]) if number else 0.0,
    )
