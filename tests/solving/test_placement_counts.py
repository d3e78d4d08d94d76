"""How many ways a week's sessions can lie: counts known from combinatorics, reached by solver and by referee.

A placement is a choice of days. The solver counts by pinning one choice after another and asking whether any week is
left; the referee counts by looking at a plan written by hand on those days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import combinations
from math import comb
from typing import Any

import pytest

from scheduler.domain.brief import Brief
from scheduler.domain.plan import Entry, PlannedSession, PlanStatus, Zone
from scheduler.domain.units import DAYS
from scheduler.planning import check, solve
from scheduler.rules import RULES

MONDAY = dt.date(2026, 3, 2)
KEPT = ("opening", "prescription", "session_count", "session_size", "pinned")
OFF = {rule.key: {"mode": "off"} for rule in RULES if rule.key not in KEPT}
"""All rules off but those that make a session lie in its opening and be there."""
FREE_DAY = {
    "spacing": {"spacing": {"pairs": [{"from": "full", "to": "full", "hours": 24}]}},
    "rest days": {"rest_days": {"least": 0, "in_a_row": 1}},
}
"""Two ways to ask for a free day between: 24 h from end to start of sessions at one time of day, or no two training
days in a row."""


def week(days: Sequence[str], number: int, *, repeats: bool, pins: Sequence[int] = (), rules: dict[str, Any]) -> Brief:
    """Full-body sessions of one exercise, an opening of one quarter of an hour a day."""
    return Brief.model_validate(
        {
            "week": {"start": MONDAY.isoformat(), "repeats": repeats},
            "places": {"gym": {"base": "home_bodyweight"}},
            "openings": [{"day": list(days), "start": "18:00", "end": "18:15", "place": "gym"}],
            "kinds": {
                "full": {
                    "patterns": ["horizontal_push"],
                    "sets": {"least": 2, "most": 2},
                    "minutes": {"least": 15, "most": 15},
                    "per_week": number,
                }
            },
            "sessions": number,
            "exercises": {"only": ["push_up"]},
            "pinned": [{"kind": "full", "day": DAYS[d].value} for d in pins],
            "rules": {**OFF, **rules},
        }
    )


def by_hand(days: Sequence[int]) -> list[PlannedSession]:
    push_ups = Entry(
        exercise="push_up", name="Push-up", sets=2, reps=10, zone=Zone.MODERATE, reps_in_reserve=2, rest_seconds=120
    )

    def at(day: int, minute: int) -> dt.datetime:
        return dt.datetime.combine(MONDAY + dt.timedelta(days=day), dt.time(18, minute), dt.UTC)

    return [
        PlannedSession(kind="full", name="Full", start=at(d, 0), end=at(d, 15), place="gym", entries=(push_ups,))
        for d in days
    ]


def solver_accepts(days: Sequence[str], chosen: Sequence[int], *, repeats: bool, rules: dict[str, Any]) -> bool:
    plan = solve(week(days, len(chosen), repeats=repeats, pins=chosen, rules=rules))
    if plan.status is PlanStatus.IMPOSSIBLE:
        return False
    assert plan.status is PlanStatus.OPTIMAL
    assert [s.start.weekday() for s in plan.sessions] == sorted(chosen), "the pins stand"
    return True


def referee_accepts(days: Sequence[str], chosen: Sequence[int], *, repeats: bool, rules: dict[str, Any]) -> bool:
    return check(week(days, len(chosen), repeats=repeats, rules=rules), by_hand(chosen)).holds


def placements(days: Sequence[str], number: int, accepts: Any, *, repeats: bool, rules: dict[str, Any]) -> set[str]:
    open_days = [d for d, day in enumerate(DAYS) if day.value in days]
    return {
        "-".join(DAYS[d].value for d in chosen)
        for chosen in combinations(open_days, number)
        if accepts(days, chosen, repeats=repeats, rules=rules)
    }


def kaplansky(days: int, chosen: int, *, ring: bool) -> int:
    """Ways to choose days of which no two are neighbours (Kaplansky's lemma, from memory): on a line
    C(n - k + 1, k), on a ring n / (n - k) x C(n - k, k)."""
    if ring:
        return days * comb(days - chosen, chosen) // (days - chosen)
    return comb(days - chosen + 1, chosen)


ACCEPTS = {"solver": solver_accepts, "referee": referee_accepts}
ALL_DAYS = [d.value for d in DAYS]
WORKDAYS = ALL_DAYS[:5]


@pytest.mark.parametrize("way", FREE_DAY)
@pytest.mark.parametrize("who", ACCEPTS)
@pytest.mark.parametrize(
    ("repeats", "number", "count"),
    # Counted out by hand for the seven days of a week; the lemma above gives the same.
    [
        *((False, number, count) for number, count in ((1, 7), (2, 15), (3, 10), (4, 1))),
        *((True, number, count) for number, count in ((1, 7), (2, 14), (3, 7), (4, 0))),
    ],
)
def test_sessions_with_a_free_day_between(way: str, who: str, repeats: bool, number: int, count: int) -> None:
    found = placements(ALL_DAYS, number, ACCEPTS[who], repeats=repeats, rules=FREE_DAY[way])
    assert len(found) == count == kaplansky(7, number, ring=repeats)


@pytest.mark.parametrize("who", ACCEPTS)
def test_three_full_body_days_from_monday_to_friday(who: str) -> None:
    """The schedule of every beginner's book follows from a rest day between (counted by hand)."""
    found = placements(WORKDAYS, 3, ACCEPTS[who], repeats=False, rules=FREE_DAY["rest days"])
    assert found == {"mon-wed-fri"}


@pytest.mark.parametrize("who", ACCEPTS)
def test_two_days_from_monday_to_friday_round_the_ring(who: str) -> None:
    """At least one and at most three rest days between sessions for one muscle (NSCA, read second-hand). In a repeating
    week two sessions share five rest days, so at most three on one side is at least two on the other: 48 h and more
    from end to start at one time of day."""
    rules = {"spacing": {"pairs": [{"from": "full", "to": "full", "hours": 48}]}}
    found = placements(WORKDAYS, 2, ACCEPTS[who], repeats=True, rules=rules)
    assert found == {"mon-thu", "mon-fri", "tue-fri"}


def upper_lower(**more: Any) -> Brief:
    return Brief.model_validate(
        {
            "week": {"start": MONDAY.isoformat(), "repeats": True},
            "lifter": {"status": "intermediate"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": WORKDAYS, "start": "18:00", "end": "19:00", "place": "gym"}],
            "kinds": {
                "upper": {
                    "patterns": ["horizontal_push", "horizontal_pull"],
                    "sets": {"least": 6, "most": 10},
                    "minutes": {"least": 20, "most": 60},
                    "per_week": 2,
                },
                "lower": {
                    "patterns": ["squat", "knee_flexion", "trunk_extension"],
                    "sets": {"least": 6, "most": 12},
                    "minutes": {"least": 20, "most": 60},
                    "lower_body": True,
                    "per_week": 2,
                },
            },
            "goals": {"pectorals_lower": {"aim": 6}, "lats": {"aim": 6}, "quads": {"aim": 6}, "hamstrings": {"aim": 6}},
            "exercises": {
                "only": ["machine_chest_press", "machine_row", "leg_press", "lying_leg_curl", "prone_back_extension"]
            },
            **more,
        }
    )


SPLIT = {"mon": "upper", "thu": "upper", "tue": "lower", "fri": "lower"}
"""Upper body on Monday and Thursday, lower body on Tuesday and Friday: an example of the NSCA, read second-hand."""


def test_the_four_day_split_is_accepted_by_the_solver_under_all_default_rules() -> None:
    plan = solve(upper_lower(pinned=[{"kind": kind, "day": day} for day, kind in SPLIT.items()]))
    assert plan.status is PlanStatus.OPTIMAL
    found = {DAYS[s.start.weekday()].value: s.kind for s in plan.sessions}
    assert found == SPLIT
    assert [s.start.weekday() for s in plan.sessions] == [0, 1, 3, 4]
    assert all(row.kept for row in plan.rules if row.mode.value == "must")


def test_the_four_day_split_is_accepted_by_the_referee_when_written_by_hand() -> None:
    chest, row = ("machine_chest_press", 3), ("machine_row", 3)
    legs = (("leg_press", 3), ("lying_leg_curl", 3), ("prone_back_extension", 3))
    sessions = []
    for day, kind in SPLIT.items():
        entries = tuple(
            Entry(exercise=key, name=key, sets=sets, reps=10, zone=Zone.MODERATE, reps_in_reserve=2, rest_seconds=120)
            for key, sets in ((chest, row) if kind == "upper" else legs)
        )
        number = ALL_DAYS.index(day)
        start = dt.datetime.combine(MONDAY + dt.timedelta(days=number), dt.time(18), dt.UTC)
        end = start + dt.timedelta(minutes=45)
        sessions.append(PlannedSession(kind=kind, name=kind, start=start, end=end, place="gym", entries=entries))
    report = check(upper_lower(), sessions)
    assert not [f for r in report.plan.rules for f in r.findings if f.mode.value == "must" and f.breach]
    assert report.holds


def test_both_upper_days_in_a_row_are_refused() -> None:
    """The sharp edge of the test above: on neighbouring days the second hit of chest and back lacks the default
    recovery (48 h less two: McLester 2003, counted from the end of a session)."""
    days = {"mon": "upper", "tue": "upper", "thu": "lower", "fri": "lower"}
    goals = {"pectorals_lower": {"aim": 6, "frequency": 2}, "lats": {"aim": 6, "frequency": 2}}
    pins = [{"kind": kind, "day": day} for day, kind in days.items()]
    rules = {"frequency": {"mode": "must"}}
    assert solve(upper_lower(pinned=pins, goals=goals, rules=rules)).status is PlanStatus.IMPOSSIBLE
    pins = [{"kind": kind, "day": day} for day, kind in SPLIT.items()]
    assert solve(upper_lower(pinned=pins, goals=goals, rules=rules)).status is PlanStatus.OPTIMAL
