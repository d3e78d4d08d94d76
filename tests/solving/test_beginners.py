"""Who begins gets the simple exercises first, and few sets of each.

Common practice. ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708), from memory: one to three sets of an
exercise for novices. Faigenbaum et al. 2009, from memory: youth begin with simple exercises.
"""

from __future__ import annotations

from typing import Any

import pytest

from scheduler import planning
from scheduler.answers.merge_patch import merge_patch
from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlannedSession, PlanStatus, Role

FULL_BODY: dict[str, Any] = {
    "week": {"start": "2026-11-30"},
    "lifter": {"status": "novice"},
    "places": {"gym": {"base": "full_gym"}},
    "openings": [{"day": ["mon", "wed", "fri"], "start": "18:00", "end": "19:30", "place": "gym"}],
    "kinds": {"full": {"base": "full_body", "per_week": 3}},
    "goals": {"legs": {}, "back": {}, "chest": {}, "shoulders": {}},
}
BEGINNERS = [{"status": "novice"}, {"status": "intermediate", "age_band": "under_18"}]


def brief(**patch: Any) -> Brief:
    return Brief.model_validate(merge_patch(FULL_BODY, patch))


def practised() -> set[str]:
    return {key for key, row in load_catalogue().exercises.items() if row.practised}


def offered(asked: Brief) -> set[str]:
    return {exercise for exercise, _, _ in planning.instance_of(asked).offers}


@pytest.mark.parametrize("lifter", BEGINNERS)
def test_what_asks_for_practice_is_not_offered_to_who_begins(lifter: dict[str, Any]) -> None:
    assert not practised() & offered(brief(lifter=lifter))
    main = {key for key in practised() if not load_catalogue().exercises[key].substitute}
    assert main <= offered(brief(lifter={"status": "intermediate", "age_band": None}))


def test_a_first_week_in_a_gym() -> None:
    """What a coach shows first: no dips, no straight-bar deadlift, no ab wheel; two or three sets of each."""
    plan = planning.solve(brief())
    assert plan.status is PlanStatus.OPTIMAL
    entries = [e for s in plan.sessions for e in s.entries if e.role is Role.MAIN]
    assert not {"weighted_dip", "dip", "conventional_deadlift", "ab_wheel_rollout", "pull_up"} & {
        e.exercise for e in entries
    }
    assert {e.sets for e in entries} <= {2, 3}


@pytest.mark.parametrize(
    "patch",
    [
        {"exercises": {"wanted": ["chin_up"]}},
        {"exercises": {"favourites": ["chin_up"]}},
        {"exercises": {"only": ["chin_up", "lat_pulldown"]}},
        {"pinned": [{"kind": "full", "exercises": [{"exercise": "chin_up"}]}]},
        {"lifter": {"lifts": [{"exercise": "chin_up", "load_kg": 5, "reps": 6}]}},
    ],
)
def test_what_the_brief_names_is_offered(patch: dict[str, Any]) -> None:
    assert "chin_up" in offered(brief(**patch))


def test_where_nothing_else_of_its_pattern_can_be_done_it_is_offered() -> None:
    """A bar to hang from and no floor to slide on: a pull-up is the only pull from above."""
    bar = {"gym": {"base": None, "equipment": ["pull_up_bar"]}}
    assert "pull_up" not in offered(brief(places=bar))
    assert "pull_up" in offered(brief(places=bar, exercises={"avoided": ["sliding_floor_pulldown"]}))


KITS = [["pull_up_bar"], ["dip_bars", "dip_belt"], ["barbell"], ["barbell", "rack"], ["barbell", "rack", "bench"]]
PLACES = [*({"base": base} for base in load_catalogue().places), *({"base": None, "equipment": kit} for kit in KITS)]


@pytest.mark.parametrize("lifter", BEGINNERS)
@pytest.mark.parametrize("place", PLACES)
def test_who_begins_can_do_every_pattern_that_others_can(place: dict[str, Any], lifter: dict[str, Any]) -> None:
    """What is kept for later and what stands in for it never shut each other out."""

    def patterns(asked: Brief) -> set[str]:
        return {load_catalogue().exercises[key].pattern for key in offered(asked)}

    others = patterns(brief(places={"gym": place}, lifter={"status": "intermediate", "age_band": None}))
    assert patterns(brief(places={"gym": place}, lifter=lifter)) == others


def test_a_novice_in_a_garage_has_a_week() -> None:
    assert planning.solve(brief(places={"gym": {"base": "garage_rack"}})).status is PlanStatus.OPTIMAL


def test_of_exercises_that_the_coach_chose_a_novice_may_have_more_sets() -> None:
    """One exercise a pattern and eight sets a session: what the brief asks goes before a default."""
    kind = {"patterns": ["vertical_pull", "horizontal_push"], "sets": {"least": 8, "most": 12}}
    week = brief(
        kinds={"full": kind | {"base": None, "minutes": {"least": 20, "most": 70}, "per_week": 2}},
        exercises={"only": ["lat_pulldown", "machine_chest_press"]},
        goals={"legs": None, "shoulders": None},
        rules={"stand_in": {"mode": "off"}},
    )
    assert planning.solve(week).status is PlanStatus.OPTIMAL


def test_a_plan_by_hand_may_hold_it() -> None:
    asked = brief(sessions=1, kinds={"full": {"per_week": 1}})
    entry = {"exercise": "pull_up", "name": "Pull-up", "sets": 3, "reps": 10, "zone": "moderate"}
    hand = {
        "kind": "full",
        "name": "Full body",
        "start": "2026-11-30T18:00:00+00:00",
        "end": "2026-11-30T19:00:00+00:00",
        "place": "gym",
        "entries": [entry | {"reps_in_reserve": 3, "rest_seconds": 120}],
    }
    rules = {r.rule: r for r in planning.check(asked, [PlannedSession.model_validate(hand)]).plan.rules}
    assert rules["equipment"].kept


@pytest.mark.parametrize(("sets", "most"), [(None, 3), (5, 5)])
def test_sets_of_a_novice(sets: int | None, most: int) -> None:
    """What a coach pins is the coach's word, and says nothing of other exercises."""
    pin = {"kind": "full", "exercises": [{"exercise": "barbell_back_squat"} | ({"sets": sets} if sets else {})]}
    novice = planning.instance_of(brief(pinned=[pin]))
    assert novice.sets_of("barbell_back_squat").most == most
    assert novice.sets_of("leg_press").most == novice.sets_per_exercise.most == 3
    more = planning.instance_of(brief(lifter={"status": "intermediate"}))
    assert more.sets_per_exercise.most == load_catalogue().default_range("sets_per_exercise").most
