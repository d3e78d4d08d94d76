"""What else: plans within a loss, so many moves apart, and none left out where it says that there are no more."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from scheduler import referee
from scheduler.answers.alternatives import Loss, alternatives, moves_between
from scheduler.briefs import read_brief
from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.facts import WeekFacts
from scheduler.planning import check, instance_of, solve
from scheduler.week.solver import Cancel

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def evenings(days: list[str], **parts: Any) -> Brief:
    """One session of one exercise, on one of some evenings: as many weeks as evenings, and one content."""
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": days, "start": "18:00", "end": "18:30", "place": "gym"}],
            "kinds": {
                "pull": {"patterns": ["horizontal_pull"], "sets": 3, "minutes": {"least": 0, "most": 30}, "per_week": 1}
            },
            "sessions": 1,
            "exercises": {"only": ["machine_row"]},
            "prescription": {"reps": {"heavy": 1, "light": 100}},
            "rules": {"stand_in": {"mode": "off"}, "coverage": {"mode": "off"}},
            **parts,
        }
    )


def facts(plan: Plan) -> WeekFacts:
    return referee.facts_of(instance_of(plan.brief), plan.sessions)


def test_every_evening_once_and_then_no_more() -> None:
    answer = alternatives(evenings(["mon", "tue", "thu", "sat"]), count=9, apart=1)
    assert answer.complete
    assert len(answer.alternatives) == 3
    days = {f"{p.sessions[0].start:%a}" for p in (answer.best, *(a.plan for a in answer.alternatives))}
    assert days == {"Mon", "Tue", "Thu", "Sat"}


def test_a_loss_of_nothing_leaves_out_what_costs_more() -> None:
    evening = {"start": "18:00", "end": "18:30", "place": "gym"}
    brief = evenings([], openings=[{**evening, "day": "mon", "preference": "preferred"}, {**evening, "day": "tue"}])
    none = alternatives(brief, apart=1, loss=Loss(0))
    assert none.complete
    assert not none.alternatives
    some = alternatives(brief, apart=1, loss=Loss(0), losses={3: Loss(50, percent=False)})
    assert len(some.alternatives) == 1
    assert {t.tier: t.cost for t in some.alternatives[0].difference.tiers}[3] == 4


@pytest.mark.parametrize("apart", [1, 3])
def test_within_the_loss_and_apart(apart: int) -> None:
    brief = evenings(
        ["mon", "tue", "thu", "sat"],
        kinds={
            "pull": {
                "patterns": ["horizontal_pull", "vertical_pull"],
                "sets": {"least": 3, "most": 9},
                "minutes": {"least": 0, "most": 30},
                "per_week": 2,
            }
        },
        sessions=2,
        exercises={"only": ["machine_row", "lat_pulldown", "chin_up", "seated_cable_row"]},
        goals={"lats": {"least": 2, "aim": 6, "most": 14}},
    )
    best = solve(brief)
    answer = alternatives(brief, count=4, apart=apart, best=best, loss=Loss(25))
    assert answer.best is best
    assert answer.alternatives
    plans = [best, *(a.plan for a in answer.alternatives)]
    for number, alternative in enumerate(answer.alternatives, start=1):
        plan = alternative.plan
        assert plan.status is PlanStatus.FEASIBLE
        assert check(brief, plan.sessions).holds
        assert alternative.moves == tuple(moves_between(facts(p), facts(plan)) for p in plans[:number])
        assert min(alternative.moves) >= apart
        for tier in plan.tiers:
            assert tier.value <= answer.loss.get(tier.tier, tier.value)
        assert plan.cautions


def test_the_first_to_come_differ_in_one_session() -> None:
    """Where one session can be otherwise there is no need to look further (what a reader takes in at a glance)."""
    brief = read_brief(SCENARIOS / "traveller.yaml")
    answer = alternatives(brief, count=2)

    def contents(plan: Plan) -> Counter[tuple[str, ...]]:
        return Counter(
            (s.kind, *sorted(f"{catalogue[e.exercise].pattern} {e.zone} {e.sets}" for e in s.entries))
            for s in plan.sessions
        )

    catalogue = load_catalogue().exercises
    assert len(answer.alternatives) == 2
    for each in answer.alternatives:
        assert (contents(answer.best) - contents(each.plan)).total() <= 1


def test_moves_are_counted_by_hand() -> None:
    brief = evenings(["mon", "thu"])
    plan = solve(brief)
    (session,) = plan.sessions
    start, end = (f"2026-03-03T{clock}+00:00" for clock in ("18:00", "18:25"))
    moved = session.model_validate({**session.model_dump(), "start": start, "end": end})
    later = session.model_copy(update={"start": session.start.replace(minute=55), "end": session.end.replace(hour=19)})
    others = [
        (plan.sessions, 0),
        ((moved,), 1),
        ((later,), 0),
        ((), 2),
        ((session, moved), 1),
    ]
    for sessions, moves in others:
        other = referee.facts_of(instance_of(brief), sessions)
        assert moves_between(facts(plan), other) == moves_between(other, facts(plan)) == moves


def test_an_impossible_week_has_no_alternatives() -> None:
    answer = alternatives(evenings(["mon"], sessions=2))
    assert answer.best.status is PlanStatus.IMPOSSIBLE
    assert not answer.alternatives


def test_a_search_that_was_cut_short_says_so() -> None:
    brief = evenings(["mon", "tue", "thu", "sat"])
    stop = Cancel()
    stop.set()
    cut = alternatives(brief, best=solve(brief), cancel=stop)
    assert cut.truncated
    assert not cut.complete
    whole = alternatives(brief, best=solve(brief), count=50)
    assert whole.complete
    assert not whole.truncated


def test_losses() -> None:
    assert Loss(10).most(25) == 27
    assert Loss(3, percent=False).most(25) == 28
    assert all(one.most(7) <= other.most(7) for one, other in pairwise([Loss(0), Loss(20), Loss(50)]))
