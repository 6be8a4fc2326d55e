"""What moved, what is due, what to look for, and what was published: on the invented studies of the demonstration."""

from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import select

from evidence.appraisal.moves import MoveKind
from evidence.catalogue import Catalogue
from evidence.catalogue.history import get_change
from evidence.catalogue.queries import claim_by_key, latest_appraisal, reference_by_key, study_by_key
from evidence.catalogue.tables import Result
from evidence.errors import BadInput, NotFound
from evidence.publishing.corrections import note_markdown
from evidence.vocabulary import load_vocabulary
from evidence.workflows.claims.claim_files import statements_from_file
from evidence.workflows.claims.claiming import leave_study_out, state_claim
from evidence.workflows.documents.corrections import correction_notes, write_notes
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.gather.gathering import gather
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.upkeep.changes import Changes, find_changes
from evidence.workflows.upkeep.keeping import undo_change
from evidence.workflows.upkeep.reading_list import list_reading
from evidence.workflows.upkeep.reviewing import add_months, find_due, mark_reviewed
from evidence.workflows.upkeep.standings import find_present
from evidence.workflows.upkeep.touching import stale_claims
from evidence.workflows.upkeep.uses import list_uses, register_use
from evidence.workflows.weigh.reweighing import weigh_each_and_keep, weigh_many
from evidence.workflows.weigh.weighing import weigh, weigh_and_keep

DEMO = Path(str(files("evidence.workflows") / "demo_data"))


@pytest.fixture
def told(stocked: Catalogue) -> Catalogue:
    """The demonstration's claims weighed, and a programme that told two of them."""
    for statement in statements_from_file(DEMO / "claims.yaml"):
        state_claim(stocked, statement, "Sam")
    weighed = {w.claim.key: w for w in (weigh_and_keep(stocked, key, "Sam") for key in KEYS)}
    register_use(
        stocked, "programme", "plan.html", "Sam", place="plan.html", format="html",
        weighings=[weighed["thrust-growth"], weighed["standing-calf-growth"]],
    )  # fmt: skip
    return stocked


KEYS = [s.key or "" for s in statements_from_file(DEMO / "claims.yaml")]


def add_later_study(catalogue: Catalogue) -> None:
    gather(catalogue, DEMO / "later" / "references.bib", "Sam")
    load_study(catalogue, DEMO / "later" / "kettle-2025.yaml", "Sam")


def retract_rack(catalogue: Catalogue) -> None:
    apply_notices(catalogue, DEMO / "later" / "notices.csv", "Sam")


def moved(changes: Changes) -> list[str]:
    return [claim.key for claim in changes.claims]


def test_what_changes_while_a_claim_is_weighed_counts_as_later(told: Catalogue) -> None:
    def take(weighing: Any) -> None:
        leave_study_out(told, "thrust-growth", weighing.studies[0].rows.study.key, "other people", "Ada")

    add_later_study(told)
    weigh_each_and_keep(told, ["thrust-growth"], "Sam", take)
    with told.reading() as session:
        assert claim_by_key(session, "thrust-growth").id in stale_claims(session)


class TestChanges:
    def test_nothing_moved_where_nothing_changed(self, told: Catalogue) -> None:
        found = find_changes(told, "Sam")
        assert (found.claims, found.weighed_anew, found.known) == ((), 0, len(KEYS))

    def test_a_study_that_measures_what_a_claim_had_leaned_on_moves_that_claim_alone(
        self, told: Catalogue
    ) -> None:
        add_later_study(told)
        found = find_changes(told, "Sam")
        assert moved(found) == ["thrust-growth"]
        assert found.weighed_anew == 1
        (claim,) = found.claims
        assert "activation alone" in claim.before.verdict_text
        assert claim.now.verdict == "no clear difference"
        assert [c.key for c in claim.causes if c.changes] == ["kettle-2025"]
        assert [(u.name, u.holds) for u in claim.uses] == [("plan.html", False)]

    def test_what_is_weighed_again_is_what_weighing_everything_gives(self, told: Catalogue) -> None:
        add_later_study(told)
        retract_rack(told)
        present = find_present(told)
        for weighing in weigh_many(told):
            now = present.now(weighing.claim.id or 0)
            assert now.body["wordings"]["full"] == weighing.wordings.full, weighing.claim.key
            assert (now.estimate, now.confidence) == (weighing.verdict.estimate, weighing.confidence.level)

    def test_a_retraction_moves_the_claim_that_rested_on_it_and_undo_brings_it_back(
        self, told: Catalogue
    ) -> None:
        retract_rack(told)
        found = find_changes(told, "Sam")
        assert moved(found) == ["standing-calf-growth"]
        assert "retracted" in found.claims[0].causes[0].text
        undo_change(told, None, "Sam")
        assert moved(find_changes(told, "Sam")) == []

    def test_a_retraction_is_seen_also_where_the_clock_was_set_back_before_it(
        self, told: Catalogue, clock: Any
    ) -> None:
        clock.at -= timedelta(days=400)
        retract_rack(told)
        find_changes(told, "Sam", keep=True)
        with told.reading() as session:
            claim = claim_by_key(session, "standing-calf-growth")
            last = latest_appraisal(session, claim)
        assert moved(find_changes(told, "Sam")) == ["standing-calf-growth"]
        assert last is not None and last.verdict != "supported"
        add_later_study(told)
        assert set(moved(find_changes(told, "Sam"))) == {"standing-calf-growth", "thrust-growth"}

    def test_a_corrected_figure_moves_its_claim(self, told: Catalogue) -> None:
        with told.changing("Sam", "figure corrected") as session:
            study = study_by_key(session, "rack-2016")
            for result in rows_of(session, study.id):
                if result.region == "gastrocnemius_medial" and result.value == 21.9:
                    result.value, result.printed = 20.1, "20.1 (2.7)"
        (claim,) = find_changes(told, "Sam").claims
        assert claim.key == "standing-calf-growth"
        assert claim.causes[0].text.startswith("figures of rack-2016 changed: change ")

    def test_a_study_left_out_by_a_person_is_told_with_the_reason(self, told: Catalogue) -> None:
        leave_study_out(told, "standing-calf-growth", "rack-2016", "not our question", "Kim")
        (claim,) = find_changes(told, "Sam").claims
        assert any("not our question" in cause.text for cause in claim.causes)

    def test_looking_stores_nothing_keeping_stores_what_was_weighed_and_the_earlier_answer_stays(
        self, told: Catalogue
    ) -> None:
        add_later_study(told)
        find_changes(told, "Sam")
        assert find_changes(told, "Sam").weighed_anew == 1
        assert find_changes(told, "Sam", keep=True).kept == 1
        again = find_changes(told, "Sam")
        assert (again.weighed_anew, moved(again)) == (0, ["thrust-growth"])

    def test_what_was_seen_is_no_longer_listed_and_the_next_move_counts_from_there(
        self, told: Catalogue
    ) -> None:
        add_later_study(told)
        find_changes(told, "Sam", seen=True)
        assert moved(find_changes(told, "Sam")) == []
        undo_change(told, None, "Sam")  # the study; looking is passed over
        assert moved(find_changes(told, "Sam")) == ["thrust-growth"]

    def test_keeping_weighs_what_was_never_weighed(self, stocked: Catalogue) -> None:
        for statement in statements_from_file(DEMO / "claims.yaml"):
            state_claim(stocked, statement, "Sam")
        assert find_changes(stocked, "Sam").never_weighed == len(KEYS)
        done = find_changes(stocked, "Sam", keep=True)
        assert (done.kept, done.never_weighed, done.claims) == (len(KEYS), 0, ())
        assert find_changes(stocked, "Sam").never_weighed == 0

    def test_since_a_change_or_a_day_is_told_against_what_held_then(
        self, told: Catalogue, clock: Any
    ) -> None:
        add_later_study(told)
        find_changes(told, "Sam", seen=True)
        assert moved(find_changes(told, "Sam", since="1")) == ["thrust-growth"]
        clock.at += timedelta(days=2)
        assert moved(find_changes(told, "Sam", since=(clock.at - timedelta(days=1)).date().isoformat())) == []

    @pytest.mark.parametrize("since", ["yesterday", "2026-13-01", ""])
    def test_a_day_that_is_none_is_refused(self, told: Catalogue, since: str) -> None:
        if since:
            with pytest.raises(BadInput):
                find_changes(told, "Sam", since=since)
        with pytest.raises(NotFound):
            find_changes(told, "Sam", since="99999")

    def test_rules_of_another_version_have_every_claim_weighed_again(self, told: Catalogue) -> None:
        with told.changing("Sam", "as if weighed by earlier rules") as session:
            for appraisal in appraisals(session):
                appraisal.versions = {**appraisal.versions, "rules": "0"}
        assert find_changes(told, "Sam").weighed_anew == len(KEYS)

    def test_a_new_name_for_an_exercise_moves_nothing(self, told: Catalogue) -> None:
        from evidence.catalogue.tables import OwnAlias

        with told.changing("Sam", "words add") as session:
            session.add(OwnAlias(kind="exercise", alias="booty bridge", target="hip_thrust", added_by="Sam"))
        assert find_changes(told, "Sam").weighed_anew == 0


class TestUses:
    def test_a_use_holds_until_its_claim_moves(self, told: Catalogue) -> None:
        assert [u.holds for u in list_uses(told)] == [True, True]
        retract_rack(told)
        assert {u.key: u.holds for u in list_uses(told)} == {
            "standing-calf-growth": False,
            "thrust-growth": True,
        }

    def test_the_uses_of_a_reference_are_those_of_claims_that_leaned_on_it(self, told: Catalogue) -> None:
        assert [u.key for u in list_uses(told, "rack2016")] == ["standing-calf-growth"]
        assert list_uses(told, "anvil2019") == ()

    def test_a_source_that_was_named_no_longer_holds_when_it_is_retracted(self, told: Catalogue) -> None:
        with told.reading() as session:
            reference = reference_by_key(session, "rack2016")
        register_use(told, "source list", "s.md", "Sam", references=[reference], place="s.md")
        retract_rack(told)
        (use,) = find_changes(told, "Sam").uses
        assert (use.about, use.key, use.holds) == ("reference", "rack2016", False)

    def test_a_notice_that_was_seen_is_not_told_again_and_a_later_one_is(self, told: Catalogue) -> None:
        with told.reading() as session:
            reference = reference_by_key(session, "rack2016")
        register_use(told, "source list", "s.md", "Sam", references=[reference], place="s.md")
        retract_rack(told)
        (use,) = find_changes(told, "Sam", seen=True).uses
        assert [m.kind for m in use.moves] == [MoveKind.NOTICE]
        assert find_changes(told, "Sam").uses == ()
        (line,) = [u for u in list_uses(told) if u.about == "reference"]
        assert (line.holds, line.told) == (False, reference.title)
        with told.changing("Sam", "notice") as session:
            row = reference_by_key(session, "rack2016")
            row.notice = "expression of concern"
            session.add(row)
        assert len(find_changes(told, "Sam").uses) == 1

    def test_of_a_study_only_changes_of_what_a_claim_asks_are_named_as_causes(self, told: Catalogue) -> None:
        def change(region: str, **values: object) -> None:
            with told.changing("Sam", f"mend {region}") as session:
                study = study_by_key(session, "rack-2016")
                wanted = select(Result).where(Result.study_id == study.id, Result.region == region)
                rows = session.exec(wanted).all()
                for row in rows:
                    for name, value in values.items():
                        setattr(row, name, value)
                    session.add(row)

        with told.reading() as session:
            study = study_by_key(session, "rack-2016")
            found = session.exec(select(Result).where(Result.study_id == study.id)).all()
            regions = sorted({str(r.region) for r in found})
        assert "soleus" in regions
        other = next(r for r in regions if r != "soleus")
        change("soleus", spread=40.0)
        change(other, spread=90.0)
        change(other, verified_by="Ada")
        changes = {c.key: c for c in find_changes(told, "Sam").claims}
        numbers = {n for c in changes["standing-calf-growth"].causes for n in c.changes}
        with told.reading() as session:
            actions = {get_change(session, number).action for number in numbers}
        assert f"mend {other}" in actions and "mend soleus" not in actions

    def test_what_was_written_to_the_same_place_again_is_replaced(self, told: Catalogue) -> None:
        retract_rack(told)
        now = weigh_and_keep(told, "standing-calf-growth", "Sam")
        register_use(told, "programme", "plan.html", "Sam", place="plan.html", weighings=[now])
        assert [(u.replaced, u.holds) for u in list_uses(told, "standing-calf-growth")] == [
            (True, False),
            (False, True),
        ]
        assert find_changes(told, "Sam").claims[0].uses[0].holds

    def test_a_key_of_nothing_is_told_with_the_nearest(self, told: Catalogue) -> None:
        with pytest.raises(NotFound, match="rack2016"):
            list_uses(told, "rack2017")


class TestCorrections:
    def test_a_note_says_what_was_told_what_holds_now_why_and_what_to_do(self, told: Catalogue) -> None:
        retract_rack(told)
        (note,) = correction_notes(find_changes(told, "Sam"))
        text = note_markdown(note)
        for part in (
            "# Correction: programme plan.html",
            "It said: Growth",
            "Now: No study",
            "retracted",
            "To do: Take",
        ):
            assert part in text
        assert "INVENTED" in text

    def test_notes_are_not_written_over_unasked(self, told: Catalogue, tmp_path: Path) -> None:
        retract_rack(told)
        notes = correction_notes(find_changes(told, "Sam"))
        (path,) = write_notes(notes, tmp_path / "notes")
        with pytest.raises(BadInput, match="--replace"):
            write_notes(notes, tmp_path / "notes")
        assert write_notes(notes, tmp_path / "notes", replace=True) == (path,)

    def test_a_name_with_markup_is_shown_as_text(self, told: Catalogue) -> None:
        weighing = weigh(told, "standing-calf-growth")
        register_use(told, "article", "# <b>x</b> [y](z)", "Sam", weighings=[weighing])
        retract_rack(told)
        texts = [note_markdown(n) for n in correction_notes(find_changes(told, "Sam"))]
        assert not any("<b>" in text for text in texts)


class TestReview:
    def test_nothing_is_due_at_first_and_the_next_dates_are_told(self, told: Catalogue) -> None:
        found = find_due(told)
        assert found.due == ()
        assert found.coming[0].due == add_months(found.today, 12)

    def test_age_makes_a_claim_due_by_its_level(self, told: Catalogue, clock) -> None:
        clock.at += timedelta(days=366)
        due = {d.key: d.reasons[0].signal for d in find_due(told).due}
        assert set(due.values()) == {"U8"}
        assert "standing-calf-growth" in due
        levels = {d.level for d in find_due(told).due}
        assert levels == {"low", "very low"}

    def test_what_most_rests_on_comes_first(self, told: Catalogue, clock) -> None:
        clock.at += timedelta(days=366)
        found = find_due(told).due
        assert [d.rests for d in found] == sorted((d.rests for d in found), reverse=True)
        assert found[0].published == 1

    def test_a_retraction_is_due_at_once_and_a_correction_in_a_fortnight(
        self, told: Catalogue, clock
    ) -> None:
        with told.changing("Sam", "notice") as session:
            reference_by_key(session, "rack2016").notice = "corrected"
        assert find_due(told).due == ()
        clock.at += timedelta(days=15)
        assert {r.signal for d in find_due(told).due for r in d.reasons} == {"U2"}
        retract_rack(told)
        assert "U1" in {r.signal for d in find_due(told).due for r in d.reasons}

    def test_a_review_settles_what_was_due_and_can_be_undone(self, told: Catalogue) -> None:
        retract_rack(told)
        due = [d.key for d in find_due(told).due]
        assert "standing-calf-growth" in due
        done = mark_reviewed(told, "standing-calf-growth", "Kim", "looked")
        assert done.next_review == add_months(told.now().date(), 12)
        assert "standing-calf-growth" not in [d.key for d in find_due(told).due]
        assert moved(find_changes(told, "Sam")) == []
        undo_change(told, None, "Sam")
        assert "standing-calf-growth" in [d.key for d in find_due(told).due]

    def test_a_day_that_was_set_holds_and_must_lie_ahead(self, told: Catalogue, clock) -> None:
        with pytest.raises(BadInput, match="ahead"):
            mark_reviewed(told, "thrust-growth", "Kim", next_review=date(2020, 1, 1))
        mark_reviewed(told, "thrust-growth", "Kim", next_review=told.now().date() + timedelta(days=10))
        clock.at += timedelta(days=11)
        assert [d.key for d in find_due(told).due] == ["thrust-growth"]
        assert find_due(told).due[0].reviewed_by == "Kim"

    @pytest.mark.parametrize(
        ("day", "months", "later"),
        [
            (date(2026, 1, 31), 1, date(2026, 2, 28)),
            (date(2024, 2, 29), 12, date(2025, 2, 28)),
            (date(2026, 12, 31), 24, date(2028, 12, 31)),
        ],
    )
    def test_months_end_where_the_month_ends(self, day: date, months: int, later: date) -> None:
        assert add_months(day, months) == later


class TestReadingList:
    def test_little_confidence_and_much_published_come_first(self, told: Catalogue) -> None:
        found = list_reading(told)
        assert [w.score for w in found.wishes] == sorted((w.score for w in found.wishes), reverse=True)
        assert found.wishes[0].key == "thrust-growth"
        assert "rule of thumb" in found.how

    def test_a_wish_says_what_to_look_for(self, told: Catalogue) -> None:
        wish = {w.key: w for w in list_reading(told).wishes}["thrust-growth"]
        for part in ("hip thrust against", "gluteus maximus", "muscle growth measured", "lot, over weeks"):
            assert part in wish.look_for
        assert any("stands in" in need for need in wish.needs)

    def test_the_list_is_as_long_as_asked(self, told: Catalogue) -> None:
        assert len(list_reading(told, 2).wishes) == 2


def test_many_claims_weigh_as_each_alone(told: Catalogue) -> None:
    vocabulary = load_vocabulary()
    for weighing in weigh_many(told, KEYS, vocabulary):
        alone = weigh(told, weighing.claim.key, vocabulary)
        assert (weighing.inputs_hash, weighing.notes, weighing.wordings) == (
            alone.inputs_hash,
            alone.notes,
            alone.wordings,
        )


def rows_of(session, study_id):
    from sqlmodel import select

    from evidence.catalogue.tables import Result

    return session.exec(select(Result).where(Result.study_id == study_id)).all()


def appraisals(session):
    from sqlmodel import select

    from evidence.catalogue.tables import Appraisal

    return session.exec(select(Appraisal)).all()
