"""Findings as SARIF 2.1.0, the open standard (OASIS) that editors and code hosts read."""

from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any
from urllib.parse import quote

from evidence.workflows.drafts.checking import Checked
from evidence.workflows.drafts.findings import Finding, load_kinds

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def as_sarif(checked: Sequence[Checked]) -> dict[str, Any]:
    """One run over all drafts. Columns count characters (unicodeCodePoints); DOCX places are paragraph:character."""
    kinds = load_kinds()
    names = list(kinds)
    rules = [
        {
            "id": kind,
            "shortDescription": {"text": row["says"]},
            "defaultConfiguration": {"level": row["severity"]},
        }
        for kind, row in kinds.items()
    ]
    driver = {"name": "Steelyard", "version": version("steelyard"), "rules": rules}
    results = [as_result(f, one.draft.name, names) for one in checked for f in one.findings]
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "artifacts": [{"location": {"uri": as_uri(one.draft.name)}} for one in checked],
        "results": results,
    }
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def as_result(finding: Finding, name: str, kinds: list[str]) -> dict[str, Any]:
    """One finding; one that the author accepted is suppressed in the source, with the reason."""
    region = {
        "startLine": finding.place.line,
        "startColumn": finding.place.column,
        "endLine": finding.end_place.line,
        "endColumn": finding.end_place.column,
        "charOffset": finding.start,
        "charLength": max(finding.end - finding.start, 0),
        "snippet": {"text": finding.line[:2000]},
    }
    result: dict[str, Any] = {
        "ruleId": finding.kind,
        "ruleIndex": kinds.index(finding.kind),
        "level": str(finding.severity),
        "message": {"text": " ".join([finding.what, finding.why, *finding.figures])},
        "locations": [{"physicalLocation": {"artifactLocation": {"uri": as_uri(name)}, "region": region}}],
    }
    if finding.accepted is not None:
        result["suppressions"] = [{"kind": "inSource", "justification": finding.accepted}]
    if finding.replacement is not None:
        changed = finding.replacement
        result["fixes"] = [
            {
                "description": {"text": f"Write: {changed.text}"},
                "artifactChanges": [
                    {
                        "artifactLocation": {"uri": as_uri(name)},
                        "replacements": [
                            {
                                "deletedRegion": {
                                    "charOffset": changed.start,
                                    "charLength": changed.end - changed.start,
                                },
                                "insertedContent": {"text": changed.text},
                            }
                        ],
                    }
                ],
            }
        ]
    return result


def as_uri(name: str) -> str:
    """A file's name as a URI: relative where it is, no drive letters left bare."""
    path = Path(name)
    return path.as_uri() if path.is_absolute() else quote(path.as_posix())
