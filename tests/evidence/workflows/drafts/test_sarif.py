"""SARIF 2.1.0: valid by the schema that OASIS published, with regions that lead to the words meant."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema

from evidence.reading.drafts import read_draft
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.sarif import as_sarif

DATA = Path(__file__).parent / "data"
SCHEMA = json.loads((DATA / "sarif-schema-2.1.0.json").read_text("utf-8"))


def validated(*checked: Checked) -> dict[str, Any]:
    log = json.loads(json.dumps(as_sarif(checked)))
    jsonschema.Draft4Validator(SCHEMA).validate(log)
    return dict(log["runs"][0])


def test_three_whole_texts_give_one_valid_log(knowledge: Knowledge) -> None:
    texts = [
        check_draft(read_draft(DATA / n), knowledge) for n in ("article.md", "script.vtt", "programme.md")
    ]
    run = validated(*texts)
    assert len(run["results"]) == sum(len(t.findings) for t in texts)
    accepted = [r for r in run["results"] if "suppressions" in r]
    assert len(accepted) == 1 and accepted[0]["suppressions"][0]["justification"].startswith(
        "said so on purpose"
    )


def test_regions_count_characters_and_lead_to_the_words(check: Callable[..., Checked]) -> None:
    text = "🏋️ e\u0301 It is the best squat for quads.\n"
    (result,) = [r for r in validated(check(text))["results"] if r["ruleId"] == "superlative"]
    region = result["locations"][0]["physicalLocation"]["region"]
    line = text.splitlines()[region["startLine"] - 1]
    assert line[region["startColumn"] - 1 : region["endColumn"] - 1].strip() == "the best"
    assert text[region["charOffset"] : region["charOffset"] + region["charLength"]].strip() == "the best"


def test_a_draft_with_nothing_found_gives_a_valid_log_with_no_results(check: Callable[..., Checked]) -> None:
    assert validated(check("I like tea.\n"))["results"] == []


def test_names_with_blanks_and_letters_of_any_script_become_uris(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    path = tmp_path / "mein Entwurf 腿 #1.md"
    path.write_text("Studies show it.\n", "utf-8")
    run = validated(check_draft(read_draft(path), knowledge))
    uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri.startswith("file:///") and " " not in uri and uri.endswith("%231.md")
