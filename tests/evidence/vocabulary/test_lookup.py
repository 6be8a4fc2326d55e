"""Names are found when they are clear, and asked about when they are not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.vocabulary import load_vocabulary
from evidence.vocabulary.names import key_of, words_of

V = load_vocabulary()

# Names as written in public programmes and papers; which exercise is meant is common practice, no source.
CLEAR = {
    "Back squat": "back_squat",
    "back squats": "back_squat",
    "RDL": "rdl",
    "DB RDL": "rdl",
    "Bulgarians": "rfess",
    "Bulgarian split-squat": "rfess",
    "Step-ups": "step_up",
    "Step-up (DB)": "step_up",
    "pullups": "pull_up",
    "Pull Ups": "pull_up",
    "Trap bar DL": "trap_bar_deadlift",
    "hex bar deadlift": "trap_bar_deadlift",
    "KB swings": "kettlebell_swing",
    "Romainian deadlift": "rdl",
    "Nordic": "nordic_curl",
    "single leg RDL": "single_leg_rdl",
    "1-leg RDL": "single_leg_rdl",
    "Seated leg curl machine": "seated_leg_curl",
    "Paused front squat": "front_squat",
    # printed in Lehman et al. 2004, Dynamic Medicine 3:4
    "wide-grip pulldown (pronated)": "lat_pulldown",
    "reverse-grip pulldown (supinated)": "lat_pulldown_supinated",
    "seated row, scapulae not retracted": "seated_cable_row",
    "seated row, scapulae retracted": "seated_cable_row",
    # printed in Mendez-Villanueva et al. 2016, PLoS ONE 11(9):e0161356
    "Flywheel leg curl": "flywheel_leg_curl",
    "Nordic hamstring": "nordic_curl",
    "Russian belt deadlift": "russian_belt_deadlift",
}

# Texts that fit more than one exercise, or an exercise with a difference that matters: a person is asked.
UNSURE = [
    "GM", "CP", "SLC", "SS", "CR", "PU", "Calves", "calf raise", "Row", "kickback", "Seated curl",
    "Cable Romanian deadlift", "Smith machine hip thrust", "underhand front squat", "B-stance hip thrust",
    "front squat hold", "French press",
]  # fmt: skip


@pytest.mark.parametrize(("text", "exercise"), CLEAR.items())
def test_a_clear_name_is_matched(text: str, exercise: str) -> None:
    found = V.find_exercise(text)
    assert (found.outcome, found.match) == ("match", exercise), found


@pytest.mark.parametrize("text", UNSURE)
def test_an_unsure_name_gives_candidates_and_no_guess(text: str) -> None:
    found = V.find_exercise(text)
    assert found.outcome in {"ambiguous", "none"}
    assert found.match is None
    assert found.candidates or found.other or found.outcome == "none"


def test_readings_outside_the_vocabulary_are_named() -> None:
    assert "superset" in V.find_exercise("SS").other


def test_details_that_a_match_does_not_use_are_kept() -> None:
    assert V.find_exercise("seated row, scapulae retracted").unused == ("scapulae", "retracted")
    assert V.find_region("left vastus lateralis").unused == ("left",)


def test_a_general_word_is_matched_by_habit_and_says_so() -> None:
    found = V.find_exercise("Squat")
    assert found.match == "back_squat"
    assert found.broad
    assert not V.find_exercise("Hip thrust").broad
    assert V.find_exercise("LP").broad


REGIONS = {
    "latissimus dorsi": "latissimus_dorsi",
    "Quads": "quadriceps_femoris",
    "VL": "vastus_lateralis",
    "VL (50%)": "vastus_lateralis",
    "BFlh": "biceps_femoris_long",
    "Biceps femoris (long head)": "biceps_femoris_long",
    "upper gluteus maximus": "gluteus_maximus_upper",
    "Calves": "triceps_surae",
    "rectus femmoris": "rectus_femoris",
    "deltoids": "deltoid",
    "medial gastrocnemius": "gastrocnemius_medial",
    "musculus soleus": "soleus",
}


@pytest.mark.parametrize(("text", "region"), REGIONS.items())
def test_a_clear_region_is_matched(text: str, region: str) -> None:
    assert V.find_region(text).match == region


@pytest.mark.parametrize(
    ("text", "candidates"),
    [
        ("GM", {"gluteus_maximus", "gluteus_medius", "gastrocnemius_medial"}),
        ("glutes", {"gluteals", "gluteus_maximus"}),
        ("middle trapezius/rhomboids", {"trapezius_transverse", "rhomboids"}),
        ("gluteus medius+minimus", {"gluteus_medius", "gluteus_minimus"}),
        ("external/internal oblique", {"external_oblique", "internal_oblique"}),
        ("long head", {"biceps_brachii_long", "triceps_long", "biceps_femoris_long"}),
    ],
)
def test_a_region_with_several_holders_is_asked_about(text: str, candidates: set[str]) -> None:
    found = V.find_region(text)
    assert found.outcome == "ambiguous"
    assert {c.id for c in found.candidates} == candidates


def test_a_measurement_site_is_no_region() -> None:
    assert V.find_region("proximal").match is None


@pytest.mark.parametrize(
    ("text", "construct"),
    [
        ("sEMG", "activation"),
        ("1RM", "strength"),
        ("muscle thickness", "hypertrophy"),
        ("growth", "hypertrophy"),
    ],
)
def test_a_construct_is_found_by_its_name_or_its_instrument(text: str, construct: str) -> None:
    assert V.find_construct(text).match == construct


def test_a_training_status_that_is_no_level_is_asked_about() -> None:
    assert (
        V.find_training_status("well-trained").outcome == "ambiguous"
    )  # Pereira 2016: a title is not a level
    assert V.find_training_status("recreationally trained").match == "recreational"


@given(st.sampled_from(sorted(V.exercises)), st.sampled_from([str.upper, str.title, str.lower]))
def test_an_id_with_other_case_and_spacing_finds_its_own_exercise(exercise: str, change) -> None:  # type: ignore[no-untyped-def]
    assert V.find_exercise(change(exercise.replace("_", "-"))).match == exercise


@given(st.sampled_from(sorted(V.exercises)))
def test_a_standard_name_is_never_matched_to_another_exercise(exercise: str) -> None:
    assert V.find_exercise(V.exercises[exercise].name).match in {exercise, None}


@given(st.text(max_size=60))
def test_any_text_gets_an_answer_whose_match_is_among_its_candidates(text: str) -> None:
    for find in (V.find_exercise, V.find_region, V.find_construct):
        found = find(text)
        assert (found.match is not None) == (found.outcome == "match")
        assert found.match is None or found.match in {c.id for c in found.candidates}


@given(st.text(max_size=40))
def test_words_of_a_text_are_stable(text: str) -> None:
    assert key_of(" ".join(words_of(text))) == key_of(text) or words_of(" ".join(words_of(text))) != ()


def test_a_sentence_is_no_name_and_costs_no_time() -> None:
    found = V.find_exercise("back squat " * 5000)
    assert found.outcome == "none"


# Words of the trade for the lower body; which muscle is meant is common practice, no source.
COMMON_REGIONS = {
    "Vastus lat.": "vastus_lateralis",
    "Bíceps femoral": "biceps_femoris",
    "Front of thigh": "quadriceps_femoris",
    "back of the thigh": "hamstrings",
    "Knee flexors": "hamstrings",
    "knee extensors": "quadriceps_femoris",
    "Hip adductors": "adductors",
    "plantar flexors": "triceps_surae",
    "Dorsiflexors": "tibialis_anterior",
    "Buttocks": "gluteals",
}
WIDE_REGIONS = {
    "Outer hip": "gluteus_medius",
    "hip abductors": "gluteus_medius",
    "Hip extensors": "gluteus_maximus",
    "Lower leg": "triceps_surae",
    "Outer thigh": "vastus_lateralis",
    "Vasti": "quadriceps_femoris",
}


@pytest.mark.parametrize(("text", "region"), COMMON_REGIONS.items())
def test_a_common_word_for_a_part_of_the_leg_names_it(text: str, region: str) -> None:
    assert V.find_region(text).match == region


@pytest.mark.parametrize(("text", "first"), WIDE_REGIONS.items())
def test_a_wide_word_for_a_part_of_the_leg_is_asked_about_with_the_likely_one_first(
    text: str, first: str
) -> None:
    found = V.find_region(text)
    assert found.outcome == "ambiguous" and found.candidates[0].id == first


@pytest.mark.parametrize(("general", "variant"), [("leg press", "45"), ("lat pulldown", "pronated")])
def test_a_general_name_is_not_told_as_one_of_its_variants(general: str, variant: str) -> None:
    found = V.find_exercise(general)
    assert found.match and V.exercises[found.match].name == general
    assert variant not in V.exercises[found.match].name


def test_a_variant_named_in_full_is_that_variant_of_the_general_one() -> None:
    assert V.find_exercise("leg presses").match == "leg_press"
    for text in ("45-degree leg press", "leg press (45 degree)", "incline leg press"):
        assert V.find_exercise(text).match == "leg_press_45", text
    assert V.exercises["leg_press_45"].parent == "leg_press"


def test_an_implement_alone_is_no_exercise_and_an_angle_is_not_guessed() -> None:
    assert V.find_exercise("kettlebell").match is None
    assert V.find_exercise("hyperextension").outcome == "ambiguous"
    assert V.find_exercise("45 degree hyperextension").match == "back_extension_45"


@pytest.mark.parametrize(("text", "near"), [("legpres", "leg_press"), ("hipthurst", "hip_thrust")])
def test_a_misspelt_name_is_answered_with_the_nearest_and_not_guessed(text: str, near: str) -> None:
    found = V.find_exercise(text)
    assert found.match is None and near in [c.id for c in found.candidates], found


def test_a_misspelt_region_is_answered_with_the_nearest() -> None:
    assert V.find_region("quadricpes").candidates[0].id == "quadriceps_femoris"


@pytest.mark.parametrize(
    ("name", "among"),
    [
        ("forearm", {"forearm_flexors", "forearm_extensors", "brachioradialis"}),
        ("forearms", {"forearm_flexors", "forearm_extensors", "brachioradialis"}),
        ("upper arms", {"elbow_flexors", "triceps_brachii"}),
        ("arms", {"upper_limb", "elbow_flexors", "triceps_brachii"}),
        ("legs", {"lower_limb"}),
        ("glutes", {"gluteals", "gluteus_maximus"}),
        ("core", {"abdominal_wall", "trunk"}),
        ("hips", {"gluteals", "iliopsoas"}),
        ("thighs", {"quadriceps_femoris", "hamstrings", "adductors"}),
        ("mid back", {"rhomboids", "trapezius_transverse"}),
        ("upper back", {"trapezius", "rhomboids"}),
        ("erectors", {"erector_spinae"}),
        ("abductors", {"gluteus_medius", "gluteus_minimus", "tensor_fasciae_latae"}),
        ("posterior chain", {"hamstrings", "gluteus_maximus", "erector_spinae"}),
        ("upper body", {"upper_limb", "trunk"}),
        ("wrist flexors", {"forearm_flexors"}),
    ],
)
def test_an_everyday_name_of_a_group_is_asked_about_and_never_taken_for_one_muscle_of_it(
    name: str, among: set[str]
) -> None:
    found = load_vocabulary().find_region(name)
    assert found.outcome == "ambiguous"
    assert among <= {c.id for c in found.candidates}


@pytest.mark.parametrize(
    ("name", "region"),
    [
        ("calves", "triceps_surae"),
        ("back", "back"),
        ("shoulders", "deltoid"),
        ("elbow extensors", "triceps_brachii"),
        ("lower body", "lower_limb"),
        ("brachioradialis", "brachioradialis"),
    ],
)
def test_an_everyday_name_that_has_a_family_is_read_as_the_family(name: str, region: str) -> None:
    assert load_vocabulary().find_region(name).match == region
