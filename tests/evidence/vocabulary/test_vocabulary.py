"""The shipped data files hold together: ids, trees, sources, defaults."""

import math

import pytest

from evidence.errors import NotFound
from evidence.vocabulary import Exercise, OwnName, load_vocabulary, read_exercise

V = load_vocabulary()


def test_every_parent_and_region_named_exists() -> None:
    for region in V.regions.values():
        assert region.parent is None or region.parent in V.regions
        assert region.portion_of is None or region.portion_of in V.regions
    for exercise in V.exercises.values():
        assert set(exercise.primary) | set(exercise.secondary) <= set(V.regions)
        assert exercise.primary, exercise.id
        assert exercise.parent is None or exercise.parent in V.exercises


def test_every_entry_states_where_it_comes_from() -> None:
    assert all(entry.provenance for entry in (*V.regions.values(), *V.exercises.values()))
    sourced = (
        *V.correlations,
        *V.margins,
        *V.worthwhile,
        *V.size_scales,
        *V.measurement_errors,
        *V.cautions.values(),
    )
    assert all(entry.source for entry in sourced)
    assert all(
        exercise.provenance.endswith("parent: project")
        for exercise in V.exercises.values()
        if exercise.parent
    )


def test_shared_and_extra_names_point_to_known_entries() -> None:
    for kind, known in (("exercise", V.exercises), ("region", V.regions)):
        assert all(i in known for shared in V.shared_names[kind] for i in shared.ids)
        assert all(name.target in known for name in V.extra_names if name.kind == kind)


def test_the_trees_are_walked_both_ways() -> None:
    assert V.ancestors("biceps_femoris_long") == ("biceps_femoris", "hamstrings", "lower_limb")
    assert "biceps_femoris_long" in V.descendants("hamstrings")
    assert "hamstrings" not in V.descendants("hamstrings")
    family = V.exercise_family("high_bar_squat")
    assert family[0] == "back_squat"
    assert {"high_bar_squat", "low_bar_squat"} <= set(family)
    assert V.exercise_family("rfess")[0] == "split_squat"


def test_an_unknown_id_is_named_with_the_nearest() -> None:
    with pytest.raises(NotFound, match="vastus_lateralus") as caught:
        V.ancestors("vastus_lateralus")
    assert caught.value.hint is not None
    assert "vastus_lateralis" in caught.value.hint


def test_activation_is_acute_and_marked_as_a_surrogate() -> None:
    activation = V.constructs["activation"]
    assert activation.acute
    assert set(activation.surrogate_for) == {"hypertrophy", "strength"}
    assert activation.metric_within == "log_ratio_of_means"
    assert not V.constructs["hypertrophy"].acute
    assert V.constructs["pain"].better == "lower"


def test_the_six_ways_of_normalising_and_not_stated_are_there() -> None:
    # Besomi et al. 2020 (CEDE matrix): six approaches.
    assert len(V.normalisations) == 7
    assert V.find_normalisation("maximal voluntary contraction").match == "mvc_standard_isometric"


@pytest.mark.parametrize("design", V.designs.values(), ids=lambda d: d.id)
def test_each_design_states_pairing_and_start_level(design: object) -> None:
    assert design.pairing in {"within", "between", "none"}  # type: ignore[attr-defined]
    assert design.start in {"high", "low", "very low", ""}  # type: ignore[attr-defined]


def test_defaults_hold_the_figures_of_their_sources() -> None:
    # Swinton & Murphy, SportRxiv 202: 0.14 / 0.29 / 0.51 for two active programmes.
    scale = V.size_scales[0]
    assert (scale.small, scale.medium, scale.large) == (0.14, 0.29, 0.51)
    # Steele et al. 2023 open data: pooled pre-post correlation of training arms 0.685.
    assert V.default_correlation("power", "pre-post").default == 0.685
    # Hammarström et al. 2020 open data: correlation of the two legs' changes 0.61.
    assert V.default_correlation("hypertrophy", "between changes").default == 0.61
    assert V.default_correlation("activation", "between conditions").source.startswith("Steelyard's own")
    for entry in V.correlations:
        assert -1 <= entry.low <= entry.default <= entry.high <= 1
    with pytest.raises(NotFound, match="full moon"):
        V.default_correlation("activation", "full moon")


def test_margins_are_in_the_metric_they_name() -> None:
    margin = V.margin("activation", "log_ratio_of_means")
    assert margin is not None
    assert margin.margin == pytest.approx(math.log(1.10), abs=1e-15)
    injury = V.margin("injury", "log_risk_ratio")
    assert injury is not None
    assert injury.margin == pytest.approx(math.log(1.25), abs=1e-15)
    assert V.margin("pain", "mean_difference") is None


def test_units_are_told_apart_by_quantity() -> None:
    cm2, mm2 = V.find_unit("cm²"), V.find_unit("mm2")
    assert cm2 is not None
    assert mm2 is not None
    assert cm2.quantity == mm2.quantity
    assert mm2.factor / cm2.factor == 0.01
    pound = V.find_unit("lbs")
    assert pound is not None
    assert pound.factor == 0.45359237  # international pound, 1959
    assert V.find_unit("% MVIC") is V.units["%MVIC"]
    assert V.find_unit("furlong") is None


def test_cautions_are_called_up_by_whole_words() -> None:
    assert [c.id for c in V.cautions_for("Good for knee pain after surgery")] == ["pain_or_injury"]
    assert "pregnancy" in [c.id for c in V.cautions_for("training while pregnant")]
    assert V.cautions_for("a painstaking programme for hearty eaters") == ()
    assert "medical" in V.medical_disclaimer


def test_a_users_own_exercise_and_name_are_found_and_win() -> None:
    hinge = read_exercise({"id": "harbour_hinge", "name": "harbour hinge", "primary_regions": "hamstrings"})
    own = V.with_own(
        [hinge], [OwnName("exercise", "GM", "good_morning"), OwnName("exercise", "HHH", "harbour_hinge")]
    )
    assert own.find_exercise("Harbour hinge").match == "harbour_hinge"
    assert own.exercises["harbour_hinge"].origin == "own"
    assert own.find_exercise("HHH").match == "harbour_hinge"
    assert V.find_exercise("GM").outcome == "ambiguous"
    assert own.find_exercise("gm").match == "good_morning"


def test_an_own_entry_that_points_nowhere_is_refused() -> None:
    with pytest.raises(NotFound, match="no_such"):
        V.with_own([Exercise("x", "x", parent="no_such")])
    with pytest.raises(NotFound, match="no_such"):
        V.with_own([], [OwnName("region", "x", "no_such")])


def test_a_loop_among_own_exercises_ends() -> None:
    loop = V.with_own(
        [Exercise("a_one", "a one", parent="a_two"), Exercise("a_two", "a two", parent="a_one")]
    )
    assert loop.exercise_ancestors("a_one") == ("a_two", "a_one")
