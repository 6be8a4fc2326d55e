"""What is invented is said of everything that rests on it, and of nothing else."""

import json
from pathlib import Path

import pytest

STUDY = """steelyard: study/1
key: {key}
title: "{title}"
invented: {invented}
year: 2020
references: [{key}]
design: randomised_parallel
pairing: between
randomised: "yes"
weeks: 10
people: [{{key: all, recruited: 40, analysed: 40, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: a, exercise: {exercise}, n: 20}}
  - {{key: b, exercise: leg press, n: 20}}
outcomes: [{{key: thickness, construct: growth, instrument: ultrasound muscle thickness, unit: mm}}]
tables:
  - {{outcome: thickness, timepoint: pre, locator: Table 1, read_from: full text, spread: SD, columns: [a, b],
     rows: [{{region: gluteus maximus, cells: ["24.6 (3.2)", "24.9 (3.3)"]}}]}}
  - {{outcome: thickness, timepoint: post, locator: Table 1, read_from: full text, spread: SD, columns: [a, b],
     rows: [{{region: gluteus maximus, cells: ["27.4 (3.4)", "25.9 (3.3)"]}}]}}
"""
BOOKS = """@article{ash, author={Ash, A.}, year=2020, title={Step-ups in earnest}, journal={J}, doi={10.5555/a}}
@article{made, author={Made, M.}, year=2021, title={Split squats that never were}, journal={J}, doi={10.5555/m}}
"""
PLAN = "title: Plan\ngoal: growth\nsessions:\n  - picks: [Step-up 3x8 each side, Split squat 3x8 each side]\n"
ARTICLE = """# Two exercises

[Growth may be greater with the step-up.]{claim=real}

[Growth may be greater with the split squat.]{claim=fake}
"""


@pytest.fixture
def mixed(steelyard, tmp_path: Path):
    """A user's own catalogue with one study that is marked as invented; nothing in its title says so."""
    assert steelyard("init").status == 0
    (tmp_path / "b.bib").write_text(BOOKS, "utf-8")
    assert steelyard("refs", "add", "b.bib").status == 0
    for key, exercise, invented in (("ash", "step-up", "false"), ("made", "split squat", "true")):
        text = STUDY.format(key=key, exercise=exercise, invented=invented, title=key)
        (tmp_path / f"{key}.yaml").write_text(text, "utf-8")
        assert steelyard("study", "load", f"{key}.yaml").status == 0
    for key, exercise in (("real", "step-up"), ("fake", "split squat")):
        stated = (
            "claim",
            "state",
            "--exercise",
            exercise,
            "--over",
            "leg press",
            "--region",
            "gluteus maximus",
        )
        assert steelyard(*stated, "--outcome", "growth", "--key", key).status == 0
    (tmp_path / "plan.yaml").write_text(PLAN, "utf-8")
    (tmp_path / "a.md").write_text(ARTICLE, "utf-8")
    return steelyard


PARTLY = "Partly invented data. Made up to show what Steelyard does, and no evidence: Made 2021."


def test_what_rests_on_real_studies_alone_says_nothing_of_invention(mixed) -> None:
    for command in (("brief", "real", "--format", "txt"), ("weigh", "real"), ("publish", "answer", "real")):
        assert "invented" not in mixed(*command).text.lower()


def test_what_rests_on_invented_studies_alone_says_so_as_a_whole(mixed) -> None:
    assert "INVENTED DATA. THE STUDIES" in mixed("brief", "fake", "--format", "txt").text
    assert mixed("publish", "answer", "fake").text.startswith("[Invented data]")
    assert mixed("weigh", "fake").text.startswith("INVENTED demonstration data")


@pytest.mark.parametrize(
    ("command", "marked", "plain"),
    [
        (("programme", "annotate", "plan.yaml"), "(Made 2021 (invented))", "(Ash 2020)"),
        (("publish", "article", "a.md"), "Rests on invented data: Made 2021.", "Rests on invented data: Ash"),
        (("publish", "handout", "--region", "gluteus maximus"), "Rests on invented data: Made 2021.", ""),
        (("publish", "handout", "--claim", "real", "--claim", "fake"), "**invented.** Made M (2021)", ""),
    ],
)
def test_a_mixture_names_what_is_invented_and_marks_it_where_it_is_told(
    mixed, command: tuple[str, ...], marked: str, plain: str
) -> None:
    text = mixed(*command, "--format", "md").text.replace("\\", "")
    assert f"**{PARTLY}" in text
    assert marked in text
    assert "Ash 2020 (invented)" not in text
    if plain == "(Ash 2020)":
        assert plain in text
    elif plain:
        assert plain not in text


def test_a_source_list_marks_the_invented_source_alone(mixed) -> None:
    lines = mixed("publish", "sources", "a.md").text.splitlines()
    assert lines[0].startswith(PARTLY)
    assert [("[INVENTED]" in line) for line in lines if "doi.org" in line] == [False, True]


def test_a_ranking_of_both_names_the_invented_study(mixed) -> None:
    text = mixed("rank", "gluteus maximus", "--outcome", "growth").text
    assert text.startswith("PARTLY INVENTED data: Made 2021")


def test_a_correction_note_says_which_of_its_claims_rest_on_invention(mixed, tmp_path: Path) -> None:
    assert mixed("publish", "article", "a.md", "--to", "a.html").status == 0
    assert mixed("changes", "--seen").status == 0
    head = "OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,RetractionDate,RetractionDOI,Reason\n"
    rows = "".join(f"10.5555/{k},0,Retraction,3/1/2026 0:00,10.5555/{k}r,+Reason;\n" for k in ("a", "m"))
    (tmp_path / "n.csv").write_text(head + rows, "utf-8")
    mixed("refs", "notices", "apply", "n.csv")
    note = mixed("changes", "--notes").text
    assert "PARTLY INVENTED data: fake" in note
    told = note.split("## ")
    assert ["Rests on invented data." in part for part in told if part.startswith("S")] == [True, False]
    assert json.loads(mixed("changes", "--json").text)["claims"]


@pytest.mark.parametrize("listed", [("claim", "list"), ("study", "list"), ("review",), ("reading-list",)])
def test_lists_say_that_studies_of_the_catalogue_are_invented(mixed, listed: tuple[str, ...]) -> None:
    assert "INVENTED data: 1 study of this catalogue is made up, and what rests on it." in mixed(*listed).text


def test_a_catalogue_with_no_invented_study_says_nothing_of_it(steelyard, tmp_path: Path) -> None:
    assert steelyard("init").status == 0
    (tmp_path / "b.bib").write_text(BOOKS, "utf-8")
    (tmp_path / "ash.yaml").write_text(
        STUDY.format(key="ash", exercise="step-up", invented="false", title="ash"), "utf-8"
    )
    assert steelyard("refs", "add", "b.bib").status == 0
    assert steelyard("study", "load", "ash.yaml").status == 0
    listed = steelyard("study", "list").text
    assert "ash" in listed and "INVENTED" not in listed


def test_of_nothing_no_domain_is_rated_and_a_retracted_invented_study_is_marked(
    mixed, tmp_path: Path
) -> None:
    columns = (
        "Record ID,Title,Subject,Institution,Journal,Publisher,Country,Author,URLS,ArticleType,RetractionDate,"
        "RetractionDOI,RetractionPubMedID,OriginalPaperDate,OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,"
        "Reason,Paywalled,Notes"
    )
    row = "1,[Invented] x,,,,,,,,,3/1/2026 0:00,10.5555/r,0,6/1/2021 0:00,10.5555/m,0,Retraction,,No,"
    (tmp_path / "n.csv").write_text(f"{columns}\n{row}\n", "utf-8")
    assert mixed("refs", "notices", "apply", "n.csv").status in (0, 1)
    told = mixed("weigh", "fake").text
    assert "Verdict: nothing found" in told and "starts very low: no study bears on this" in told
    assert "risk of bias:" not in told and "Studies looked at" in told
    assert "(invented): the report is retracted" in told
    assert mixed("brief", "fake", "--to", "b.md").status == 0
    brief = (tmp_path / "b.md").read_text("utf-8")
    assert "(invented)" in brief and "| Domain |" not in brief
