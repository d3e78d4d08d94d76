"""Re-plan: identity when nothing changed, done sessions bit-equal, no more moves than the least there can be."""

from __future__ import annotations

import datetime as dt
import os
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from scheduler.answers.replan import record_of, replan
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan, PlanStatus, Role
from scheduler.planning import check, instance_of, solve
from scheduler.referee import facts_of
from scheduler.week.solver import Limits
from tests.solving.enumeration import enumerate_best
from tests.solving.strategies import briefs, records

SMALL = Limits(deterministic_seconds=1.0)
profile = settings(
    max_examples=int(os.environ.get("WEEKWRIGHT_EXAMPLES", "25")),
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)


def tiny(**parts: Any) -> Brief:
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "tue", "thu"], "start": "18:00", "end": "18:20", "place": "gym"}],
            "kinds": {
                "pull": {
                    "patterns": ["horizontal_pull", "vertical_pull"],
                    "sets": {"least": 2, "most": 4},
                    "minutes": {"least": 0, "most": 15},
                    "per_week": 2,
                }
            },
            "sessions": 2,
            "prescription": {
                "reps": {"heavy": 1, "light": 100},
                "rest_seconds": {"moderate": 60},
                "warm_up_minutes": 0,
                "sets_per_exercise": {"least": 2, "most": 4},
            },
            "goals": {"lats": {"least": 2, "aim": 5, "most": 8}},
            "exercises": {"only": ["machine_row", "lat_pulldown"]},
            "rules": {"stand_in": {"mode": "off"}, "coverage": {"mode": "off"}},
            **parts,
        }
    )


@pytest.fixture(scope="module")
def old() -> Plan:
    plan = solve(tiny())
    assert plan.status is PlanStatus.OPTIMAL
    assert [f"{s.start:%a}" for s in plan.sessions] == ["Mon", "Thu"] or len(plan.sessions) == 2
    return plan


def days(plan: Plan) -> list[str]:
    return [f"{s.start:%a}".lower() for s in plan.sessions]


def test_nothing_to_change(old: Plan) -> None:
    answer = replan(old)
    assert answer.unchanged
    assert answer.sentence == "Nothing needs to change."
    assert answer.plan == old
    assert not answer.moves


def test_done_is_done(old: Plan) -> None:
    answer = replan(old, done=days(old)[:1])
    assert answer.unchanged
    assert answer.plan.sessions[0] == old.sessions[0].model_copy(update={"state": "done"})
    assert answer.plan.sessions[1] == old.sessions[1]
    again = replan(answer.plan, done=days(old)[1:])
    assert [s.state for s in again.plan.sessions] == ["done", "done"]
    assert [s.entries for s in again.plan.sessions] == [s.entries for s in old.sessions]


@pytest.mark.parametrize(
    "changes", [None, {"goals": {"lats": {"aim": 7}}}, {"exercises": {"avoided": ["machine_row"]}}]
)
@pytest.mark.parametrize("missed", [False, True])
def test_no_more_change_than_the_least_of_all_weeks(old: Plan, changes: dict[str, Any] | None, missed: bool) -> None:
    first = days(old)[:1]
    answer = replan(old, missed=first if missed else (), done=() if missed else first, changes=changes)
    naive = enumerate_best(answer.plan.brief)
    assert naive.best is not None
    values = tuple(t.value for t in answer.plan.tiers)
    if answer.unchanged:
        assert values[:2] == naive.best[:2] or values[0] <= old.tiers[0].value
    else:
        assert values == naive.best_like(facts_of(instance_of(answer.plan.brief), answer.plan.sessions))


def test_every_move_has_its_reason(old: Plan) -> None:
    answer = replan(old, missed=days(old)[:1])
    assert not answer.unchanged
    assert answer.moves
    assert all(move.causes for move in answer.moves)
    assert answer.moves[0].causes[0].rule == "missed"


def test_a_rule_that_forces_a_move_is_named(old: Plan) -> None:
    second = old.sessions[1]
    busy = {"title": "dentist", "start": second.start.isoformat(), "end": second.end.isoformat()}
    answer = replan(old, done=days(old)[:1], changes={"busy": [busy]})
    assert not answer.unchanged
    assert {cause.rule for move in answer.moves for cause in move.causes} >= {"busy"}


def test_a_pin_that_was_done_is_fulfilled_and_a_missed_one_loses_its_time() -> None:
    pin = {"kind": "pull", "day": "mon", "start": "18:00", "exercises": [{"exercise": "machine_row"}]}
    plan = solve(tiny(pinned=[pin]))
    assert replan(plan, done=["mon"]).plan.brief.pinned == ()
    freed = replan(plan, missed=["mon"])
    assert freed.plan.brief.pinned[0].day is None
    assert freed.plan.tiers
    assert any(e.exercise == "machine_row" for s in freed.plan.sessions for e in s.entries)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"done": ["sun"]}, "names no session"),
        ({"done": ["pull"]}, "names 2 sessions"),
        ({"done": ["mon legs pull"]}, "names no session"),
        ({"done": ["mon"], "missed": ["mon"]}, "done and missed"),
        ({"now": dt.datetime(2026, 3, 8, 12)}, "neither done nor missed"),
        ({"now": dt.datetime(2026, 3, 2, 7), "done": ["mon"]}, "has not started"),
        ({"now": dt.datetime(2026, 4, 2, 7)}, "outside the week"),
        ({"changes": {"goals": {"latz": {}}}}, "unknown muscle"),
    ],
)
def test_what_cannot_be_used_is_said(old: Plan, asked: dict[str, Any], words: str) -> None:
    asked = {
        key: [days(old)[0] if v == "mon" else v for v in value] if isinstance(value, list) else value
        for key, value in asked.items()
    }
    with pytest.raises(InputError, match=words):
        replan(old, **asked)


@profile
@given(briefs(), st.data())
def test_identity_and_done_on_any_brief(data: dict[str, Any], draw: st.DataObject) -> None:
    """Nothing changed: the same plan. The first sessions done: bit-equal, and the rest is no worse than it was."""
    try:
        plan = solve(Brief.model_validate(data), limits=SMALL)
    except InputError:
        return
    if not plan.tiers:
        return
    assert replan(plan, limits=SMALL).plan == plan
    coming = [s for s in plan.sessions if s.state != "done"]
    if not coming or any(s.state == "done" and s.start > coming[0].start for s in plan.sessions):
        return
    number = draw.draw(st.integers(1, len(coming)))
    past = [f"{s.start:%a} {s.kind}" for s in coming[:number]]
    lost = draw.draw(st.integers(0, number))
    try:
        answer = replan(plan, done=past[lost:], missed=past[:lost], limits=SMALL)
    except InputError:
        event("refused: two of a kind on one day")
        return
    event(f"unchanged {answer.unchanged}, {answer.plan.status.value}")
    done = [s for s in answer.plan.sessions if s.state == "done"]
    asked = [s.model_copy(update={"state": "done"}) for s in plan.sessions if s.state == "done"]
    asked += [s.model_copy(update={"state": "done"}) for s in coming[lost:number]]
    assert sorted(done, key=lambda s: s.start) == sorted(asked, key=lambda s: s.start)
    if not answer.plan.tiers:
        return
    assert all(s.start >= answer.now for s in answer.plan.sessions if s.state != "done")
    kept = check(answer.plan.brief, coming[number:])
    if kept.holds:
        now, before = ([t.value for t in p.tiers[:2]] for p in (answer.plan, kept.plan))
        assert now <= before or answer.unchanged
    if lost == 0 and kept.holds and kept.plan.tiers[0].value <= plan.tiers[0].value:
        assert answer.unchanged


def test_a_missed_session_is_not_planned_in_the_past_whatever_the_brief_says(old: Plan) -> None:
    plan = solve(old.brief.model_copy(update={"rules": {**old.brief.rules, "not_before": {"mode": "off"}}}))
    answer = replan(plan, missed=[f"{plan.sessions[0].start:%a}"])
    assert answer.plan.sessions
    assert all(s.start >= answer.now for s in answer.plan.sessions)


def pressing(sets: int, **more: Any) -> Brief:
    """Two sessions of presses, the first with a barbell bench press of so many sets pinned."""
    kind = {
        "base": "push",
        "per_week": 2,
        "required": ["horizontal_push"],
        "sets": {"least": 3, "most": 9},
        "minutes": {"least": 10, "most": 90},
    }
    asked = {
        "week": {"start": "2027-01-11"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "thu"], "start": "17:00", "end": "18:30", "place": "gym"}],
        "kinds": {"push": kind},
        "goals": {"pectorals": {"least": 6, "aim": 10, "most": 20}},
        "pinned": [{"kind": "push", "day": "mon", "exercises": [{"exercise": "barbell_bench_press", "sets": sets}]}],
        "rules": {"stand_in": {"mode": "off"}, "even_lengths": {"mode": "off"}},
    }
    return Brief.model_validate({**asked, **more})


@pytest.mark.parametrize(
    "asked",
    [
        pressing(5, lifter={"status": "novice"}),
        pressing(3, exercises={"only": ["cable_lateral_raise"]}),
    ],
    ids=["more sets than a novice has", "an exercise beside the brief's own"],
)
def test_what_a_pin_let_in_stays_when_its_session_is_done(asked: Brief) -> None:
    base = solve(asked)
    assert {e.exercise for e in base.sessions[0].entries} == {"barbell_bench_press"}
    assert replan(base, done=["mon"]).sentence == "Nothing needs to change."


def test_a_wish_that_falls_shorter_is_seen_though_another_one_went() -> None:
    """The biceps could not be trained and cost more than the sets that the chest lacks of its new aim."""
    goals = {"pectorals": {"least": 3, "aim": 4, "most": 20}, "biceps": {"least": 4, "aim": 10}}
    base = solve(pressing(3, goals=goals, pinned=[]))
    found = replan(base, done=["mon"], changes={"goals": {"biceps": None, "pectorals": {"aim": 8}}})
    assert not found.unchanged
    assert not [f for r in found.plan.rules if r.tier == 1 for f in r.findings if f.breach]


def test_a_record_leaves_activation_out(old: Plan) -> None:
    session = old.sessions[0]
    light = session.entries[0].model_copy(update={"role": Role.ACTIVATION})
    assert record_of(session.model_copy(update={"entries": (light, *session.entries)})) == record_of(session)


@st.composite
def briefs_with_a_previous_plan(draw: st.DrawFn) -> dict[str, Any]:
    """Any brief, and sessions that some earlier plan may have had: two of a kind on one day among them."""
    data = draw(briefs())
    pool, kinds = data["exercises"]["only"], list(data["kinds"])
    found = draw(records(pool, kinds, range(7), 3))
    twice = [{**r, "start": r["start"].split("T")[0] + "T22:30:00", "minutes": 20} for r in found[:1]]
    data["previous"] = found + (twice if draw(st.booleans()) else [])
    data["rules"] = {key: row for key, row in data["rules"].items() if key != "change"}
    return data


@profile
@given(briefs_with_a_previous_plan())
def test_solver_and_referee_agree_on_what_changed(data: dict[str, Any]) -> None:
    """``solve`` raises where the referee counts another change than the solver; the parts are solved in their order."""
    try:
        plan = solve(Brief.model_validate(data), limits=SMALL)
    except InputError:
        return
    if not plan.tiers:
        event("no plan")
        return
    tier = plan.tiers[1]
    event("no change" if not tier.value else "change")
    if tier.proved:
        assert tier.value == tier.bound
    assert check(plan.brief, plan.sessions).plan.tiers[1].value == tier.value
