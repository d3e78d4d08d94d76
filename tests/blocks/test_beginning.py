"""Where a path begins: the first week holds what it needs of the usual week, and what it lacks comes as aims rise."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from typing import Any

import pytest

from scheduler import referee
from scheduler.blocks.beginning import with_needed
from scheduler.blocks.build import plan_block
from scheduler.blocks.figures import instance_alone
from scheduler.domain.block import BlockSettings
from scheduler.domain.brief import Brief, SessionRecord
from scheduler.facts import WeekFacts
from tests.blocks.small import small

THREE_EACH: dict[str, Any] = {
    "prescription": {"sets_per_exercise": 3},
    "goals": {"lats": {"least": 6, "aim": 9, "most": 12}},
    "kinds": {"upper": {"sets": {"least": 3, "most": 12}}},
}
"""Three sets an exercise, no more and no fewer: sets can only rise by exercises."""


def test_sets_rise_where_exercises_may_not_have_few() -> None:
    block = plan_block(small(THREE_EACH), BlockSettings(weeks=4, easy_weeks=0, path=(0, 66, 133, 200)))
    lats = [next(row.counted for row in week.plan.ledger if row.target == "lats") for week in block.weeks]
    assert lats[0] < lats[-1]
    assert lats == sorted(lats)
    rise = [finding for finding in block.findings if finding.key == "rise"]
    assert not any(text.startswith("Lats") for finding in rise for text in finding.found)


PULLS = ("lat_pulldown", "chin_up", "neutral_grip_pulldown")


def usual(exercises: Iterable[str]) -> list[SessionRecord]:
    rows = [{"exercise": e, "sets": 3, "reps": 8} for e in exercises]
    session = {"kind": "upper", "start": "2026-11-30T18:00:00", "minutes": 60, "place": "gym", "exercises": rows}
    return [SessionRecord.model_validate(session)]


def asking(least: int) -> Brief:
    goals = {"lats": {"least": least, "aim": least, "most": 12, "frequency": 1}, "quads": None}
    return small(THREE_EACH | {"goals": goals})


def facts_of(brief: Brief, found: list[SessionRecord]) -> WeekFacts:
    settled = instance_alone(brief.model_copy(update={"previous": tuple(found)}))
    return WeekFacts(settled, settled.previous)


@pytest.mark.parametrize("least", [3, 6, 9])
def test_what_is_needed_by_brute_force(least: int) -> None:
    """No wish costs more than with all, and no way of leaving exercises out for which that is so has fewer sets."""
    brief = asking(least)
    cost = referee.review(facts_of(brief, usual(PULLS))).tiers[1]
    found = facts_of(brief, with_needed(usual(PULLS), brief, ()))
    ways = [facts_of(brief, usual(kept)) for size in range(1, 4) for kept in combinations(PULLS, size)]
    allowed = [way for way in ways if referee.review(way).tiers[1] <= cost]
    assert referee.review(found).tiers[1] <= cost
    assert found.total("lats") == min(way.total("lats") for way in allowed)


def test_main_lifts_stay() -> None:
    (kept,) = with_needed(usual(PULLS), asking(3), PULLS)
    assert tuple(e.exercise for e in kept.exercises) == PULLS


def test_what_the_week_before_holds_stays_and_comes_first() -> None:
    (kept,) = with_needed(usual(PULLS), asking(6), (), usual(("neutral_grip_pulldown", "machine_chest_press")))
    assert tuple(e.exercise for e in kept.exercises)[:2] == ("neutral_grip_pulldown", "machine_chest_press")
    assert len(kept.exercises) == 3  # and one more pull for six sets


def test_no_muscle_loses_its_only_direct_exercise() -> None:
    """Rows and pulldowns count for the biceps, and a week without a curl would still have its sets."""
    brief = small(
        {
            "kinds": {"upper": {"patterns": ["vertical_pull", "elbow_flexion"]}},
            "goals": {"lats": {"least": 6, "aim": 6, "frequency": 1}, "biceps": {"least": 0, "aim": 0, "most": 12}},
            "exercises": {"only": [*PULLS, "dumbbell_curl", "cable_curl", "barbell_back_squat", "leg_press"]},
            "rules": {"frequency": {"mode": "off"}},
        }
    )
    (kept,) = with_needed(usual((*PULLS[:2], "dumbbell_curl", "cable_curl")), brief, ())
    assert len({"dumbbell_curl", "cable_curl"}.intersection(e.exercise for e in kept.exercises)) == 1
