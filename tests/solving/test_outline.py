"""A week solved by way of its outline costs what it costs without one, and every week has an outline.

The peer is the same model solved tier by tier without an outline. Relaxing a problem, solving that and repairing the
answer is a textbook way to bounds that hold (Wolsey, Integer Programming, chapter on relaxation and duality, from
memory); what is checked is that ours is a relaxation, and that what it finds can be had.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import event, given, settings

from scheduler import referee
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.planning import instance_of, solve
from scheduler.rules import SAME_WORK_FROM
from scheduler.week import climb
from scheduler.week.goals import goals
from scheduler.week.lengths import tell_time_by_zone
from scheduler.week.model import Week
from scheduler.week.outline import Fit
from scheduler.week.solver import Cancel, Limits, Outcome, search
from scheduler.week.tiers import solve_week
from tests.solving.costs import assert_same_costs
from tests.solving.one_model import solve_tiers
from tests.solving.strategies import briefs, settled
from tests.solving.test_properties import profile

LIMITS = Limits(deterministic_seconds=1.0)


@settings(profile)
@given(data=briefs())
def test_the_same_costs_are_proved_without_an_outline(data: dict[str, Any]) -> None:
    instance = settled(data)
    if instance is None:
        return
    drawn = solve_week(instance, LIMITS)
    plain = solve_tiers(Week(instance), LIMITS)
    assert_same_costs(drawn, plain)


def brief(**parts: Any) -> Brief:
    """Two upper days; minutes and stations differ among what trains the same."""
    kind = {"base": "upper", "per_week": 2, "minutes": {"least": 30, "most": 75}}
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "thu"], "start": "18:00", "end": "19:30", "place": "gym"}],
            "kinds": {"upper": kind},
            "sessions": 2,
            "goals": {"lats": {"aim": 10, "frequency": 2}, "pectorals": {"aim": 9}},
            **parts,
        }
    )


def test_where_nothing_fits_an_outline_the_week_is_solved_from_one_near_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """That near week is told of its times, in variables that the week has not: only the others are gone on from."""
    near_weeks: list[Week] = []

    def told(week: Week) -> None:
        near_weeks.append(week)
        tell_time_by_zone(week)

    monkeypatch.setattr(Fit, "weeks", lambda *_: iter(()))
    monkeypatch.setattr(climb.Climb, "floors", lambda _: {})
    monkeypatch.setattr(climb, "_QUICK", Limits(deterministic_seconds=0.01))
    monkeypatch.setattr(climb, "tell_time_by_zone", told)
    asked = {"lats": {"aim": 14, "frequency": 2}, "pectorals": {"aim": 14}, "quads": {"aim": 9}}
    instance = instance_of(brief(goals=asked))
    drawn = solve_week(instance, LIMITS)
    plain = solve_tiers(Week(instance), LIMITS)
    assert near_weeks
    for own, other in zip(drawn.tiers[:6], plain.tiers[:6], strict=True):
        assert (own.value, own.proved) == (other.value, True)


def test_an_outline_merges_more() -> None:
    """Exercises that differ in set-up, seconds a set or station are one there: so there is less to decide."""
    instance = instance_of(brief())
    week, outline = Week(instance), Week(instance, outline=True)
    options = [sum(len(s.options) for s in model.open_sessions) for model in (week, outline)]
    assert options[1] < 0.7 * options[0]
    by_key = {c.key: c for c in outline.classes}
    assert any(
        len({(instance.pool[key].station, instance.pool[key].setup_seconds) for key in c.members}) > 1
        for c in by_key.values()
    )


def test_what_can_only_be_heavy_is_no_add_on_in_outline_either() -> None:
    """Deadlifts suit up to ten reps: where moderate work is twelve they are heavy, and quick sets are not."""
    kind = {"base": "legs", "per_week": 1, "add_on": {"pattern": "hinge", "sets": {"least": 1, "most": 3}}}
    asked = brief(
        kinds={"legs": kind},
        sessions=1,
        goals={"quads": {"aim": 6}},
        prescription={"reps": {"moderate": 12, "light": 20}},
        rules={"rep_mix": {"mode": "off"}},
    )
    plan = solve(asked)
    assert plan.tiers
    outline = Week(instance_of(asked), outline=True)
    deadlifts = [o for s in outline.open_sessions for o in s.options if "conventional_deadlift" in o.stimulus.members]
    assert {o.role for o in deadlifts} == {Role.MAIN}


def _settled(instance: Instance, week: Week, outcome: Outcome) -> Week:
    """The outline's model, held to what a week is: its times, and its exercises and sets as they fall together."""
    outline = Week(instance, outline=True)
    for own, drawn in zip(week.open_sessions, outline.open_sessions, strict=True):
        for spot, literal in drawn.spots.items():
            outline.model.add(literal == outcome[own.spots[spot]])
        outline.model.add(drawn.start == outcome[own.start])
        outline.model.add(drawn.length == outcome[own.length])
        for option in drawn.options:
            mine = [
                o
                for o in own.options
                if o.role is option.role and o.stimulus.key in option.stimulus.members and o.zone in option.zones
            ]
            outline.model.add(option.uses == sum(outcome[o.uses] for o in mine))
            outline.model.add(option.sets == sum(outcome[o.sets] for o in mine))
    return outline


@settings(profile)
@given(data=briefs())
def test_every_week_has_an_outline_at_its_cost(data: dict[str, Any]) -> None:
    """Any week's times, exercises and sets are an outline's too, at no more in any tier that an outline knows."""
    instance = settled(data)
    if instance is None:
        return
    week = Week(instance)
    found = search(week.model, None, LIMITS, light=True)
    if not found.solution:
        event("no week")
        return
    outline = _settled(instance, week, found)
    tell_time_by_zone(outline)
    for tier in range(1, SAME_WORK_FROM):
        for own, drawn in zip(goals(week, tier), goals(outline, tier), strict=True):
            outline.model.add(drawn <= found[own])
    assert search(outline.model, None, LIMITS).solution, "the outline knows less than the week allows"
    event("drawn")


@pytest.mark.parametrize("pairing", ["off", "wish"])
def test_what_is_proved_in_outline_is_what_the_referee_counts(pairing: str) -> None:
    """Pairs share rests: in outline by pattern, in the week exercise by exercise."""
    rules = {"pairing": {"mode": pairing, "least_pairs": 1}} if pairing != "off" else {}
    instance = instance_of(brief(rules=rules))
    drawn = solve_week(instance, Limits())
    plain = solve_tiers(Week(instance), Limits())
    counted = referee.review(WeekFacts(instance, drawn.sessions)).tiers
    early = [t for t in drawn.tiers if t.tier < SAME_WORK_FROM]
    assert early
    for own, other in zip(early, plain.tiers, strict=False):
        assert (own.value, own.proved) == (other.value, other.proved)
        assert counted[own.tier] == own.value


def test_a_stop_while_drawing_still_gives_a_week() -> None:
    """A stop in the first tier, which an outline is in: a week is fitted to what was drawn by then."""
    stop = Cancel()
    plan = solve(brief(), cancel=stop, progress=lambda *_: stop.set())
    assert plan.sessions
    assert plan.status.value in ("stopped", "proved best")
    assert not [f for r in plan.rules for f in r.findings if f.mode.value == "must" and f.broken]


def test_floors_that_were_known_go_where_one_before_them_was_raised() -> None:
    """A tier's floor is said of weeks in which every tier before comes to its own."""
    known = {1: 4, 2: 0, 3: 20, 4: 7, 5: 9}
    assert climb.joined(known, {}) == known
    assert climb.joined(known, {1: 4, 2: 0}) == known
    assert climb.joined(known, {1: 6}) == {1: 6}
    assert climb.joined(known, {1: 4, 2: 0, 3: 24}) == {1: 4, 2: 0, 3: 24}
    assert climb.joined({}, {1: 4}) == {1: 4}
