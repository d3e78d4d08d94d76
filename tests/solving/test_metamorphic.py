"""How the best value must move when a brief changes: no oracle needed, only the direction."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.units import DAYS
from scheduler.planning import solve

DAY_NAMES = [d.value for d in DAYS]
UPPER = ["chin_up", "lat_pulldown", "machine_row", "machine_chest_press"]
LOWER = ["leg_press", "hack_squat", "conventional_deadlift"]
NEVER = 10**9
"""Worse than any plan: an impossible week."""


def base() -> dict[str, Any]:
    """An invented week that leaves several wishes short, so that there is room to move either way."""
    return {
        "week": {"start": "2026-03-02", "repeats": True},
        "places": {"gym": {"base": "full_gym", "travel_minutes": 10}},
        "openings": [
            {"day": "mon", "start": "18:00", "end": "18:40", "place": "gym"},
            {"day": "wed", "start": "07:00", "end": "07:35", "place": "gym", "preference": "reluctant"},
            {"day": "fri", "start": "18:00", "end": "18:30", "place": "gym"},
        ],
        "busy": [{"title": "choir", "start": "2026-03-02T17:30", "end": "2026-03-02T18:00"}],
        "kinds": {
            "upper": {
                "patterns": ["vertical_pull", "horizontal_pull", "horizontal_push"],
                "required": ["horizontal_push"],
                "sets": {"least": 4, "most": 10},
                "minutes": {"least": 0, "most": 40},
                "per_week": {"least": 1, "most": 2},
            },
            "lower": {
                "patterns": ["squat", "hinge"],
                "sets": {"least": 4, "most": 8},
                "minutes": {"least": 0, "most": 40},
                "lower_body": True,
                "per_week": 1,
            },
        },
        "sessions": {"least": 2, "most": 3},
        "goals": {
            "lats": {"least": 6, "aim": 10, "priority": 1, "frequency": 2},
            "pectorals_lower": {"aim": 6},
            "glutes": {"aim": 6},
            "erectors": {"most": 6, "aim": 3},
        },
        "exercises": {"only": [*UPPER, *LOWER]},
        "rules": {"stand_in": {"mode": "off"}, "lower_back": {"session_budget": 6, "two_day_budget": 8}},
    }


def changed(data: dict[str, Any], **parts: Any) -> dict[str, Any]:
    return {**deepcopy(data), **parts}


def with_rules(data: dict[str, Any], **rules: Any) -> dict[str, Any]:
    return changed(data, rules={**data["rules"], **rules})


def proved(data: dict[str, Any]) -> Plan:
    plan = solve(Brief.model_validate(data))
    assert plan.status in (PlanStatus.OPTIMAL, PlanStatus.IMPOSSIBLE), "only proved values can be compared"
    return plan


def tier_one(data: dict[str, Any]) -> int:
    plan = proved(data)
    return NEVER if plan.status is PlanStatus.IMPOSSIBLE else plan.tiers[0].value


@pytest.fixture(scope="module")
def value() -> int:
    found = tier_one(base())
    assert 0 < found < NEVER, "the week falls short, and is possible"
    return found


def turned(data: dict[str, Any], by: int) -> dict[str, Any]:
    """The same repeating week with every opening and event so many days later, round the ring."""
    data = deepcopy(data)
    for opening in data["openings"]:
        opening["day"] = DAY_NAMES[(DAY_NAMES.index(opening["day"]) + by) % 7]
    for event in data["busy"]:
        for end in ("start", "end"):
            day = int(event[end][8:10]) - 2
            event[end] = f"2026-03-{(day + by) % 7 + 2:02}{event[end][10:]}"
    return data


@pytest.mark.parametrize("by", range(1, 7))
def test_a_repeating_week_has_no_first_day(value: int, by: int) -> None:
    assert tier_one(turned(base(), by)) == value


MUSTS: dict[str, dict[str, Any]] = {
    "recovery of 72 h": {"goals": base()["goals"] | {"lats": base()["goals"]["lats"] | {"recovery_hours": 72}}},
    "spacing of 48 h": {
        "rules": base()["rules"] | {"spacing": {"pairs": [{"from": "upper", "to": "lower", "hours": 48}]}}
    },
    "frequency": {"rules": base()["rules"] | {"frequency": {"mode": "must"}}},
    "two sessions only": {"sessions": 2},
    "three sessions": {"sessions": 3},
    "a hinge in the week": {"rules": base()["rules"] | {"coverage": {"week_patterns": ["hinge"]}}},
    "a knee caution": {"lifter": {"cautions": ["knee"]}},
    "a lower-back caution": {"lifter": {"cautions": ["lower_back"]}},
    "a pinned day": {"pinned": [{"kind": "lower", "day": "mon"}]},
    "a pinned exercise": {"pinned": [{"kind": "upper", "exercises": [{"exercise": "machine_row", "sets": 4}]}]},
    "no deadlift": {"exercises": base()["exercises"] | {"avoided": ["conventional_deadlift"]}},
    "one chin-up a week": {"exercises": base()["exercises"] | {"most_per_week": {"chin_up": 1, "lat_pulldown": 1}}},
}


@pytest.mark.parametrize("name", MUSTS)
def test_one_more_must_is_never_better(value: int, name: str) -> None:
    assert tier_one(changed(base(), **MUSTS[name])) >= value


def test_some_of_those_musts_bite(value: int) -> None:
    """Otherwise the test above would say nothing."""
    assert sum(tier_one(changed(base(), **parts)) > value for parts in MUSTS.values()) >= 3


@pytest.mark.parametrize("number", range(3))
@pytest.mark.parametrize("minutes", [10, 45])
def test_a_wider_opening_is_never_worse(value: int, number: int, minutes: int) -> None:
    data = base()
    opening = data["openings"][number]
    hours, start = map(int, opening["end"].split(":"))
    end = hours * 60 + start + minutes
    opening["end"] = f"{end // 60:02}:{end % 60:02}"
    assert tier_one(data) <= value


def test_one_more_opening_is_never_worse_and_here_better() -> None:
    data = changed(base(), sessions={"least": 2, "most": 4})
    data["goals"]["pectorals_lower"]["aim"] = 15
    data["kinds"]["upper"]["per_week"] = {"least": 1, "most": 3}
    more = deepcopy(data)
    more["openings"].append({"day": "sun", "start": "10:00", "end": "11:30", "place": "gym"})
    assert tier_one(more) < tier_one(data)


def test_an_exercise_that_was_not_used_may_be_avoided_for_nothing() -> None:
    plan = proved(base())
    used = {entry.exercise for session in plan.sessions for entry in session.entries}
    unused = [key for key in base()["exercises"]["only"] if key not in used]
    assert unused, "the week leaves some exercise out"
    for key in unused:
        avoiding = proved(changed(base(), exercises=base()["exercises"] | {"avoided": [key]}))
        assert [t.value for t in avoiding.tiers] == [t.value for t in plan.tiers]


def test_longer_travel_is_never_better() -> None:
    found = []
    for minutes in (0, 10, 20, 60, 120):
        data = base()
        data["places"]["gym"]["travel_minutes"] = minutes
        data["busy"] += [{"title": "early shift", "start": "2026-03-04T07:50", "end": "2026-03-04T15:00"}]
        found.append(tier_one(data))
    assert found == sorted(found)
    assert found[0] < found[-1], "here travel matters"


@pytest.mark.parametrize(
    "rule", ["recovery", "coverage", "session_size", "rest_days", "sessions_a_day", "session_count", "busy", "opening"]
)
def test_a_wish_instead_of_a_must_is_never_worse(value: int, rule: str) -> None:
    given = base()["rules"].get(rule, {})
    assert tier_one(with_rules(base(), **{rule: {**given, "mode": "wish", "weight": 1}})) <= value


def test_a_wish_makes_an_impossible_week_possible() -> None:
    """Two hits of the chest on neighbouring days against the default recovery."""
    data = changed(base(), openings=[base()["openings"][0], base()["openings"][0] | {"day": "tue"}])
    data["kinds"] = {"upper": data["kinds"]["upper"] | {"per_week": 2, "sets": {"least": 6, "most": 10}}}
    data["exercises"] = {"only": ["machine_chest_press", "machine_row"]}
    data["goals"] = {"pectorals_lower": {"aim": 6, "frequency": 2}}
    data["rules"] = {"stand_in": {"mode": "off"}, "coverage": {"lat_planes": False}, "frequency": {"mode": "must"}}
    data["sessions"] = 2
    assert tier_one(data) == NEVER
    assert tier_one(with_rules(data, recovery={"mode": "wish"})) < NEVER


@pytest.mark.parametrize("factor", [2, 5])
def test_costs_scale_with_their_weights(factor: int) -> None:
    """Every weight of tier 1 multiplied alike multiplies the best value alike."""
    one = base()
    keys = ("weekly_sets", "frequency", "session_sets", "lower_back", "variety", "activation", "rep_mix")
    one["rules"] |= {key: {**one["rules"].get(key, {}), "weight": n} for n, key in enumerate(keys, 1)}
    more = deepcopy(one)
    for key in keys:
        more["rules"][key]["weight"] *= factor
    assert tier_one(more) == factor * tier_one(one) > 0
