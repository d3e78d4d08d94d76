"""The core of a week by an independent mixed-integer programme (HiGHS) reaches the same value in tier 1.

The briefs are invented; each pool is a handful of rows of the real catalogue. Wishes that the programme does not know
are switched off.
"""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlanStatus
from scheduler.planning import solve
from scheduler.rules import RULES
from tests.solving.milp import SWITCHED_OFF, solve_core, switched_off

PUSH = ["barbell_bench_press", "seated_dumbbell_press", "cable_pushdown"]
PULL = ["chin_up", "chest_supported_row", "barbell_curl"]
LEGS = ["barbell_back_squat", "romanian_deadlift", "lying_leg_curl", "standing_calf_raise"]
MEASURES_OFF = {rule.key: {"mode": "off"} for rule in RULES if rule.tier > 2}
"""The tiers from placement on are not what is looked at here."""


def core(**parts: Any) -> Brief:
    rules = {**switched_off(coverage={"lat_planes": False}, **parts.pop("rules", {})), **MEASURES_OFF}
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02", **parts.pop("week", {})},
            "places": {"gym": {"base": "full_gym"}, **parts.pop("places", {})},
            "rules": rules,
            **parts,
        }
    )


def opening(days: list[str], start: str, end: str, place: str = "gym") -> dict[str, Any]:
    return {"day": days, "start": start, "end": end, "place": place}


def split(**numbers: Any) -> dict[str, Any]:
    """Upper and lower, small enough for HiGHS."""
    pushes, pulls = ["horizontal_push", "vertical_push"], ["vertical_pull", "horizontal_pull"]
    upper = {
        "patterns": [*pushes, *pulls, "elbow_flexion", "elbow_extension"],
        "required": ["horizontal_pull"],
        "sets": {"least": 4, "most": 12},
        "minutes": {"least": 15, "most": 45},
        "per_week": 2,
    }
    lower = {
        "patterns": ["squat", "hinge", "knee_flexion", "calf_raise"],
        "required": ["squat"],
        "sets": {"least": 4, "most": 12},
        "minutes": {"least": 15, "most": 45},
        "lower_body": True,
        "per_week": 1,
    }
    return {"upper": {**upper, **numbers.get("upper", {})}, "lower": {**lower, **numbers.get("lower", {})}}


BRIEFS: dict[str, tuple[dict[str, Any], bool]] = {
    # brief, and whether weekly sets are left short
    "roomy": (
        {
            "openings": [opening(["mon", "wed", "fri"], "18:00", "19:00")],
            "kinds": split(),
            "sessions": 3,
            "goals": {"lats": {"aim": 6}, "quads": {"aim": 4}, "pectorals_lower": {"aim": 4}},
            "exercises": {"only": [*PUSH, *PULL, *LEGS]},
        },
        False,
    ),
    "too many goals for the minutes": (
        {
            "openings": [opening(["mon", "wed", "fri"], "18:00", "18:40")],
            "kinds": split(),
            "sessions": 3,
            "goals": {
                "lats": {"aim": 10, "priority": 1},
                "biceps": {"aim": 8, "priority": 3},
                "pectorals_lower": {"aim": 8},
                "quads": {"aim": 8, "priority": 2},
                "hamstrings": {"aim": 6},
                "arms": {"most": 12},
            },
            "exercises": {"only": [*PUSH, *PULL, *LEGS]},
        },
        True,
    ),
    "recovery forbids a second hit": (
        {
            "openings": [opening(["mon", "tue"], "18:00", "19:00")],
            "kinds": split(upper={"sets": {"least": 3, "most": 8}}, lower={"per_week": {"least": 0, "most": 0}}),
            "sessions": 2,
            "goals": {
                "lats": {"least": 8, "aim": 12, "most": 14},
                "pectorals_lower": {"aim": 8, "priority": 1, "recovery_hours": 72},
                "triceps": {"aim": 6, "recovery_hours": 0},
            },
            "exercises": {"only": [*PUSH, *PULL]},
        },
        True,
    ),
    "ring with spacing": (
        {
            "week": {"repeats": True},
            "openings": [opening(["mon", "wed", "thu", "sat", "sun"], "07:00", "07:30")],
            "kinds": split(upper={"per_week": {"least": 1, "most": 2}}, lower={"per_week": {"least": 1, "most": 2}}),
            "sessions": {"least": 3, "most": 4},
            "goals": {
                "back": {"least": 8, "aim": 20},
                "legs": {"aim": 16},
                "glutes": {"aim": 16, "recovery_hours": 60},
            },
            "exercises": {"only": [*PULL, *LEGS]},
            "rules": {"spacing": {"pairs": [{"from": "upper", "to": "lower", "hours": 40}]}},
        },
        True,
    ),
    "two places": (
        {
            "places": {"home": {"base": "home_dumbbells"}},
            "openings": [opening(["tue", "sat"], "18:00", "18:45"), opening(["thu"], "06:00", "06:30", "home")],
            "kinds": split(lower={"per_week": {"least": 0, "most": 1}}),
            "sessions": {"least": 2, "most": 3},
            "goals": {"lats": {"aim": 9}, "front_delts": {"aim": 8, "priority": 1}, "quads": {"aim": 6}},
            "exercises": {"only": [*PUSH, *PULL, "one_arm_dumbbell_row", "dumbbell_goblet_squat"]},
        },
        True,
    ),
    "done and a history": (
        {
            "openings": [opening(["wed", "thu", "fri"], "18:00", "18:50")],
            "kinds": split(),
            "sessions": 3,
            "goals": {"lats": {"aim": 12, "most": 12}, "pectorals_lower": {"aim": 7}, "hamstrings": {"aim": 8}},
            "exercises": {"only": [*PUSH, *PULL, *LEGS]},
            "history": [
                {
                    "kind": "lower",
                    "start": "2026-03-01T18:00",
                    "minutes": 50,
                    "exercises": [{"exercise": "romanian_deadlift", "sets": 5}],
                }
            ],
            "done": [
                {
                    "kind": "upper",
                    "start": "2026-03-03T18:00",
                    "minutes": 45,
                    "exercises": [{"exercise": "chin_up", "sets": 4}, {"exercise": "chest_supported_row", "sets": 3}],
                }
            ],
        },
        True,
    ),
}


@pytest.mark.parametrize("name", BRIEFS)
def test_highs_and_the_solver_agree_on_tier_one(name: str) -> None:
    parts, short = BRIEFS[name]
    brief = core(**parts)
    answer = solve_core(brief)
    plan = solve(brief)
    assert plan.status is PlanStatus.OPTIMAL
    assert answer.feasible
    assert answer.value == plan.tiers[0].value
    assert (answer.value > 0) is short


@pytest.mark.parametrize(("hours", "possible"), [(23, True), (24, False)])
def test_highs_and_the_solver_agree_on_what_is_possible(hours: int, possible: bool) -> None:
    """Monday 18:00 to 19:00 and Tuesday 18:00 to 19:00, an hour each: 23 h from end to start (by the clock)."""
    kinds = split(
        upper={"per_week": 2, "minutes": {"least": 60, "most": 60}, "sets": {"least": 4, "most": 20}},
        lower={"per_week": {"least": 0, "most": 0}},
    )
    brief = core(
        openings=[opening(["mon", "tue"], "18:00", "19:00")],
        kinds=kinds,
        sessions=2,
        exercises={"only": [*PUSH, *PULL]},
        rules={"spacing": {"pairs": [{"from": "upper", "to": "upper", "hours": hours}]}},
    )
    assert solve_core(brief).feasible is possible
    assert (solve(brief).status is not PlanStatus.IMPOSSIBLE) is possible


def test_the_programme_refuses_what_it_does_not_know() -> None:
    parts, _ = BRIEFS["roomy"]
    rules = {k: v for k, v in SWITCHED_OFF.items() if k != "frequency"}
    with pytest.raises(ValueError, match="frequency"):
        solve_core(Brief.model_validate({**core(**parts).model_dump(mode="json", exclude={"rules"}), "rules": rules}))
