"""What is found in a draft, what is not, and how a finding is told; beside the sentences of tests/cases/drafts."""

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from evidence.catalogue import Catalogue, tables
from evidence.reading.drafts import read_draft_text
from evidence.workflows.drafts.binding import phrases_of
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.figures import figures_of_claim
from evidence.workflows.drafts.findings import Severity, load_kinds
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.numbers import find_numbers
from evidence.workflows.drafts.strengths import told

Check = Callable[..., Checked]


def kinds(checked: Checked) -> list[str]:
    return [f.kind for f in checked.findings]


def test_there_are_twenty_four_kinds_each_with_a_severity_and_a_sentence() -> None:
    assert len(load_kinds()) == 24
    assert all(Severity(row["severity"]) and row["says"].endswith(".") for row in load_kinds().values())


def test_a_finding_marks_the_words_that_are_meant(check: Check) -> None:
    said = "Wide squats **definitely** work the adductors harder than narrow ones."
    text = f"# Lifts\n\nI like squats.\n[{said}]{{claim=wide-stance-adductor-activation}}\n"
    (finding,) = check(text).findings
    assert (finding.kind, str(finding.place)) == ("stronger-than-confidence", "4:16")
    assert text[finding.start : finding.end] == "definitely"
    assert finding.figures[0] == "verdict: supported; confidence: low"


def test_a_wrong_figure_is_told_with_the_right_one_and_a_wording(check: Check) -> None:
    (finding,) = check(
        "In the second study lifters put on 6.0 % seated and 4.4 % lying [@fennimore2023]."
    ).findings
    assert finding.kind == "figure-differs"
    assert finding.why == "nearest: 3.4 % (prone leg curl, Table 3)"
    assert finding.replacement is not None and finding.replacement.text == "3.4 %"


@pytest.mark.parametrize("said", ["27.9", "28", "about 30", "27.87"])
def test_rounding_of_a_figure_is_respected(check: Check, said: str) -> None:
    text = f"In one session Nordics read {said} per cent higher than lying curls in Thistledown and Moorcock (2019)."
    assert "figure-differs" not in kinds(check(text))


@pytest.mark.parametrize("said", ["27.1", "28.0", "29.5", "about 45"])
def test_a_figure_beyond_its_rounding_is_another(check: Check, said: str) -> None:
    text = f"In one session Nordics read {said} per cent higher than lying curls in Thistledown and Moorcock (2019)."
    assert "figure-differs" in kinds(check(text))


def test_percent_and_points_are_set_apart_with_the_right_percent(check: Check) -> None:
    checked = check("Nordics read 17 % higher than lying curls, 78 against 61 % of MVIC [@thistledown2019].")
    finding = next(f for f in checked.findings if f.kind == "percent-kind")
    assert finding.figures == ("relative: 28 % (78 against 61)",)  # 17 / 61
    assert finding.replacement is not None and finding.replacement.text == "17 points"


@pytest.mark.parametrize("points", ["percentage points", "percentage-points", "%-points", "per cent points"])
def test_a_relative_percent_told_as_points_is_mended_however_points_are_written(
    check: Check, points: str
) -> None:
    text = f"Pellworm's Nordics sat 33 {points} above the lying curl for the long head [@pellworm2020]."
    finding = next(f for f in check(text).findings if "told as points" in f.what)
    assert finding.replacement is not None and finding.replacement.text == "33 per cent"


def test_a_multiple_is_a_ratio_of_two_percents_only_where_it_is_their_ratio(check: Check) -> None:
    base = "On the standing side{}, 11.0 versus 2.4 percent [@kestrelby2021]."  # 11.0 / 2.4 = 4.6
    for said, is_ratio in (
        (" the gastrocnemius grew four and a half times as much", True),
        (" with 3 times the rest the gastrocnemius grew more", False),
    ):
        found = check(base.format(said)).findings
        assert any("ratio of two percents" in f.what for f in found) is is_ratio


def test_a_percent_turned_round_is_reckoned_anew(check: Check) -> None:
    checked = check(
        "Squats read 35 % below the step-up [@tollerton2019], so the step-up reads 35 % above the squat."
    )
    finding = next(f for f in checked.findings if f.kind == "percent-kind")
    assert "54 %" in finding.why  # 1 / 0.65 = 1.538


def test_who_it_is_for_may_be_said_by_option_by_front_matter_or_in_the_text(check: Check) -> None:
    text = "[Nordics may do more for growth than lying curls.]{claim=nordic-curl-growth}"
    assert "other-people" not in kinds(check(text))
    assert "other-people" in kinds(check(text, audience="women"))
    assert "other-people" in kinds(check(f"---\naudience: women over 60\n---\n\n{text}"))
    assert "other-people" in kinds(check(text.replace("Nordics", "Ladies, Nordics", 1)))


def test_a_caution_counts_in_the_same_sentence_and_in_captions_in_the_same_run(check: Check) -> None:
    unsafe = "Train through the pain."
    assert kinds(check(unsafe)) == ["safety"]
    assert kinds(check(f"{unsafe} See a physio first.")) == ["safety"]
    assert kinds(check("Do not train through pain; see a physio.")) == []
    cues = f"WEBVTT\n\n00:01.000 --> 00:04.000\n{unsafe} See a physio first,\n\n00:04.000 --> 00:05.000\nplease.\n"
    assert kinds(check(cues, "webvtt")) == []


def test_an_accepted_finding_stays_listed_with_its_reason_and_no_longer_counts(check: Check) -> None:
    text = "The hip thrust is the best glute exercise [@underhowe2021]. <!-- accept superlative: a quoted headline -->"
    checked = check(text)
    accepted = [f for f in checked.findings if f.accepted]
    assert [(f.kind, f.accepted) for f in accepted] == [("superlative", "a quoted headline")]
    assert all(f.kind != "superlative" for f in checked.at_least(Severity.NOTE))


def test_an_unknown_claim_and_a_misspelt_key_are_told_with_the_nearest(check: Check) -> None:
    checked = check("[Full squats may grow more glute [@eskdale2051].]{claim=full-squat-glute-grwth}")
    told = [f for f in checked.findings if f.kind == "unknown-citation"]
    assert any("eskdale2015" in figure for f in told for figure in f.figures)
    assert any("full-squat-glute-growth" in figure for f in told for figure in f.figures)


def test_evidence_that_came_after_the_last_check_makes_a_sentence_stale(knowledge: Knowledge) -> None:
    said = "[Heavy sets raise the squat max more than light ones.]{{claim=heavy-squat-strength}}"
    text = "---\nchecked: {day}\n---\n\n" + said + "\n"
    early = check_draft(read_draft_text(text.format(day="2026-03-01"), "markdown"), knowledge)
    late = check_draft(read_draft_text(text.format(day="2026-10-20"), "markdown"), knowledge)
    assert kinds(early) == ["stale"] and kinds(late) == []


def test_a_claim_weighed_before_the_evidence_changed_is_weighed_anew(own_catalogue: Catalogue) -> None:
    from sqlmodel import select

    with own_catalogue.changing("tests", "another look") as session:
        claim = session.exec(select(tables.Claim).where(tables.Claim.key == "front-back-quad-growth")).one()
        study = session.exec(select(tables.Study).where(tables.Study.key == "ennerdale2019")).one()
        session.add(
            tables.Exclusion(
                claim_id=claim.id,
                study_id=study.id,
                reason="a test",
                person="tests",
                at=datetime(2026, 5, 1, tzinfo=UTC),
            )
        )
    knowledge = know_catalogue(own_catalogue)
    assert not knowledge.claims["front-back-quad-growth"].weighed
    fresh = knowledge.refreshed(["front-back-quad-growth"]).claims["front-back-quad-growth"]
    assert fresh.weighed and fresh.studies == ("buttermere2022",)
    assert fresh.wordings[0].startswith("It is unclear whether growth of the quadriceps")


def test_a_suggested_wording_is_one_the_confidence_allows_and_is_only_offered_for_a_tied_sentence(
    own_catalogue: Catalogue,
) -> None:
    from evidence.workflows.weigh.weighing import weigh_and_keep

    weigh_and_keep(own_catalogue, "front-back-quad-growth", "tests")
    knowledge = know_catalogue(own_catalogue)
    knowledge = replace(knowledge, claims={**knowledge.claims})
    said = "Front squats grow the quads just as well as back squats [@ennerdale2019; @buttermere2022]."
    tied = check_draft(read_draft_text(f"[{said}]{{claim=front-back-quad-growth}}", "markdown"), knowledge)
    finding = next(f for f in tied.findings if f.kind == "absence-as-sameness")
    assert finding.replacement is not None
    assert finding.replacement.text.startswith(
        "It is unclear whether growth of the quadriceps femoris differs"
    )
    assert finding.replacement.text.endswith("[@ennerdale2019; @buttermere2022].")
    assert [s.register for s in finding.suggestions] == ["short", "plain", "full"]


def test_a_catalogue_with_nothing_in_it_finds_only_what_needs_none(tmp_path) -> None:  # type: ignore[no-untyped-def]
    from evidence.catalogue import Location, create_catalogue, open_catalogue

    place = Location(path=tmp_path / "empty.sqlite")
    create_catalogue(place).close()
    with open_catalogue(place) as catalogue:
        knowledge = know_catalogue(catalogue)
    checked = check_draft(
        read_draft_text(
            "Studies show it works [@a2020]. Science says so. Train through the pain.", "markdown"
        ),
        knowledge,
    )
    assert kinds(checked) == ["unknown-citation", "no-source", "safety"]


def test_the_work_grows_with_the_length_of_the_draft(knowledge: Knowledge) -> None:
    said = "The leg press probably grows the quads 3 per cent more than the squat [@dunmallet2020]."
    text = f"{said} I rest because I like to.\n\n"

    def took(times: int) -> float:
        draft = read_draft_text(text * times, "markdown")
        started = time.process_time()
        check_draft(draft, knowledge)
        return time.process_time() - started

    took(5)
    small, large = max(took(40), 0.01), took(320)
    assert large < 8 * small * 4  # eight times the text; four times over for noise


@pytest.mark.parametrize("said", ["may be greater with", "is greater with", "might well be greater with"])
def test_even_a_hedge_is_too_strong_where_nothing_was_found(check: Check, said: str) -> None:
    text = f"[Growth of the short head {said} the seated leg curl than the lying one.]{{claim=seated-curl-short-head}}"
    (finding,) = check(text).findings
    assert finding.kind == "stronger-than-confidence"
    assert finding.why == "where nothing was found, nothing can be said"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Loads of 80 per cent and over get you further than 50 to 60 per cent does.", []),
        ("Wide squats draw more than 20 per cent more.", [("percent", 20.0)]),
        ("It came out at an effect size of 0.19.", [("effect", 0.19)]),
        ("Hedges' g = 0.48 over three trials.", [("effect", 0.48)]),
        ("The interval ran from -0.25 to 0.64, gains were 7.8 % and 4.9 %.", [("percent", 7.8), ("percent", 4.9)]),
        ("Standing 11.0, seated 2.4 per cent.", [("percent", 11.0), ("percent", 2.4)]),
        ("The one-leg lifters improved.", []),
        ("Loads of 50-60 % do less.", []),
        ("The interval held zero at about 10 %.", [("percent", 10.0)]),
        ("Partials won by 6.1 per cent, 10.7 to 4.6.", [("percent", 6.1), ("percent", 10.7), ("percent", 4.6)]),
        ("Pain fell by 1.2 with one and 0.9 with the other.", [("moved", 1.2), ("moved", 0.9)]),
        ("The two went together, r = -0.12.", [("correlation", -0.12)]),
    ],
)  # fmt: skip
def test_numbers_are_read_as_what_they_tell(said: str, expected: list[tuple[str, float]]) -> None:
    assert [(n.kind, n.value) for n in find_numbers(said)] == expected


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (
            "Quillfeather and a colleague (2022) read more in the Nordic.",
            "the record lists Quillfeather alone",
        ),
        ("Quillfeather et al. (2022) read more in the Nordic.", "the record lists Quillfeather alone"),
        ("Rydal and Nab showed back in 2019 that both did well.", "the record says 2021, the text 2019"),
        ("Quillfeather and a colleague (2021) read more.", "the record says 2022, the text 2021"),
    ],
)
def test_other_authors_than_the_record_has_are_told(check: Check, said: str, why: str) -> None:
    found = [f for f in check(said).findings if f.kind == "wrong-source-details"]
    assert [why in f.why for f in found] == [True]


def test_a_paper_named_by_authors_of_two_is_not_guessed(check: Check) -> None:
    (finding,) = check("If you read one thing, read the Dovedale and Hartsop paper.").findings
    assert (finding.kind, finding.why) == ("unknown-citation", "it fits several references")
    assert check("My friend Dovedale lifts on Mondays.").findings == ()


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("A Nordic and Romanian study of our own would help.", []),
        ("The Monday and Thursday trial went well.", []),
        ("The Umberslade and Quorndon study says so.", ["unknown-citation"]),
    ],
)
def test_lifts_and_days_before_a_study_are_no_authors(check: Check, said: str, found: list[str]) -> None:
    assert [kind for kind in kinds(check(said)) if kind == "unknown-citation"] == found


def test_a_percent_told_as_a_multiple_is_named_with_the_multiple(check: Check) -> None:
    checked = check("The wide stance drew a 17.1-fold reading of the narrow one [@wasdale2020].")
    assert [(f.kind, f.why) for f in checked.findings if f.kind == "percent-kind"] == [
        ("percent-kind", "17.1 per cent more is 1.17 times as much")
    ]


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("Nordics cut hamstring injuries 0.48-fold in adult men [@stonethwaite2019].", "percent-kind"),
        ("Pain fell by 1.2 with extensions and 0.9 with education [@loughrigg2022].", "figure-differs"),
        ("Deep squats and sore knees went together, r = -0.42 [@caldbeck2020].", "figure-differs"),
    ],
)
def test_ratios_changes_and_correlations_are_held_against_the_catalogue(
    check: Check, said: str, kind: str
) -> None:
    assert kind in kinds(check(said))


@pytest.mark.parametrize(
    "said",
    [
        "Pain fell by 1.2 with extensions and 0.5 with education [@loughrigg2022].",
        "In one cohort deep squats and sore knees went together, r = -0.12 [@caldbeck2020].",
    ],
)
def test_right_changes_and_correlations_pass(check: Check, said: str) -> None:
    assert "figure-differs" not in kinds(check(said))


def test_a_pooled_correlation_is_told_and_held_against_as_r() -> None:
    pooled = tables.Appraisal(estimate=-0.1206, low=-0.2132, high=-0.02, metric="fisher_z")
    told = [round(f.value, 2) for f in figures_of_claim(pooled) if f.unit == "r"]
    assert told == [-0.12, -0.21, -0.02]


def test_the_figure_of_one_study_is_not_called_pooled(knowledge: Knowledge) -> None:
    claim = knowledge.claims["heavy-squat-strength"]
    alone = replace(claim, studies=claim.studies[:1])
    assert told(alone)[1].startswith("one study: 0.56 (0.38 to 0.74), standardised mean difference;")


def test_pooled_figures_are_told_by_the_name_of_their_scale_with_a_minus_sign(check: Check) -> None:
    (finding,) = check(
        "[Heavy loads may build more strength than light loads in adults.]{claim=heavy-squat-strength}"
    ).findings
    assert finding.figures[1] == "pooled: 0.56 (0.38 to 0.74), standardised mean difference; 210 people"
    less = check(
        "[Split squats are clearly greater than back squats for sprinting.]{claim=split-back-sprint}"
    )
    figures = next(f.figures[1] for f in less.findings if f.figures)
    assert "(−0.46 to 0.46), standardised mean difference" in figures


@pytest.mark.parametrize(
    "said",
    [
        "The verdict says what the evidence says, and confidence how far that can be trusted.",
        "A small study that finds nothing is no evidence of nothing.",
        "Read first: what the figures say, and what they cannot.",
        "Agreement is given as Cohen's kappa (1960), correlations by Fisher's z (1921).",
    ],
)
def test_talk_of_studies_and_of_methods_is_no_appeal_and_no_source(check: Check, said: str) -> None:
    assert kinds(check(said)) == []


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("That is what the studies show: split squats build thicker quads than leg presses.", "no-source"),
        ("Harwick's trial from 2014 is the one to read.", "unknown-citation"),
    ],
)
def test_an_appeal_and_an_unknown_trial_are_still_told(check: Check, said: str, kind: str) -> None:
    assert kind in kinds(check(said))


def test_a_percent_of_one_exercise_over_another_needs_a_source_whatever_the_verb(check: Check) -> None:
    said = "RDLs work the hamstrings 47 % more than hip thrusts in trained women."
    assert kinds(check(said)) == ["no-source"]


def test_unknown_names_with_no_year_are_a_warning_and_with_one_an_error(check: Check) -> None:
    told = [
        check(said).findings[0].severity
        for said in ("In the Harbour and Street experiment we squatted.", "Harwick and Bell (2019) squatted.")
    ]
    assert told == [Severity.WARNING, Severity.ERROR]


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        ("Lying curls may activate the hamstrings less than Nordics [@thistledown2019].", False),
        ("Lying curls may activate the hamstrings more than Nordics [@thistledown2019].", True),
        ("Nordics may activate the hamstrings more than lying curls [@thistledown2019].", False),
        ("Nordics may activate the hamstrings less than lying curls [@thistledown2019].", True),
    ],
)
def test_the_muscle_that_an_exercise_is_called_by_is_not_taken_for_the_exercise(
    check: Check, said: str, wrong: bool
) -> None:
    assert ("contradicts-catalogue" in kinds(check(said))) is wrong


def test_an_abbreviation_is_a_side_of_a_claim() -> None:
    names = ("Romanian deadlift", "RDL"), ("Nordic hamstring exercise", "Nordic curl")
    (phrases, _), (_, telling) = (phrases_of(n) for n in names)
    assert ("rdl",) in phrases
    assert "nordic" in telling and "hamstring" not in telling


@pytest.mark.parametrize(
    ("said", "others"),
    [
        ("In women, wide squats may activate the adductors more than narrow ones [@wasdale2020].", True),
        (
            "Wide squats may activate the adductors more than narrow ones in women over 65 [@wasdale2020].",
            True,
        ),
        (
            "Wide squats may activate the adductors more than narrow ones in trained men [@wasdale2020].",
            False,
        ),
    ],
)
def test_people_named_anywhere_are_held_against_those_who_were_studied(
    check: Check, said: str, others: bool
) -> None:
    assert ("other-people" in kinds(check(said))) is others


@pytest.mark.parametrize("typed", ["10.5555/fennimore2023", "https://doi.org/10.5555/FENNIMORE2023"])
def test_a_known_doi_is_checked_as_its_key_is(check: Check, knowledge: Knowledge, typed: str) -> None:
    said = "In the second study lifters put on 6.0 % seated and 4.4 % lying"
    by_doi = {doi: key for doi, key in knowledge.by_doi.items() if key == "fennimore2023"}
    assert len(by_doi) == 1
    doi = next(iter(by_doi))
    typed = typed.replace("10.5555/fennimore2023", doi).replace("10.5555/FENNIMORE2023", doi.upper())
    by_key = check(f"{said} [@fennimore2023].").findings
    (finding,) = check(f"{said} ({typed}).").findings
    assert (finding.kind, finding.why, finding.figures) == (by_key[0].kind, by_key[0].why, by_key[0].figures)


def test_an_unknown_doi_is_told_with_how_to_add_it_and_counts_as_a_source(check: Check) -> None:
    text = "Seated curls grow the hamstrings more than lying curls, doi:10.5555/nowhere.\n\n- https://doi.org/10.5555/other\n"
    found = check(text).findings
    assert "no-source" not in [f.kind for f in found]
    told = [f for f in found if f.kind == "unknown-citation"]
    assert [str(f.place) for f in told] == ["1:57", "3:3"]
    assert told[0].what == "The catalogue holds no reference with the DOI 10.5555/nowhere."
    assert told[0].figures == ("to add it: steelyard refs look-up 10.5555/nowhere",)


def test_the_digits_of_an_address_are_no_figures(check: Check) -> None:
    text = "The seated curl is told of at https://example.org/2023/12%-more/6.0-mm-growth and so on [@fennimore2023]."
    assert "figure-differs" not in kinds(check(text))


def test_a_sentence_that_is_rewritten_keeps_its_sources_however_they_are_typed(
    own_catalogue: Catalogue,
) -> None:
    from evidence.workflows.weigh.weighing import weigh_and_keep

    weigh_and_keep(own_catalogue, "front-back-quad-growth", "tests")
    knowledge = know_catalogue(own_catalogue)
    for typed, kept in (
        ("(https://doi.org/10.5555/x)", "(https://doi.org/10.5555/x)"),
        ("doi:10.5555/x", "(doi:10.5555/x)"),
        ("as [a study](https://doi.org/10.5555/x) says", "[a study](https://doi.org/10.5555/x)"),
        ("as @ennerdale2019 says", "[@ennerdale2019]"),
    ):
        said = f"Front squats grow the quads just as well as back squats {typed}."
        draft = read_draft_text(f"[{said}]{{claim=front-back-quad-growth}}", "markdown")
        found = check_draft(draft, knowledge).findings
        written = [f.replacement.text for f in found if f.replacement and f.kind == "absence-as-sameness"]
        assert written and all(text.endswith(f" {kept}.") for text in written)
