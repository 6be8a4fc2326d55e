"""Reads the data files into one Vocabulary. The files are part of the package and state their sources."""

import csv
import re
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from importlib.resources import files
from typing import Any, cast

from evidence.errors import BadInput
from evidence.vocabulary.lookup import Vocabulary
from evidence.vocabulary.model import (
    Caution,
    Construct,
    DefaultCorrelation,
    Design,
    Exercise,
    Health,
    Instrument,
    Margin,
    MeasurementError,
    OwnName,
    Region,
    SetCounting,
    SharedName,
    SizeScale,
    Term,
    TrainingStatus,
    Unit,
    WordLists,
    Worthwhile,
)

Row = Mapping[str, Any]

_FILES = (
    "regions.csv",
    "exercises.csv",
    "names.csv",
    "outcomes.yaml",
    "normalisations.yaml",
    "designs.yaml",
    "people.yaml",
    "units.yaml",
    "defaults.yaml",
    "cautions.yaml",
    "abbreviations.yaml",
    "words.yaml",
)


@lru_cache(maxsize=1)
def load_vocabulary() -> Vocabulary:
    """The shipped vocabulary. Read once per process; entries are frozen."""
    texts = {name: (files("evidence.vocabulary") / "data" / name).read_text("utf-8") for name in _FILES}
    docs = {name: _parse_yaml(text) for name, text in texts.items() if name.endswith(".yaml")}
    people, defaults, cautions = docs["people.yaml"], docs["defaults.yaml"], docs["cautions.yaml"]
    regions = [_read_region(row) for row in _rows(texts["regions.csv"])]
    exercises = [read_exercise(row) for row in _rows(texts["exercises.csv"])]
    constructs = [_read_construct(row) for row in docs["outcomes.yaml"]["constructs"]]
    healths = [Health(h["id"], h["name"], tuple(h["names"]), h["clinical"]) for h in people["healths"]]
    return Vocabulary(
        regions={r.id: r for r in regions},
        exercises={e.id: e for e in exercises},
        constructs={c.id: c for c in constructs},
        normalisations=_read_terms(docs["normalisations.yaml"]["normalisations"]),
        designs={
            d["id"]: Design(**{**d, "names": tuple(d["names"])}) for d in docs["designs.yaml"]["designs"]
        },
        training_statuses={
            s["id"]: TrainingStatus(s["id"], s["name"], tuple(s["tiers"]), s["rank"], tuple(s["names"]))
            for s in people["training_statuses"]
        },
        unclear_statuses=tuple(people["unclear_statuses"]),
        sexes=_read_terms(people["sexes"]),
        healths={h.id: h for h in healths},
        units={
            u["id"]: Unit(
                u["id"],
                u["quantity"],
                float(u["factor"]),
                tuple(map(str, u["names"])),
                u.get("relative", False),
            )
            for u in docs["units.yaml"]["units"]
        },
        correlations=tuple(DefaultCorrelation(**c) for c in defaults["correlations"]),
        margins=tuple(Margin(**m) for m in defaults["margins"]),
        worthwhile=tuple(Worthwhile(**w) for w in defaults["worthwhile"]),
        size_scales=tuple(SizeScale(**s) for s in defaults["sizes"]),
        set_counting=SetCounting(**defaults["set_counting"]),
        measurement_errors=tuple(MeasurementError(**m) for m in defaults["measurement_error"]),
        cautions={
            c["id"]: Caution(
                c["id"], c["applies"], c["text"].strip(), c["sentence"], tuple(c["words"]), c["source"]
            )
            for c in cautions["cautions"]
        },
        never_say=tuple(cautions["never_say"]),
        medical_disclaimer=cautions["medical_disclaimer"],
        shared_names={
            kind: tuple(SharedName(s["text"], tuple(s["ids"]), tuple(s["other"])) for s in listed)
            for kind, listed in docs["abbreviations.yaml"].items()
        },
        extra_names=tuple(_read_name(row) for row in _rows(texts["names.csv"])),
        own_names=(),
        words=_read_words(docs["words.yaml"]),
        version=sha256("\0".join(texts[name] for name in _FILES).encode()).hexdigest()[:16],
    )


def read_exercise(row: Row) -> Exercise:
    """An exercise from a row with the columns of exercises.csv (lists joined by "|").

    For the shipped file and for a user's own exercises. BadInput without `id` or `name`.
    """
    if not row.get("id") or not row.get("name"):
        raise BadInput(
            "an exercise needs an id and a name", hint="Give both; everything else may be left out."
        )
    sure, unsure = _split_names(row.get("aliases"), "ambiguous")
    return Exercise(
        id=row["id"],
        name=row["name"],
        names=sure,
        unsure_names=unsure,
        parent=row.get("parent") or None,
        implement=row.get("implement") or "",
        position=row.get("body_position") or "",
        grip=row.get("grip_or_stance") or "",
        laterality=row.get("laterality") or "",
        joint_action=row.get("joint_action") or "",
        plane=row.get("plane") or "",
        type=row.get("type") or "",
        resistance=row.get("resistance") or "",
        primary=_listed(row.get("primary_regions")),
        secondary=_listed(row.get("secondary_regions")),
        provenance=row.get("provenance") or "",
    )


def _read_name(row: Row) -> OwnName:
    return OwnName("region" if row["kind"] == "region" else "exercise", row["name"], row["id"])


def _read_region(row: Row) -> Region:
    sure, _loose = _split_names(row["common_names"], "loosely")
    site = row["id"].startswith("site_")
    return Region(
        id=row["id"],
        name=row["standard_name"],
        latin=row["latin_name"],
        names=sure,
        parent=row["parent"] or None,
        portion_of=row["portion_of"] or None,
        fma=row["fma_id"] or None,
        uberon=row["uberon_id"] or None,
        provenance=row["id_status"] or "common practice, no source",
        kind="site" if site else "muscle",
    )


def _read_construct(row: Row) -> Construct:
    tools = tuple(
        Instrument(
            t["id"],
            t["name"],
            row["id"],
            tuple(map(str, t["names"])),
            tuple(map(str, t["units"])),
            t.get("better"),
        )
        for t in row["instruments"]
    )
    return Construct(
        id=row["id"],
        name=row["name"],
        names=tuple(row["names"]),
        better=row["better"],
        metric=row["metric"],
        metric_within=row["metric_within"],
        shown=row["shown"],
        acute=row["acute"],
        surrogate_for=tuple(row["surrogate_for"]),
        instruments=tools,
        clinical=row.get("clinical", False),
        note=row.get("note", ""),
    )


def _read_terms(rows: list[Row]) -> dict[str, Term]:
    return {row["id"]: Term(row["id"], row["name"], tuple(map(str, row["names"]))) for row in rows}


def _read_words(doc: Row) -> WordLists:
    sets = {name: frozenset(map(str, doc[name])) for name in doc if name != "expand"}
    return WordLists(expand={str(k): v for k, v in doc["expand"].items()}, **sets)


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(text.splitlines()))


def _listed(value: str | None) -> tuple[str, ...]:
    return tuple(part.strip() for part in (value or "").split("|") if part.strip())


def _split_names(value: str | None, remark: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names without their bracketed remarks, those marked with `remark` apart."""
    sure: list[str] = []
    unsure: list[str] = []
    for name in _listed(value):
        bare = re.sub(r"\s*\([^)]*\)", "", name)
        (unsure if f"({remark})" in name else sure).append(bare)
    return tuple(sure), tuple(unsure)


def _parse_yaml(text: str) -> dict[str, Any]:
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return cast("dict[str, Any]", yaml.load(text, Loader=loader))
