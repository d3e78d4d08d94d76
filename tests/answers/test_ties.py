"""What only ties with a base plan is put back: no tier dearer, no must broken, never more change than before."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from scheduler.answers.ties import held
from scheduler.answers.variants import difference, what_if
from scheduler.answers.why_not import why_not
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.units import DAYS
from scheduler.domain.variants import Demand
from scheduler.planning import check, solve
from scheduler.rules import SAME_WORK_FROM, TIER_NAMES
from scheduler.week.solver import Limits
from tests.solving.strategies import briefs

TIE_BREAK = max(TIER_NAMES)


def values(plan: Plan) -> list[int]:
    return [t.value for t in plan.tiers if t.tier != TIE_BREAK]


def curls(**parts: Any) -> Brief:
    """Two curls, both wanted for variety, one a day: which comes first is a tie."""
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "thu"], "start": "18:00", "end": "18:40", "place": "gym"}],
            "kinds": {
                "arms": {
                    "patterns": ["elbow_flexion"],
                    "per_week": 2,
                    "sets": {"least": 3, "most": 4},
                    "required": [],
                    "minutes": {"least": 0, "most": 40},
                }
            },
            "sessions": 2,
            "goals": {"biceps": {"aim": 6}},
            "exercises": {"only": ["ez_bar_curl", "dumbbell_curl"], "least_distinct": {"biceps": 2}},
            "rules": {"stand_in": {"mode": "off"}},
            **parts,
        }
    )


def exercises(plan: Plan) -> list[list[str]]:
    return [[e.exercise for e in s.entries] for s in plan.sessions]


def swapped(plan: Plan) -> Plan:
    """The same week with the contents of its two sessions the other way round, refereed."""
    one, other = plan.sessions
    sessions = (one.model_copy(update={"entries": other.entries}), other.model_copy(update={"entries": one.entries}))
    report = check(plan.brief, sessions)
    assert report.holds
    return report.plan.model_copy(update={"sessions": sessions, "status": plan.status})


def test_a_week_that_only_ties_becomes_the_base_week_again() -> None:
    base = solve(curls())
    other = swapped(base)
    assert exercises(other) != exercises(base)
    assert values(other) == values(base), "it is a tie indeed"
    back = held(base, other)
    assert exercises(back) == exercises(base)
    assert difference(base, back).is_empty
    assert back.status is base.status
    assert check(back.brief, back.sessions).holds


def test_a_session_on_another_day_keeps_what_it_held() -> None:
    """Thursday's session asked for on Friday, at no cost: no other exercises for the sake of fewer stations, which are
    fewest for one work and say nothing of another."""
    brief = Brief.model_validate(
        {
            "week": {"start": "2026-11-30"},
            "lifter": {"age_band": "50_64", "cautions": ["knee"]},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [
                {"day": ["mon", "tue", "wed", "thu", "fri"], "start": "09:00", "end": "11:00", "place": "gym"}
            ],
            "kinds": {"full": {"base": "full_body", "per_week": 2}},
            "goals": {
                "quads": {"aim": 8, "priority": 1},
                **{key: {"aim": 8} for key in ("glutes", "hamstrings", "back", "pectorals", "side_delts")},
            },
        }
    )
    base = solve(brief)
    (day,) = {DAYS[s.start.weekday()] for s in base.sessions} - {DAYS[0]}
    asked = DAYS[4] if day != DAYS[4] else DAYS[3]
    demand = Demand.model_validate({"kind": "full", "day": asked.value, "start": "09:00"})
    found = why_not(brief, demand, base=base)
    assert found.difference is not None
    assert [move.sentence for move in found.difference.moved] != []
    assert found.difference.contents == ()
    assert found.possibility == "possible, at no cost"


def test_what_does_not_tie_stays_different() -> None:
    base = solve(curls())
    (favoured,) = {"ez_bar_curl", "dumbbell_curl"} - set(exercises(base)[0])
    asked = curls(pinned=[{"kind": "arms", "day": "mon", "exercises": [{"exercise": favoured}]}])
    plan = held(base, solve(asked))
    assert favoured in exercises(plan)[0]
    assert [s.state for s in plan.sessions].count("pinned") == 1


def test_a_plan_is_itself_and_an_impossible_one_stays_so() -> None:
    base = solve(curls())
    assert held(base, base) is base
    never = solve(curls(sessions=2, openings=[{"day": "mon", "start": "18:00", "end": "18:40", "place": "gym"}]))
    assert never.status is PlanStatus.IMPOSSIBLE
    assert held(base, never) is never
    assert held(never, base) is base


def settled(data: dict[str, Any]) -> tuple[Brief, Plan]:
    """A brief and its proved plan."""
    try:
        brief = Brief.model_validate(data)
        plan = solve(brief, limits=Limits(deterministic_seconds=2))
    except (InputError, ValueError):
        assume(False)
    assume(plan.status is PlanStatus.OPTIMAL)
    return brief, plan


@settings(max_examples=15, derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(briefs())
def test_no_tier_becomes_dearer_and_no_session_is_moved_for_it(data: dict[str, Any]) -> None:
    brief, base = settled(data)
    goals = dict(list(brief.goals.items())[1:])
    _, plan = settled(brief.model_copy(update={"goals": goals}).model_dump(mode="json"))
    near = held(base, plan)
    report = check(plan.brief, near.sessions)
    assert report.holds
    dearer = [a.tier for a, b in zip(report.plan.tiers, plan.tiers, strict=True) if a.value > b.value]
    if any(tier != TIE_BREAK for tier in dearer):
        # Stations are fewest for one work: with the base plan's work they are the base plan's.
        assert min(dearer) >= SAME_WORK_FROM
        assert not difference(base, near).contents
    assert values(near) == values(report.plan)
    before, after = difference(base, plan), difference(base, near)
    assert len(after.added) + len(after.dropped) <= len(before.added) + len(before.dropped)
    assert len(after.moved) <= len(before.moved)
    assert after.moves <= before.moves or len(after.moved) < len(before.moved)


@settings(max_examples=15, derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(briefs(), st.sampled_from(DAYS), st.data())
def test_the_price_of_a_demand_is_that_of_a_search_from_nothing(
    found: dict[str, Any], day: Any, data: st.DataObject
) -> None:
    """With the base plan's proved costs as floors, and without: the same costs, tier by tier."""
    brief, base = settled(found)
    demand = Demand(kind=data.draw(st.sampled_from(list(brief.kinds))), day=day)
    try:
        answer = why_not(brief, demand, base=base)
    except InputError:
        assume(False)
    if answer.plan is None:
        assert answer.verified
    elif answer.plan.status is PlanStatus.OPTIMAL:
        assert values(solve(answer.plan.brief)) == values(answer.plan)


def test_variants_are_held_to_the_base_plan() -> None:
    base = solve(curls())
    (variant,) = what_if(curls(), {"less": {"goals": {"biceps": {"aim": 5}}}}, base=base).variants
    assert variant.difference.is_empty, "the aim is met as it was"


@pytest.mark.parametrize("tier", [1, 3, 4])
def test_the_tie_break_is_no_cost(tier: int) -> None:
    changes = difference(solve(curls()), solve(curls(goals={"biceps": {"aim": 5}})))
    assert tier in {t.tier for t in changes.tiers}
    assert TIE_BREAK not in {t.tier for t in changes.tiers}
