"""Tiny weeks, looked at completely in plain Python, against the solver: the same value tier by tier.

The briefs are invented. Each says which rules it is there to touch.
"""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlanStatus
from scheduler.planning import instance_of, solve
from scheduler.referee import facts_of
from tests.solving.enumeration import enumerate_best

OFF = {"mode": "off"}
WISH = {"mode": "wish"}
ONE_ZONE = {"heavy": 1, "light": 100}
"""Heavy singles and sets of a hundred suit no exercise of these briefs: only moderate work is left."""


def tiny(**parts: Any) -> Brief:
    """A brief of a few quarter hours: short rests, no warm-up, one zone, one well-fitted gym."""
    prescription = {
        "reps": ONE_ZONE,
        "rest_seconds": {"moderate": 60, "light": 60},
        "warm_up_minutes": 0,
        "sets_per_exercise": {"least": 2, "most": 4},
        **parts.pop("prescription", {}),
    }
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02", **parts.pop("week", {})},
            "places": {"gym": {"base": "full_gym"}},
            "prescription": prescription,
            "rules": {"stand_in": OFF, **parts.pop("rules", {})},
            **parts,
        }
    )


def opening(days: list[str], start: str, end: str, **more: str) -> dict[str, Any]:
    return {"day": days, "start": start, "end": end, "place": "gym", **more}


BRIEFS = {
    # weekly sets (least, aim, most), recovery, frequency, the cap in a session, session count as a range
    "sets and recovery": lambda: tiny(
        openings=[opening(["mon", "tue", "thu"], "18:00", "18:15")],
        kinds={
            "full": {
                "patterns": ["horizontal_push", "horizontal_pull"],
                "sets": {"least": 2, "most": 7},
                "minutes": {"least": 0, "most": 15},
                "per_week": {"least": 1, "most": 2},
            }
        },
        sessions={"least": 1, "most": 2},
        goals={
            "pectorals_lower": {"least": 3, "aim": 7, "most": 8, "frequency": 2, "session_cap": 3},
            "triceps": {"aim": 4, "priority": 2, "recovery_hours": 72},
            "lats": {"least": 2, "aim": 5, "most": 5},
        },
        exercises={"only": ["machine_chest_press", "machine_row"]},
    ),
    # a repeating week: spacing and recovery round the ring, rest days in a row, preferred times, the tie-break
    "ring": lambda: tiny(
        week={"repeats": True},
        openings=[
            opening(["mon"], "07:00", "07:15"),
            opening(["wed"], "12:00", "12:10", preference="preferred"),
            opening(["sun"], "20:00", "20:15", preference="reluctant"),
        ],
        kinds={
            "push": {
                "patterns": ["horizontal_push"],
                "sets": {"least": 2, "most": 5},
                "minutes": {"least": 0, "most": 15},
                "per_week": 1,
            },
            "pull": {
                "patterns": ["horizontal_pull"],
                "sets": {"least": 2, "most": 5},
                "minutes": {"least": 0, "most": 15},
                "per_week": {"least": 1, "most": 2},
            },
        },
        sessions={"least": 2, "most": 3},
        goals={
            "pectorals_lower": {"aim": 5, "priority": 1},
            "lats": {"least": 4, "aim": 8, "recovery_hours": 30},
            "arms": {"most": 6},
        },
        exercises={"only": ["machine_chest_press", "machine_row"], "favourites": ["machine_row"]},
        rules={
            "spacing": {"mode": "wish", "pairs": [{"from": "push", "to": "pull", "hours": 40}]},
            "rest_days": {"in_a_row": 1, "mode": "wish"},
            "variety": OFF,
            "activation": OFF,
        },
    ),
    # an add-on that counts but makes no hit, a lower-body kind, coverage of a kind
    "add-on": lambda: tiny(
        openings=[opening(["tue", "wed"], "06:00", "06:20")],
        kinds={
            "legs": {
                "patterns": ["squat", "knee_flexion"],
                "required": ["squat"],
                "sets": {"least": 2, "most": 6},
                "minutes": {"least": 0, "most": 20},
                "lower_body": True,
                "per_week": 1,
                "add_on": {"pattern": "vertical_pull", "sets": {"least": 3, "most": 4}},
            },
            "pull": {
                "patterns": ["vertical_pull"],
                "sets": {"least": 3, "most": 4},
                "minutes": {"least": 0, "most": 20},
                "per_week": 1,
            },
        },
        sessions=2,
        goals={"lats": {"aim": 8, "frequency": 1, "recovery_hours": 48}, "quads": {"aim": 4}, "hamstrings": {"aim": 3}},
        exercises={"only": ["pull_up", "leg_press", "lying_leg_curl"], "most_per_week": {"leg_press": 1}},
    ),
    # budgets of the lower back on neighbouring days, stand-in, patterns of the week, where an exercise belongs
    "lower back": lambda: tiny(
        openings=[opening(["mon", "tue", "fri"], "18:00", "18:20")],
        kinds={
            "lower": {
                "patterns": ["squat", "hinge", "trunk_extension"],
                "sets": {"least": 4, "most": 6},
                "minutes": {"least": 0, "most": 20},
                "lower_body": True,
                "per_week": 2,
            }
        },
        sessions=2,
        goals={
            "glutes": {"least": 4, "aim": 9, "most": 9, "recovery_hours": 12},
            "erectors": {"aim": 6, "recovery_hours": 0},
        },
        prescription={"sets_per_exercise": {"least": 2, "most": 3}},
        exercises={"only": ["barbell_back_squat", "conventional_deadlift", "back_extension"]},
        rules={
            "stand_in": {"sets": 3},
            "lower_back": {"session_budget": 7, "two_day_budget": 9},
            "coverage": {"week_patterns": ["hinge"]},
            "even_lengths": {"weight": 3},
        },
    ),
    # a priority muscle: early and fresh, activation, grips, none twice in a row, both planes of the lats, favourites
    "weak point": lambda: tiny(
        openings=[opening(["tue", "thu", "fri"], "18:00", "18:15")],
        kinds={
            "pull": {
                "patterns": ["vertical_pull"],
                "sets": {"least": 3, "most": 5},
                "minutes": {"least": 0, "most": 15},
                "per_week": 2,
            }
        },
        sessions=2,
        goals={"lats": {"aim": 8, "priority": 1, "recovery_hours": 20}},
        prescription={"sets_per_exercise": {"least": 3, "most": 5}},
        exercises={"only": ["lat_pulldown", "chin_up", "straight_arm_pulldown"], "favourites": ["chin_up"]},
    ),
    # a session that is done counts, hits and rests; wanted and avoided exercises; a week with a history and a ramp
    "done and history": lambda: tiny(
        openings=[opening(["wed", "thu", "fri"], "18:00", "18:20")],
        kinds={
            "full": {
                "patterns": ["horizontal_push", "horizontal_pull", "elbow_flexion"],
                "sets": {"least": 2, "most": 6},
                "minutes": {"least": 0, "most": 20},
                "per_week": {"least": 2, "most": 3},
            }
        },
        sessions={"least": 2, "most": 3},
        goals={"pectorals_lower": {"aim": 9, "priority": 1}, "biceps": {"aim": 6, "most": 8}, "lats": {"aim": 6}},
        prescription={"sets_per_exercise": {"least": 2, "most": 3}},
        exercises={
            "only": ["machine_chest_press", "machine_row", "barbell_curl"],
            "wanted": ["barbell_curl"],
            "most_per_week": {"machine_row": 2},
        },
        history=[
            {"kind": "old", "start": start, "minutes": 60, "exercises": [{"exercise": "push_up", "sets": sets}]}
            for start, sets in (("2026-02-25T18:00", 5), ("2026-03-01T19:00", 3))
        ],
        done=[
            {
                "kind": "full",
                "start": "2026-03-03T07:00",
                "minutes": 30,
                "exercises": [
                    {"exercise": "machine_chest_press", "sets": 3, "reps": 10},
                    {"exercise": "machine_row", "sets": 3, "reps": 10},
                ],
            }
        ],
        rules={"early_and_fresh": {"latest": "tue"}},
    ),
    # no week keeps 60 hours between hits on two neighbouring days
    "impossible": lambda: tiny(
        openings=[opening(["mon", "tue"], "18:00", "18:15")],
        kinds={
            "push": {
                "patterns": ["horizontal_push"],
                "sets": {"least": 3, "most": 4},
                "minutes": {"least": 0, "most": 15},
                "per_week": 2,
            }
        },
        sessions=2,
        goals={"pectorals_lower": {"aim": 6, "recovery_hours": 60}},
        exercises={"only": ["machine_chest_press"]},
    ),
    # two exercises that no rule can tell apart, in one session
    "alike": lambda: tiny(
        openings=[opening(["mon"], "18:00", "18:20")],
        kinds={
            "pull": {
                "patterns": ["vertical_pull", "elbow_flexion"],
                "sets": {"least": 3, "most": 10},
                "minutes": {"least": 0, "most": 20},
                "per_week": 1,
            }
        },
        sessions=1,
        goals={"lats": {"aim": 8}},
        exercises={"only": ["neutral_grip_pulldown", "underhand_pulldown", "barbell_curl"]},
    ),
    # three alike in two sessions: what does not come twice in a row, and what must
    "alike in a row": lambda: tiny(
        openings=[opening(["mon", "thu"], "18:00", "18:15")],
        kinds={
            "arms": {
                "patterns": ["elbow_extension"],
                "sets": {"least": 2, "most": 6},
                "minutes": {"least": 0, "most": 15},
                "per_week": {"least": 1, "most": 2},
            }
        },
        sessions={"least": 1, "most": 2},
        goals={"triceps": {"aim": 10, "most": 11, "priority": 1}},
        prescription={"sets_per_exercise": {"least": 2, "most": 3}},
        exercises={"only": ["cable_pushdown", "rope_pushdown", "overhead_cable_extension"]},
        rules={"activation": OFF},
    ),
    # two alike in one session in two zones, one of them maybe as an add-on; two add-ons cost
    "alike in two roles": lambda: tiny(
        openings=[opening(["sat"], "09:00", "09:20")],
        kinds={
            "arms": {
                "patterns": ["elbow_flexion"],
                "sets": {"least": 2, "most": 9},
                "minutes": {"least": 0, "most": 20},
                "per_week": 1,
                "add_on": {"pattern": "elbow_flexion", "sets": {"least": 2, "most": 2}},
            }
        },
        sessions=1,
        goals={"biceps": {"aim": 9, "session_cap": 3}},
        prescription={"reps": {"heavy": 1}, "sets_per_exercise": {"least": 2, "most": 3}},
        exercises={"only": ["ez_bar_curl", "preacher_curl", "barbell_curl"]},
        rules={"rep_mix": {"lean": "light"}, "add_on": {"mode": "wish", "weight": 1}},
    ),
    # equipment that is not there, at a price, for two alike; a hit at no sets at all
    "bare room": lambda: tiny(
        places={"gym": {"base": "full_gym", "lacks": ["pulldown_machine"]}},
        openings=[opening(["mon", "wed"], "18:00", "18:15")],
        kinds={
            "pull": {
                "patterns": ["vertical_pull"],
                "sets": {"least": 2, "most": 6},
                "minutes": {"least": 0, "most": 15},
                "per_week": {"least": 0, "most": 2},
            }
        },
        sessions={"least": 0, "most": 2},
        goals={"lats": {"aim": 7, "frequency": 1}},
        prescription={"sets_per_exercise": {"least": 2, "most": 3}, "hit_sets": 0},
        exercises={"only": ["neutral_grip_pulldown", "underhand_pulldown", "pull_up"]},
        rules={"equipment": {"mode": "wish", "weight": 2}},
    ),
    # equipment that no rule asks for
    "no equipment rule": lambda: tiny(
        places={"gym": {"base": "full_gym", "lacks": ["pulldown_machine"]}},
        openings=[opening(["mon"], "18:00", "18:15")],
        kinds={
            "pull": {
                "patterns": ["vertical_pull"],
                "sets": {"least": 2, "most": 6},
                "minutes": {"least": 0, "most": 15},
                "per_week": 1,
            }
        },
        sessions=1,
        goals={"lats": {"aim": 7}},
        exercises={"only": ["neutral_grip_pulldown", "underhand_pulldown"]},
        rules={"equipment": OFF},
    ),
    # most musts as wishes: openings stretched (days are not: the kind keeps to Monday), exercises shut out but used, a
    # pin that costs, two a day
    "wishes": lambda: tiny(
        openings=[opening(["mon"], "18:00", "18:05"), opening(["mon"], "18:30", "18:35", preference="preferred")],
        kinds={
            "upper": {
                "patterns": ["horizontal_push", "squat"],
                "required": ["horizontal_push"],
                "sets": {"least": 4, "most": 5},
                "minutes": {"least": 15, "most": 15},
                "per_week": {"least": 1, "most": 2},
                "days": ["mon"],
            }
        },
        sessions=2,
        goals={"quads": {"aim": 4, "recovery_hours": 2}},
        prescription={"sets_per_exercise": {"least": 2, "most": 3}},
        exercises={"only": ["machine_chest_press", "leg_press"]},
        pinned=[{"kind": "upper", "day": "mon", "start": "18:35", "exercises": [{"exercise": "leg_press", "sets": 3}]}],
        rules={
            **dict.fromkeys(("belongs_to", "session_count", "recovery", "coverage", "pinned", "session_size"), WISH),
            "sessions_a_day": {"mode": "wish", "hours_apart": 0},
            "opening": {"mode": "wish", "weight": 1},
        },
    ),
    # antagonist pairs share rests, two zones, a mix of reps, minutes as a must
    "pairs": lambda: tiny(
        openings=[opening(["sat"], "09:00", "09:20")],
        kinds={
            "arms": {
                "patterns": ["elbow_flexion", "elbow_extension"],
                "sets": {"least": 4, "most": 12},
                "minutes": {"least": 10, "most": 20},
                "per_week": 1,
            }
        },
        sessions=1,
        goals={"biceps": {"aim": 8, "session_cap": 5}, "triceps": {"aim": 4, "priority": 3}},
        prescription={"reps": {"heavy": 1}, "rest_seconds": {"moderate": 90, "light": 60}},
        exercises={"only": ["barbell_curl", "cable_curl", "cable_pushdown"], "least_distinct": {"biceps": 2}},
        rules={"pairing": {"mode": "wish", "least_pairs": 1}, "rep_mix": {"lean": "light"}},
    ),
}


STRETCH = {"wishes": 3}
"""Slots by which sessions may lie outside an opening, where openings are a wish."""


@pytest.mark.parametrize("name", BRIEFS)
def test_the_solver_reaches_the_best_of_all_weeks(name: str) -> None:
    brief = BRIEFS[name]()
    naive = enumerate_best(brief, stretch=STRETCH.get(name, 0))
    plan = solve(brief)
    if naive.best is None:
        assert naive.tried > 1, "an impossible week is only shown by looking at some"
        assert plan.status is PlanStatus.IMPOSSIBLE
        assert not plan.tiers
        return
    assert naive.kept > 1, "one week only leaves nothing to choose"
    assert plan.status is PlanStatus.OPTIMAL
    assert tuple(tier.value for tier in plan.tiers) == naive.best_like(facts_of(instance_of(brief), plan.sessions))


def test_only_one_of_the_briefs_is_impossible() -> None:
    assert [name for name in BRIEFS if solve(BRIEFS[name]()).status is PlanStatus.IMPOSSIBLE] == ["impossible"]
