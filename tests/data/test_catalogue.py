"""The catalogue rows against published groupings and figures, and against what the planner needs of them."""

from __future__ import annotations

import copy
from collections import Counter
from functools import cache

import pytest
from pydantic import ValidationError

from scheduler.data import load_catalogue
from scheduler.domain.catalogue import Catalogue, Caution, Exercise

# The seven major muscle groups of public-health guidance: WHO 2020 (Bull et al., Br J Sports Med 54:1451-62) asks for
# "all major muscle groups"; the CDC lists legs, hips, back, abdomen, chest, shoulders and arms.
SEVEN_GROUPS = ("legs", "hips", "back", "abdomen", "chest", "shoulders", "arms")
ZONE_REPS = (5, 10, 15)
HOMES = ("home_dumbbells", "home_bodyweight", "garage_rack")
# Burke et al. (preprint 419): these six, 4 sets of 10 reps each, 2-minute rests, mean 69 min done straight.
BURKE = ("lat_pulldown", "barbell_bench_press", "lying_leg_curl", "leg_extension", "barbell_curl", "cable_pushdown")


@cache
def catalogue() -> Catalogue:
    return load_catalogue()


def possible_at(place: str) -> list[Exercise]:
    there = set(catalogue().places[place].equipment)
    return [row for row in catalogue().exercises.values() if set(row.equipment) <= there]


def test_size_of_the_catalogue() -> None:
    assert len(catalogue().muscles) >= 18
    assert len(catalogue().exercises) >= 120


def test_seven_groups_partition_all_muscles_and_none_is_empty() -> None:
    groups = catalogue().groups
    assert tuple(groups)[:7] == SEVEN_GROUPS
    times = Counter(muscle for key in SEVEN_GROUPS for muscle in groups[key].muscles)
    assert set(times) == set(catalogue().muscles)
    assert set(times.values()) == {1}
    for key in SEVEN_GROUPS:
        assert groups[key].muscles
        assert {catalogue().muscles[muscle].group for muscle in groups[key].muscles} == {key}


def test_no_group_lists_a_muscle_twice_and_no_two_rows_share_a_name() -> None:
    for group in catalogue().groups.values():
        assert len(set(group.muscles)) == len(group.muscles)
    known = catalogue()
    for rows in (known.muscles, known.groups, known.patterns, known.equipment, known.exercises, known.kinds):
        assert len({row.name for row in rows.values()}) == len(rows)


def test_trapezius_parts_carry_their_anatomical_names() -> None:
    # Anatomy: pars descendens is the upper, pars transversa the middle, pars ascendens the lower part.
    for part, latin in (("upper", "descendens"), ("middle", "transversa"), ("lower", "ascendens")):
        name = catalogue().muscles[f"trapezius_{part}"].name
        assert part in name.lower()
        assert f"pars {latin}" in name


def test_every_muscle_is_trained_directly_by_at_least_two_exercises() -> None:
    times = Counter(muscle for row in catalogue().exercises.values() for muscle in row.direct)
    assert {muscle: times[muscle] for muscle in catalogue().muscles if times[muscle] < 2} == {}


def test_direct_muscles_stay_few() -> None:
    assert {key for key, row in catalogue().exercises.items() if len(row.direct) > 3} == set()


def test_every_pattern_has_at_least_two_exercises() -> None:
    times = Counter(row.pattern for row in catalogue().exercises.values())
    assert {pattern for pattern in catalogue().patterns if times[pattern] < 2} == set()


def test_antagonists_are_mutual() -> None:
    patterns = catalogue().patterns
    for key, pattern in patterns.items():
        if pattern.antagonist is not None:
            assert pattern.antagonist != key
            assert patterns[pattern.antagonist].antagonist == key


def test_every_exercise_fits_a_rep_zone() -> None:
    unfit = {
        key
        for key, row in catalogue().exercises.items()
        if not any(row.reps.least <= reps <= row.reps.most for reps in ZONE_REPS)
    }
    assert unfit == set()


def test_main_work_of_every_pattern_in_a_full_gym() -> None:
    times = Counter(row.pattern for row in possible_at("full_gym") if not row.substitute)
    assert {pattern: times[pattern] for pattern in catalogue().patterns if times[pattern] < 2} == {}


def test_main_work_for_every_muscle_in_a_full_gym() -> None:
    trained = {muscle for row in possible_at("full_gym") if not row.substitute for muscle in row.direct}
    assert trained == set(catalogue().muscles)


def test_what_hangs_on_bands_straps_or_nothing_loadable_is_seldom_main_work() -> None:
    for key, row in catalogue().exercises.items():
        if {"bands", "suspension_trainer"} & set(row.equipment):
            assert row.substitute, key
    main = {key for key, row in catalogue().exercises.items() if row.loaded_by is None and not row.substitute}
    assert main == {
        "pull_up", "neutral_grip_pull_up", "chin_up", "dip", "push_up_plus", "wall_toe_raise", "back_extension",
        "hanging_knee_raise", "hanging_leg_raise", "plank", "side_plank", "ab_wheel_rollout",
    }  # fmt: skip


def test_heavy_sets_of_five_are_for_loaded_work_over_several_joints() -> None:
    hung = {"pull_up", "neutral_grip_pull_up", "chin_up", "dip"}  # the whole body is the load
    for key, row in catalogue().exercises.items():
        if row.reps.least <= ZONE_REPS[0]:
            assert not row.substitute, key
            assert row.joints == "multi", key
            assert row.loaded_by is not None or key in hung, key
            assert not row.pattern.startswith("trunk"), key


def test_main_work_of_one_joint_starts_at_eight_reps() -> None:
    for key, row in catalogue().exercises.items():
        if row.joints == "single" and not row.substitute and not row.pattern.startswith("trunk"):
            assert row.reps.least >= 8, key


def test_no_light_sets_of_heavy_pulls() -> None:
    for key, row in catalogue().exercises.items():
        if row.pattern == "hinge" and row.loaded_by in ("barbell", "trap_bar"):
            assert row.reps.most < ZONE_REPS[2], key


def test_squat_shares() -> None:
    # Kubo et al. 2019 (Eur J Appl Physiol 119:1933-42): full squats grew quads, glutes and adductors; no growth of
    # the hamstrings.
    squats = [row for row in catalogue().exercises.values() if row.pattern == "squat"]
    for row in squats:
        assert {"quads", "glutes", "adductors"} <= set(row.direct), row.name
        assert "hamstrings" not in row.direct + row.indirect, row.name


def test_fractional_count_of_burkes_six_exercises() -> None:
    # 4 sets x 2 days with an indirect set counted half (Pelland et al. 2024): biceps and triceps 8 direct and 12
    # counted, lats, chest, quads and hamstrings 8. A group counts a set once.
    sets = 8
    rows = [catalogue().exercises[key] for key in BURKE]

    def counted(target: str) -> float:
        members = set(catalogue().members(target))
        shares = [1.0 if members & set(row.direct) else 0.5 if members & set(row.indirect) else 0.0 for row in rows]
        return sets * sum(shares)

    assert {target: counted(target) for target in ("biceps", "triceps")} == {"biceps": 12, "triceps": 12}
    for target in ("lats", "chest", "quads", "hamstrings"):
        assert counted(target) == 8


def test_minutes_of_burkes_session() -> None:
    rows = [catalogue().exercises[key] for key in BURKE]
    assert sum(row.setup_seconds for row in rows) == 6 * 90
    seconds = sum(row.setup_seconds + 4 * (10 * row.seconds_per_rep + 120) for row in rows)
    assert seconds == 69 * 60


def test_lats_get_adduction_and_extension() -> None:
    rows = [row for row in catalogue().exercises.values() if "lats" in row.direct]
    assert {row.plane for row in rows} == {"adduction", "extension"}
    for row in catalogue().exercises.values():
        if row.plane is not None:
            assert "lats" in row.direct
    for row in rows:
        if row.pattern == "vertical_pull":
            assert (row.plane == "adduction") == (row.grip == "pronated"), row.name
        else:
            assert row.plane == "extension", row.name


def test_pulls_from_the_floor_are_lower_body_and_pulls_from_height_are_not() -> None:
    exercises = catalogue().exercises
    for row in exercises.values():
        if row.from_floor:
            assert row.lower_body
            assert row.pattern == "hinge"
    assert exercises["conventional_deadlift"].from_floor
    assert not exercises["romanian_deadlift"].from_floor
    assert exercises["romanian_deadlift"].lower_body
    for key in ("rack_pull", "block_pull"):
        assert not exercises[key].lower_body
        assert not exercises[key].from_floor
        assert "erectors" in exercises[key].direct
        assert exercises[key].lower_back_load == 2


def test_trunk_extension_can_stand_in_on_any_day() -> None:
    for row in catalogue().exercises.values():
        if row.pattern == "trunk_extension":
            assert "erectors" in row.direct
            assert row.supported
            assert row.lower_back_load <= 1
            assert not row.lower_body
    for key in ("full_body", "lower", "legs", "pull", "back_day", "upper"):
        assert "trunk_extension" in catalogue().kinds[key].patterns


def test_heavy_lower_back_work_is_flagged() -> None:
    for row in catalogue().exercises.values():
        if row.lower_back_load == 2:
            assert {Caution.LOWER_BACK, Caution.PREGNANCY} <= set(row.cautions)
        if not row.supported:
            assert row.lower_back_load >= 1


def test_every_loaded_exercise_hangs_on_loadable_equipment() -> None:
    for key, row in catalogue().exercises.items():
        loadable = [item for item in row.equipment if catalogue().equipment[item].loadable]
        if not row.name.startswith("Inverted row"):  # there the bar in the rack is only held on to
            assert (row.loaded_by in loadable) == bool(loadable), key
    for item in catalogue().equipment.values():
        assert item.loadable == (item.heaviest_kg is not None) == (item.step_kg is not None)


def test_whatever_stands_in_a_gym_is_used() -> None:
    used = {item for row in catalogue().exercises.values() for item in row.equipment}
    assert used == set(catalogue().equipment)


@pytest.mark.parametrize(
    "muscle",
    [
        "lats", "pectorals_lower", "pectorals_upper", "glutes", "quads", "hamstrings", "side_delts", "rear_delts",
        "triceps", "biceps", "rotator_cuff", "erectors",
    ],
)  # fmt: skip
def test_a_light_activation_exercise_exists(muscle: str) -> None:
    rows = [row for row in catalogue().exercises.values() if row.activation and muscle in row.direct]
    assert any(not row.substitute for row in rows)
    for row in rows:
        # A few back extensions without weight, light, are the usual way to wake the erectors.
        assert row.lower_back_load == 0 or (row.pattern == "trunk_extension" and row.loaded_by is None), row.name


@pytest.mark.parametrize("place", [*HOMES, "full_gym", "small_gym", "hotel_gym"])
def test_each_place_trains_each_of_the_seven_groups(place: str) -> None:
    trained = {catalogue().muscles[muscle].group for row in possible_at(place) for muscle in row.direct}
    assert trained == set(SEVEN_GROUPS)


def test_the_full_gym_leaves_no_exercise_out() -> None:
    assert len(possible_at("full_gym")) == len(catalogue().exercises)


def test_kinds_hold_what_they_require() -> None:
    for key, kind in catalogue().kinds.items():
        assert set(kind.required) <= set(kind.patterns), key
        assert len(set(kind.patterns)) == len(kind.patterns), key
        for pattern in kind.patterns:
            rows = [row for row in catalogue().exercises.values() if row.pattern == pattern]
            assert kind.lower_body or any(not row.lower_body for row in rows), (key, pattern)
    assert set(catalogue().kinds["back_day"].required) == {"vertical_pull", "horizontal_pull"}


@pytest.mark.parametrize("caution", list(Caution))
def test_every_split_can_be_met_in_a_full_gym_under_a_caution(caution: Caution) -> None:
    for key, kind in catalogue().kinds.items():
        for pattern in kind.required:
            assert any(
                row.pattern == pattern
                and caution not in row.cautions
                and not row.substitute
                and (kind.lower_body or not row.lower_body)
                for row in catalogue().exercises.values()
            ), (key, pattern)


@pytest.mark.parametrize("place", HOMES)
@pytest.mark.parametrize("kind", ["full_body", "upper", "lower", "push", "pull", "legs", "back_day"])
def test_common_splits_can_be_met_at_home(place: str, kind: str) -> None:
    there = {row.pattern for row in possible_at(place)}
    assert set(catalogue().kinds[kind].required) <= there


@pytest.mark.parametrize(
    ("part", "row", "field", "value"),
    [
        ("muscles", "lats", "group", "nowhere"),
        ("groups", "back", "muscles", ["nowhere"]),
        ("patterns", "squat", "antagonist", "nowhere"),
        ("exercises", "lat_pulldown", "direct", ["nowhere"]),
        ("exercises", "lat_pulldown", "indirect", ["nowhere"]),
        ("exercises", "lat_pulldown", "pattern", "nowhere"),
        ("exercises", "barbell_back_squat", "equipment", ["barbell", "rack", "nowhere"]),
        ("exercises", "lat_pulldown", "loaded_by", "barbell"),
        ("kinds", "full_body", "required", ["nowhere"]),
        ("places", "full_gym", "equipment", ["nowhere"]),
        ("exercises", "lat_pulldown", "nowhere", 1),
    ],
)
def test_an_unknown_name_is_rejected(part: str, row: str, field: str, value: object) -> None:
    raw = copy.deepcopy(catalogue().model_dump(mode="json"))
    Catalogue.model_validate(raw)
    raw[part][row][field] = value
    with pytest.raises(ValidationError, match=r"nowhere|loaded_by|lists|does not list"):
        Catalogue.model_validate(raw)
