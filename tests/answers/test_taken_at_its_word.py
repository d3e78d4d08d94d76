"""Answers that were taken, pins and concessions hold on when the week goes on and is asked again.

Each of these once came to "impossible", to an error, or to an answer that its own plan did not keep.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from scheduler.answers.alternatives import Loss, alternatives
from scheduler.answers.conflicts import explain, explain_short
from scheduler.answers.merge_patch import merge_patch
from scheduler.answers.pose import conceding
from scheduler.answers.replan import replan, rest_of
from scheduler.answers.variants import what_if
from scheduler.answers.why_not import Demand, why_not
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import PlanStatus
from scheduler.domain.units import Day
from scheduler.domain.variants import Possibility
from scheduler.planning import check, solve

CURLS = ["dumbbell_curl", "hammer_curl"]


def curls(days: list[str], number: int, *, kind: dict[str, Any] | None = None, **more: Any) -> Brief:
    """So many sessions of three sets of curls, on evenings of 50 minutes."""
    one = {
        "patterns": ["elbow_flexion"],
        "per_week": number,
        "sets": {"least": 3, "most": 4},
        "required": [],
        "minutes": {"least": 0, "most": 50},
    }
    often = {"least": 1, "most": 5}
    asked: dict[str, Any] = {
        "week": {"start": "2026-03-02"},
        "places": {"gym": {"base": "full_gym"}, "two": {"base": "full_gym"}},
        "openings": [{"day": days, "start": "18:00", "end": "18:50", "place": "gym"}],
        "kinds": {"one": {**one, **(kind or {})}},
        "sessions": {"least": 1, "most": 5},
        "goals": {"biceps": {"least": 3, "aim": 9, "recovery_hours": 0, "frequency": often}},
        "exercises": {"only": CURLS},
        "rules": {"stand_in": {"mode": "off"}},
    }
    return Brief.model_validate({**asked, **more})


def days_of(brief: Brief) -> list[str]:
    plan = solve(brief)
    return [f"{session.start:%a}" for session in plan.sessions]


def test_a_demand_is_not_met_by_what_the_brief_concedes_of_it() -> None:
    """One part of the pin may give way: a demand that takes its place gives way by nothing."""
    brief = curls(
        ["mon", "thu"], 1, pinned=[{"kind": "one", "day": "mon", "start": "18:45"}], concessions={"pinned:0": 1}
    )
    plan = solve(brief)
    assert why_not(brief, Demand(kind="one", day=Day.SUN), base=plan).possibility is Possibility.IMPOSSIBLE
    thursday = why_not(brief, Demand(kind="one", day=Day.THU), base=plan)
    assert thursday.plan is not None
    assert [f"{s.start:%a}" for s in thursday.plan.sessions] == ["Thu"]


def test_a_wish_is_not_granted_by_what_the_brief_concedes_of_it() -> None:
    brief = curls(["mon", "thu"], 1, concessions={"weekly_sets:aim:biceps": 40})
    assert not explain_short(brief, "weekly_sets:aim:biceps", budget_seconds=20).can_be_met


def test_a_kind_may_get_as_many_sessions_more_as_are_asked_for_in_all() -> None:
    brief = curls(["mon", "tue", "wed", "thu", "fri"], 1, sessions=3)
    two_more = {"session_count:kind:one": 2}
    found = explain(brief, budget_seconds=30, protected=("session_count:all",))
    assert [mend.patch["concessions"] for mend in found.mends] == [two_more]
    cheap = explain(brief, budget_seconds=30, costs={"session_count:kind:one": 1}, most_mends=1)
    assert [mend.patch["concessions"] for mend in cheap.mends] == [two_more]
    assert len(days_of(conceding(brief, two_more))) == 3


def test_a_count_that_is_a_wish_may_be_broken_by_any_number() -> None:
    rules = {"stand_in": {"mode": "off"}, "session_count": {"mode": "wish"}}
    brief = curls(["mon", "tue", "wed", "thu", "fri"], 1, sessions=3, rules=rules, musts=["session_count:all"])
    assert len(days_of(brief)) == 3


@pytest.mark.parametrize("clock", ["18:05", "18:07"])
@pytest.mark.parametrize("which", ["done", "missed"])
def test_a_pin_between_two_slots_is_fulfilled_or_freed(clock: str, which: str) -> None:
    plan = solve(curls(["mon", "thu"], 2, pinned=[{"kind": "one", "day": "mon", "start": clock}]))
    rest = rest_of(plan, **{which: ["mon"]})
    assert [(pin.day, pin.start) for pin in rest.pinned] == ([] if which == "done" else [(None, None)])
    assert replan(plan, **{which: ["mon"]}).plan.sessions


def test_a_week_taken_from_an_answer_goes_on() -> None:
    """The answer's plan holds a must on a pin, which is fulfilled once its session is done."""
    brief = curls(["mon", "tue", "fri", "sat"], 3)
    base = solve(brief)
    assert [f"{s.start:%a}" for s in base.sessions] == ["Mon", "Tue", "Fri"]
    answer = why_not(brief, Demand(kind="one", day=Day.SAT), base=base).plan
    assert answer is not None
    assert answer.brief.musts == ("pinned:0",)
    names = [f"{session.start:%a}" for session in answer.sessions]
    assert replan(answer, done=names).sentence == "Nothing needs to change."
    assert rest_of(answer, done=names).musts == ()


def test_a_concession_stays_with_its_pin_when_one_before_it_is_done() -> None:
    pins = [
        {"kind": "one", "day": "mon"},
        {"kind": "one", "day": "wed", "start": "17:00"},
        {"kind": "one", "day": "fri", "start": "18:00"},
    ]
    plan = solve(curls(["mon", "wed", "fri"], 3, pinned=pins, concessions={"pinned:1": 1}))
    rest = rest_of(plan, done=["mon"])
    assert [pin.day for pin in rest.pinned] == ["wed", "fri"]
    assert rest.concessions == {"pinned:0": 1}
    assert replan(plan, done=["mon"]).unchanged


def test_a_done_session_fulfils_the_pin_that_no_other_session_does() -> None:
    """Monday is at the second place with both curls, Wednesday holds a dumbbell curl: each has a pin of its own."""
    openings = [
        {"day": "mon", "start": "18:00", "end": "18:50", "place": "two"},
        {"day": ["wed", "fri"], "start": "18:00", "end": "18:50", "place": "gym"},
    ]
    pins = [{"kind": "one", "place": "two"}, {"kind": "one", "exercises": [{"exercise": "dumbbell_curl"}]}]
    kind = {"per_week": {"least": 2, "most": 3}, "sets": {"least": 4, "most": 8}}
    plan = solve(curls([], 2, kind=kind, openings=openings, pinned=pins))
    assert plan.sessions[0].place == "two"
    assert replan(plan, done=["mon"]).unchanged
    assert [pin.place for pin in rest_of(plan, done=["mon"]).pinned] == [None]


def test_two_sessions_of_a_kind_on_one_day_are_named_by_their_times() -> None:
    openings = [{"day": "thu", "start": at, "end": f"{at[:2]}:50", "place": "gym"} for at in ("07:00", "18:00")]
    rules = {"stand_in": {"mode": "off"}, "sessions_a_day": {"most": 2}}
    plan = solve(curls([], 2, openings=openings, rules=rules))
    assert replan(plan, done=["thu 07:00"]).unchanged
    assert replan(plan, done=["Thu 07:00 one", "thu 18:00"]).plan.sessions
    with pytest.raises(InputError, match="Write weekday, time and kind: mon 18:00 back"):
        replan(plan, done=["thu one"])


def test_what_is_conceded_of_an_event_stays_with_it() -> None:
    """The board meeting may move by five minutes: a dentist who comes before it in the week takes nothing over."""
    board = {"title": "board", "start": "2026-03-04T18:10", "end": "2026-03-04T19:00"}
    openings = [{"day": ["wed", "thu"], "start": "18:00", "end": "18:30", "place": "gym"}]
    brief = curls([], 2, openings=openings, busy=[board])
    (mend,) = explain(brief, budget_seconds=20, costs={"busy": 1}, most_mends=1).mends
    assert mend.patch == {"concessions": {"busy:wed-1810": 1}}
    mended = Brief.model_validate(merge_patch(brief.model_dump(mode="json"), dict(mend.patch)))
    dentist = {"title": "dentist", "start": "2026-03-02T08:00", "end": "2026-03-02T09:00"}
    busy = [dentist, *mended.model_dump(mode="json")["busy"]]
    plan = solve(mended)
    assert what_if(mended, {"dentist": {"busy": busy}}, base=plan).variants[0].plan.status is PlanStatus.OPTIMAL
    assert replan(plan, changes={"busy": busy}).unchanged


def test_alternatives_count_sessions_of_each_kind() -> None:
    """A session of one kind in place of one of another is two moves; the proof that there are no more counts so too."""
    kind = {
        "patterns": ["elbow_flexion"],
        "per_week": {"least": 0, "most": 1},
        "sets": {"least": 3, "most": 4},
        "required": [],
        "minutes": {"least": 0, "most": 40},
    }
    kinds = {"one": {**kind, "days": ["mon"]}, "two": {**kind, "days": ["thu"]}}
    brief = curls(["mon", "thu"], 1, kinds=kinds, sessions=1, exercises={"only": CURLS[:1]})
    for apart in (1, 2):
        found = alternatives(brief, count=9, apart=apart, loss=Loss(50))
        assert [other.moves for other in found.alternatives] == [(2,)]
        assert found.complete


@pytest.mark.parametrize("days", [["mon"], ["mon", "tue"]])
def test_openings_as_a_wish_open_other_days(days: list[str]) -> None:
    """48 h between two sessions: the referee takes a week with a session on a closed day, so the solver has it too."""
    goals = {"biceps": {"least": 3, "aim": 6, "recovery_hours": 48, "frequency": {"least": 1, "most": 5}}}
    rules = {"stand_in": {"mode": "off"}, "opening": {"mode": "wish", "weight": 1}, "recovery": {"mode": "must"}}
    brief = curls(days, 2, goals=goals, rules=rules)
    apart = solve(curls(["mon", "thu"], 2, goals=goals))
    by_hand = check(brief, apart.sessions)
    assert by_hand.holds
    plan = solve(brief)
    assert plan.status is PlanStatus.OPTIMAL
    assert plan.tiers[0].value <= by_hand.plan.tiers[0].value


def test_openings_that_are_off_are_told() -> None:
    """Nothing says then when a session may be: the night is as good as the evening, and Thursday as Monday."""
    goals = {"biceps": {"least": 3, "aim": 6, "recovery_hours": 48, "frequency": {"least": 1, "most": 5}}}
    plan = solve(curls(["mon"], 2, goals=goals, rules={"opening": {"mode": "off"}, "stand_in": {"mode": "off"}}))
    assert plan.status is PlanStatus.OPTIMAL
    assert any(note.startswith("Openings are off") for note in plan.notes)


def test_no_sets_at_all() -> None:
    """An add-on of no sets is none; exercises of no sets are refused."""
    kind = {"add_on": {"pattern": "trunk_flexion", "sets": 0}}
    plan = solve(curls(["mon", "thu"], 2, kind=kind, exercises={"only": [*CURLS, "crunch"]}))
    assert plan.status is PlanStatus.OPTIMAL
    assert {entry.exercise for session in plan.sessions for entry in session.entries} <= set(CURLS)
    with pytest.raises(ValueError, match="one set at least"):
        curls(["mon", "thu"], 2, prescription={"sets_per_exercise": 0})


def test_the_first_way_out_after_a_missed_session_is_not_to_make_it_up() -> None:
    """Friday's session was missed on the last evening that is open: a coach lets it go before opening another day."""
    eight = {"sets": {"least": 8, "most": 8}}
    rests = {"rest_seconds": {"moderate": 240, "light": 240}}
    plan = solve(curls(["mon", "fri"], 2, sessions=2, kind=eight, prescription=rests))
    assert [session.minutes for session in plan.sessions] == [45, 45]
    found = replan(plan, done=["mon"], missed=["fri"], now=dt.datetime(2026, 3, 6, 23, 45))
    assert found.reasons is not None
    assert found.reasons.mends[0].patch == {"concessions": {"session_count:kind:one": 1, "session_count:all": 1}}
    assert all(mend.verified for mend in found.reasons.mends)


def test_what_is_pinned_in_an_order_keeps_it_when_it_is_asked_for() -> None:
    pin = {"kind": "one", "in_this_order": True, "exercises": [{"exercise": e} for e in reversed(CURLS)]}
    brief = curls(["mon", "wed"], 1, kind={"sets": {"least": 6, "most": 8}}, pinned=[pin], sessions=1)
    base = solve(brief)
    assert [e.exercise for e in base.sessions[0].entries] == list(reversed(CURLS))
    assert why_not(brief, Demand(kind="one", exercise="hammer_curl"), base=base).possibility is Possibility.ALREADY
    moved = why_not(brief, Demand(kind="one", exercise="hammer_curl", day=Day.WED), base=base).plan
    assert moved is not None
    assert [e.exercise for e in moved.sessions[0].entries] == list(reversed(CURLS))


def test_what_is_conceded_of_an_earlier_hour_does_not_hold_now() -> None:
    """A week may have begun before its first hour; what was missed is still not put where it was."""
    brief = curls(["mon", "wed"], 1, not_before="2026-03-02T00:00", concessions={"not_before": 600}, sessions=1)
    base = solve(brief)
    assert [f"{s.start:%a}" for s in base.sessions] == ["Mon"]
    again = replan(base, missed=["mon"], now=dt.datetime(2026, 3, 3, 21, 0))
    assert [f"{s.start:%a}" for s in again.plan.sessions] == ["Wed"]
