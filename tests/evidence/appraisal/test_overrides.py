"""A person's choices: both figures stay, and stale ones say so."""

import pytest

from evidence.appraisal.confidence import rate
from evidence.appraisal.levels import Level
from evidence.appraisal.overrides import Override, apply_override
from evidence.errors import BadInput


def choose(confidence, domain="indirectness", chosen="-1", reason="Older people only.", **changes):
    values = {"person": "A. Reader", "date": "2026-02-03", "inputs_hash": confidence.inputs_hash}
    return Override(domain, chosen, reason, **(values | changes))


def test_a_choice_changes_the_level_and_keeps_the_proposal(body):
    proposed = rate(body())
    settled = apply_override(proposed, [choose(proposed)])
    assert proposed.level.rank - settled.level.rank == 1
    assert settled.proposed_level is proposed.level
    assert settled.domain("indirectness").proposed == 0
    assert settled.choices[0].chosen == "−1"
    assert not settled.choices[0].stale


def test_a_choice_on_other_inputs_still_holds_and_is_stale(body):
    before, after = rate(body()), rate(body(each={"n": 80, "bias": "high"}))
    settled = apply_override(after, [choose(before)])
    assert settled.choices[0].stale
    assert settled.level.rank < after.level.rank
    assert any("again" in note for note in settled.notes)


def test_a_choice_stays_fresh_while_its_own_domain_has_not_changed(body):
    before, after = rate(body()), rate(body(each={"bias": "high"}))
    kept = choose(before, inputs_hash=before.domain("indirectness").inputs_hash)
    assert not apply_override(after, [kept]).choices[0].stale


def test_the_overall_level_can_be_chosen(body):
    proposed = rate(body())
    settled = apply_override(proposed, [choose(proposed, "overall", "very low")])
    assert settled.level is settled.low is settled.high is Level.VERY_LOW
    assert settled.choices[0].proposed == str(proposed.level)


@pytest.mark.parametrize(
    ("domain", "chosen", "reason"),
    [
        ("indirectness", "-1", " "),
        ("indirectness", "-4", "x"),
        ("indirectness", "1", "x"),
        ("indirectness", "red", "x"),
        ("overall", "splendid", "x"),
        ("weather", "-1", "x"),
    ],
)
def test_a_choice_without_reason_or_meaning_is_refused(body, domain, chosen, reason):
    proposed = rate(body())
    with pytest.raises(BadInput):
        apply_override(proposed, [choose(proposed, domain, chosen, reason)])
