"""From a log to the next week."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from scheduler.answers.variants import Stopped
from scheduler.blocks.build import plan_block
from scheduler.blocks.log import log_week
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockSettings, WeekRole
from scheduler.domain.errors import InputError
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import Role
from scheduler.week.solver import Cancel
from tests.blocks.logs import (
    as_planned,
    block,
    hurting,
    in_full,
    log_of,
    planned,
    squat_load,
    squat_sessions,
)
from tests.blocks.small import small


@pytest.mark.parametrize("write", [as_planned, in_full])
def test_an_unchanged_log_reproduces_the_planned_next_week(write: Any) -> None:
    found, report = log_week(block(), log_of(write(block(), 1)))
    assert found.weeks[1].plan.brief == block().weeks[1].plan.brief
    assert found.weeks[1].plan.sessions == block().weeks[1].plan.sessions
    assert [w.outlook for w in found.weeks] == [False, False, True]
    assert found.weeks[2] == block().weeks[2].model_copy(update={"outlook": True})
    assert report.behind == ()
    assert report.easy_week == ()
    assert all(e.sentence == "as planned" for s in report.sessions for e in s.exercises)


def test_a_strong_week_makes_the_next_heavier() -> None:
    found, report = log_week(block(), log_of(squat_sessions(2)))
    assert squat_load(found, 2) > squat_load(block(), 2)
    told = next(e for s in report.sessions for e in s.exercises if e.exercise == "barbell_back_squat")
    assert told.reps_over == 2
    assert told.estimate_after_kg is not None
    assert told.estimate_before_kg is not None
    assert told.estimate_after_kg > told.estimate_before_kg


def test_a_session_may_be_as_planned_but_for_one_exercise() -> None:
    whole = squat_sessions(2)
    part = as_planned(block(), 1)
    for short, long in zip(part, whole, strict=True):
        short["exercises"] = [e for e in long["exercises"] if e["exercise"] == "barbell_back_squat"]
    one, told = log_week(block(), log_of(part))
    other, same = log_week(block(), log_of(whole))
    assert one.weeks[1].plan.sessions == other.weeks[1].plan.sessions
    said = [
        [(e.exercise, e.sets_done, e.sentence) for s in report.sessions for e in s.exercises] for report in (told, same)
    ]
    assert said[0] == said[1]


def test_missed_and_done_is_nonsense() -> None:
    with pytest.raises(ValueError, match="a session is missed, or"):
        log_of([{"kind": "lower", "day": "mon", "missed": True, "as_planned": True}])


def test_missed_work_is_not_piled_on() -> None:
    found, report = log_week(block(), log_of([s for s in as_planned(block(), 1) if s["kind"] != "lower"]))
    quads = next(r for r in found.rows if r.target == "quads")
    planned = next(r for r in block().rows if r.target == "quads")
    assert any(text.startswith("Quadriceps") for text in report.behind)
    assert found.behind == {"quads": 1}
    assert quads.weeks[1].aim == planned.weeks[0].aim
    assert quads.weeks[1].counted <= planned.weeks[1].counted
    missed = next(s for s in report.sessions if s.kind == "lower")
    assert missed.done is None


def before_missed(found: Block, number: int) -> Any:
    return found.weeks[number - 1].plan.brief.rules.get("ramp", {}).get("before_missed")


def without_lower(found: Block, number: int) -> list[dict[str, Any]]:
    return [s for s in as_planned(found, number) if s["kind"] != "lower"]


def quads(found: Block, number: int) -> float:
    return next(r for r in found.rows if r.target == "quads").weeks[number - 1].counted


def test_a_missed_session_does_not_halve_the_next_week() -> None:
    """Ogasawara et al. 2013, Eur J Appl Physiol 113:975-85: 14 young men gained as much with three-week breaks as
    without, so the ramp goes on from the week before the miss; in the first week from what was planned."""
    found, _ = log_week(block(), log_of(without_lower(block(), 1)))
    assert quads(found, 2) == quads(block(), 1) == before_missed(found, 2)["quads"] == 4
    one, _ = log_week(block(), log_of(as_planned(block(), 1)))
    assert before_missed(one, 2) is None
    two, _ = log_week(one, log_of(without_lower(one, 2), 2))
    assert before_missed(two, 3)["quads"] == quads(one, 1)


def test_after_pain_the_ramp_starts_from_what_was_done() -> None:
    sessions = hurting("lat_pulldown")
    found, _ = log_week(block(), log_of([s for s in sessions if s["kind"] != "lower"]))
    assert before_missed(found, 2) is None
    assert quads(found, 2) < quads(block(), 1)


def test_after_more_weeks_with_a_miss_than_detrain_nobody_the_ramp_starts_from_what_was_done() -> None:
    found = plan_block(small(), BlockSettings(weeks=5, easy_weeks=0))
    told = []
    for number in range(1, 5):
        found, _ = log_week(found, log_of(without_lower(found, number), number))
        told.append((before_missed(found, number + 1) or {}).get("quads"))
    assert told == [4, 4, 4, None]


def test_an_easy_week_is_no_ground_for_a_ramp_after_a_miss() -> None:
    found = plan_block(small(), BlockSettings(weeks=4, easy_weeks=2))
    assert [w.role.value for w in found.weeks] == ["build", "build", "easy", "build", "build", "easy"]
    for number in range(1, 4):
        found, _ = log_week(found, log_of(as_planned(found, number), number))
    found, _ = log_week(found, log_of(without_lower(found, 4), 4))
    assert before_missed(found, 5)["quads"] == quads(found, 2) > quads(found, 3)


def test_recovery_carries_over_from_what_was_done() -> None:
    """The last upper session was done on Sunday evening, so no upper session may come on Monday evening."""
    sessions = as_planned(block(), 1)
    last = next(s for s in reversed(sessions) if s["kind"] == "upper")
    last |= {"day": "sun", "start": "19:00"}
    found, _ = log_week(block(), log_of(sessions))
    upper = min(s.start for s in found.weeks[1].plan.sessions if s.kind == "upper")
    assert upper.replace(tzinfo=None) >= dt.datetime(2026, 12, 8, 17)
    assert next(f.kept for f in found.findings if f.key == "borders")


def test_reps_in_reserve_that_fell_short_are_not_told_as_missed_reps() -> None:
    asked = next(e for s in in_full(block(), 1) for e in s["exercises"] if e["exercise"] == "barbell_back_squat")
    left = asked["reps_in_reserve"] - 2
    _, report = log_week(block(), log_of(squat_sessions(0, reps_in_reserve=left)))
    told = next(e.sentence for s in report.sessions for e in s.exercises if e.exercise == "barbell_back_squat")
    assert told.startswith(f"all reps done, but {left} in reserve instead of {left + 2}, load -")


def test_a_mistyped_load_is_told_and_raises_nothing() -> None:
    load = squat_load(block(), 1)
    found, report = log_week(block(), log_of(squat_sessions(0, load_kg=10 * load)))
    note = next(text for text in report.notes if "mistyped" in text)
    assert f": {10 * load:g} kg is 10 times the {load:g} kg to be expected; it is kept as logged" in note
    assert planned(found, 2) == planned(block(), 2)
    assert 10 * load in {e.load_kg for s in found.logs[0].sessions for e in s.exercises}
    mended, after = log_week(found, log_of(squat_sessions(2)))
    assert not any("mistyped" in text for text in after.notes)
    assert squat_load(mended, 2) > squat_load(found, 2)


def test_a_stall_suggests_an_easy_week_after_two_weeks_not_after_one() -> None:
    one, first = log_week(block(), log_of(squat_sessions(-2)))
    assert first.easy_week == ()
    _, second = log_week(one, log_of(squat_sessions(-2, 2, one), 2))
    assert any("stalled" in text for text in second.easy_week)


def test_an_easy_week_can_be_had_and_the_paths_wait() -> None:
    found, _ = log_week(block(), log_of(as_planned(block(), 1)), easy=True)
    assert [w.role for w in found.weeks] == [WeekRole.BUILD, WeekRole.EASY, WeekRole.BUILD]
    assert next(f.kept for f in found.findings if f.key == "easy_sets")
    after, _ = log_week(found, log_of(as_planned(found, 2), 2))
    lats = next(r for r in after.rows if r.target == "lats")
    planned = next(r for r in block().rows if r.target == "lats")
    assert lats.weeks[2].aim == planned.weeks[1].aim


def test_a_session_entered_again_takes_the_place_of_what_was_logged() -> None:
    """Logged wrongly and then rightly is the same as logged rightly at once."""
    right = log_of(squat_sessions(2))
    wrong, _ = log_week(block(), log_of(squat_sessions(-2)))
    assert squat_load(wrong, 3) < squat_load(block(), 3)
    again = log_of([s for s in squat_sessions(2) if s["kind"] == "lower"])
    mended, report = log_week(wrong, again)
    at_once, _ = log_week(block(), right)
    assert len(mended.logs) == 1
    assert {s.kind: s for s in mended.logs[0].sessions} == {s.kind: s for s in right.sessions}
    assert planned(mended, 2) == planned(at_once, 2)
    assert mended.weeks[2] == at_once.weeks[2]
    assert squat_load(mended, 3) > squat_load(block(), 3)
    assert (mended.lifts, mended.behind) == (at_once.lifts, at_once.behind)
    note = report.notes[0]
    assert note.startswith("Lower on ")
    assert note.endswith("was logged before: the new entry takes its place.")


def test_a_week_may_be_logged_session_by_session() -> None:
    found = block()
    for session in as_planned(block(), 1):
        found, report = log_week(found, log_of([session]))
        assert report.next_week == 2
    at_once, _ = log_week(block(), log_of(as_planned(block(), 1)))
    assert report.behind == ()
    assert planned(found, 2) == planned(at_once, 2) == planned(block(), 2)
    assert found.behind == at_once.behind == {}


def test_a_week_further_back_can_be_corrected_and_the_next_is_planned_anew() -> None:
    one, _ = log_week(block(), log_of(as_planned(block(), 1)))
    two, _ = log_week(one, log_of(as_planned(one, 2), 2))
    mended, report = log_week(two, log_of(squat_sessions(3)))
    assert (report.week, report.next_week) == (1, 3)
    assert len(mended.logs) == 2
    # Weeks that are done stay as they were planned; what was learnt late is in the week to come.
    assert planned(mended, 2) == planned(two, 2)
    assert squat_load(mended, 3) > squat_load(two, 3)


def test_a_correction_keeps_the_easy_week_that_was_chosen_unless_told() -> None:
    easy, _ = log_week(block(), log_of(as_planned(block(), 1)), easy=True)
    again = log_of(as_planned(block(), 1)[:1])
    kept, _ = log_week(easy, again)
    assert kept.weeks[1].role is WeekRole.EASY
    undone, _ = log_week(easy, again, easy=False)
    assert undone.weeks[1].role is WeekRole.BUILD
    assert planned(undone, 2) == planned(block(), 2)
    assert undone.behind == {}


def test_work_beside_the_plan_counts_and_is_told() -> None:
    sessions = as_planned(block(), 1)
    upper = next(s for s in sessions if s["kind"] == "upper")
    curl = {"exercise": "dumbbell_curl", "sets": 2, "reps": 12, "load_kg": 12.5, "reps_in_reserve": 2}
    upper["exercises"] = [curl]
    sessions.append(
        {"kind": "lower", "day": "sun", "start": "10:00", "exercises": [{"exercise": "leg_press", "sets": 2}]}
    )
    found, report = log_week(block(), log_of(sessions))
    told = {e.exercise: e for s in report.sessions for e in s.exercises}
    assert told["dumbbell_curl"].sentence.startswith("2 sets beside the plan, counted as extra work")
    extra = next(s for s in report.sessions if s.planned is None)
    assert (extra.kind, extra.exercises[0].sets_done) == ("lower", 2)
    # The weeks after see it: recovery runs from Sunday's session on.
    history = {e.exercise for r in found.weeks[1].plan.brief.history for e in r.exercises}
    assert {"dumbbell_curl", "leg_press"} <= history
    lower = min(s.start for s in planned(found, 2) if s.kind == "lower")
    assert lower.replace(tzinfo=None) - dt.datetime(2026, 12, 6, 11) >= dt.timedelta(hours=46)


def test_a_log_that_was_cancelled_loses_nothing() -> None:
    cancel = Cancel()
    cancel.set()
    before = block().model_dump_json()
    with pytest.raises(Stopped):
        log_week(block(), log_of(as_planned(block(), 1)), cancel=cancel)
    assert block().model_dump_json() == before


@pytest.mark.parametrize(
    ("log", "match"),
    [
        ({"week": "2026-12-07"}, "not the week to be logged next"),
        ({"week": "2026-11-30", "sessions": [{"kind": "swim", "day": "mon", "missed": True}]}, "unknown session kind"),
        (
            {
                "week": "2026-11-30",
                "sessions": [{"kind": "lower", "day": "mon", "exercises": [{"exercise": "squad", "sets": 1}]}],
            },
            "unknown exercise",
        ),
        (
            {"week": "2026-11-30", "sessions": [{"kind": "lower", "day": "mon", "as_planned": True}] * 2},
            "comes twice",
        ),
        ({"week": "2026-11-30", "cleared": ["squad"]}, "cleared: unknown exercise"),
    ],
)
def test_a_log_that_cannot_be_used(log: dict[str, Any], match: str) -> None:
    with pytest.raises(InputError, match=match):
        log_week(block(), WeekLog.model_validate(log))


def test_a_log_does_not_change_the_block_it_is_given() -> None:
    before = block().model_dump_json()
    log_week(block(), log_of(squat_sessions(2)))
    assert block().model_dump_json() == before


def test_the_rule_of_80_percent_is_a_row_of_the_evidence() -> None:
    assert load_catalogue().default_int("log_done_percent") == 80


def test_light_activation_sets_are_no_work_when_they_are_written_down_too() -> None:
    """Logged as they were planned they change nothing; sets beyond them are extra work."""
    pool = [*(small().exercises.only or ()), "straight_arm_pulldown"]
    asked = small({"goals": {"lats": {"priority": 1}}, "exercises": {"only": pool}})
    before = plan_block(asked, BlockSettings(weeks=2, easy_weeks=0))
    light = [
        (n, e)
        for n, session in enumerate(before.weeks[0].plan.sessions)
        for e in session.entries
        if e.role is Role.ACTIVATION
    ]
    assert light
    sessions = in_full(before, 1)
    plain, _ = log_week(before, log_of(in_full(before, 1)))
    for n, entry in light:
        sessions[n]["exercises"].insert(0, {"exercise": entry.exercise, "sets": entry.sets, "reps": entry.reps})
    found, report = log_week(before, log_of(sessions))
    assert all(e.sentence == "as planned" for s in report.sessions for e in s.exercises)
    assert found.weeks[1].plan.sessions == plain.weeks[1].plan.sessions
    sessions[light[0][0]]["exercises"][0]["sets"] += 1
    _, more = log_week(before, log_of(sessions))
    assert [e.sentence for s in more.sessions for e in s.exercises if e.sentence != "as planned"] in (
        ["1 set beside the plan, counted as extra work"],
        ["1 set more than planned"],
    )


def test_a_load_that_the_empty_bar_outweighs_is_told_and_no_ground_for_loads() -> None:
    """A bar weighs 20 kg (IWF technical rules): 15 are the discs alone, or a figure too few."""
    sessions = in_full(block(), 1)
    press = {"exercise": "barbell_bench_press", "sets": 2, "reps": 5, "reps_in_reserve": 2}
    sessions[0]["exercises"].append(press | {"load_kg": 15})
    found, report = log_week(block(), log_of(sessions))
    (told,) = (note for note in report.notes if "15 kg" in note)
    assert "20 kg" in told
    assert found.lifts is None or "barbell_bench_press" not in {lift.exercise for lift in found.lifts}
    assert found.weeks[1].plan.tiers
    sessions[0]["exercises"][-1] = press | {"load_kg": 60}
    right, _ = log_week(block(), log_of(sessions))
    assert right.lifts is not None
    assert "barbell_bench_press" in {lift.exercise for lift in right.lifts}


def test_a_session_on_sunday_night_goes_on_past_midnight() -> None:
    """Logged as it was: it is of its own week, and the hours after it are counted from its end on Monday."""
    late = {"kind": "upper", "day": "sun", "start": "23:05", "minutes": 80}
    pulls = {"exercises": [{"exercise": "lat_pulldown", "sets": 4, "reps": 10}]}
    found, _ = log_week(block(), log_of([*as_planned(block(), 1), late | pulls]))
    (record,) = (r for r in found.weeks[1].plan.brief.history if r.start.hour == 23)
    assert record.minutes == 80
    week = found.weeks[1].plan
    assert week.tiers
    pulling = [s for s in week.sessions if s.kind == "upper"]
    ended = record.start + dt.timedelta(minutes=80)
    assert all(s.start - ended >= dt.timedelta(hours=46) for s in pulling)


def test_texts_as_long_as_they_may_be_fit_into_every_sentence() -> None:
    """A title gets the week's number, pain its advice: what is accepted is never too long for an answer."""
    longest = "x" * 300
    brief = small({"title": longest, "lifter": {"name": longest}, "kinds": {"upper": {"name": longest}}})
    before = plan_block(brief, BlockSettings(weeks=2, easy_weeks=0))
    _, report = log_week(before, log_of(hurting("lat_pulldown", found=before, pain=longest)))
    assert any(longest in text for text in report.easy_week)
    assert Block.model_validate_json(before.model_dump_json()) == before
    for patch in ({"title": longest + "x"}, {"kinds": {"upper": {"name": longest + "x"}}}):
        with pytest.raises(InputError, match="longer than 300"):
            small(patch)


def test_what_cannot_be_done_at_the_end_of_a_block_is_told() -> None:
    before = plan_block(small(), BlockSettings(weeks=1, easy_weeks=0))
    _, report = log_week(before, log_of(as_planned(before, 1)), easy=True)
    assert any("No week follows" in note for note in report.notes)


def test_the_date_of_a_later_week_cannot_be_patched() -> None:
    settings = BlockSettings(weeks=2, easy_weeks=0, patches={"2-": {"week": {"start": "2027-03-22"}}})
    with pytest.raises(InputError, match="follows from the first week"):
        plan_block(small(), settings)
