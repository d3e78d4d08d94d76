"""From a log to the next week."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from scheduler.answers.variants import Stopped
from scheduler.blocks.build import plan_block
from scheduler.blocks.log import log_week
from scheduler.blocks.progress import progress
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockSettings, WeekRole
from scheduler.domain.brief import Formula, Lift
from scheduler.domain.errors import InputError
from scheduler.domain.log import LoggedExercise, WeekLog
from scheduler.domain.plan import Entry, PlannedSession, Role, Zone
from scheduler.domain.units import DAYS
from scheduler.log_files import log_of_csv, read_log
from scheduler.week.solver import Cancel
from tests.blocks.small import small

MONDAY = dt.date(2026, 11, 30)


@cache
def block() -> Block:
    return plan_block(small(), BlockSettings(weeks=3, easy_weeks=0))


def day(session: PlannedSession) -> str:
    return DAYS[session.start.weekday()].value


def as_planned(found: Block, number: int) -> list[dict[str, Any]]:
    return [{"kind": s.kind, "day": day(s), "as_planned": True} for s in found.weeks[number - 1].plan.sessions]


def in_full(found: Block, number: int) -> list[dict[str, Any]]:
    """Every set of a week's plan written out as it was planned."""
    return [
        {
            "kind": s.kind,
            "day": day(s),
            "exercises": [
                {
                    "exercise": e.exercise,
                    "sets": e.sets,
                    "reps": e.reps,
                    "load_kg": e.load_kg,
                    "reps_in_reserve": e.reps_in_reserve,
                }
                for e in s.entries
                if e.role is not Role.ACTIVATION
            ],
        }
        for s in found.weeks[number - 1].plan.sessions
    ]


def log_of(sessions: list[dict[str, Any]], number: int = 1) -> WeekLog:
    return WeekLog.model_validate({"week": MONDAY + dt.timedelta(days=7 * (number - 1)), "sessions": sessions})


@pytest.mark.parametrize("write", [as_planned, in_full])
def test_an_unchanged_log_reproduces_the_planned_next_week(write: Any) -> None:
    found, report = log_week(block(), log_of(write(block(), 1)))
    assert found.weeks[1].plan.brief == block().weeks[1].plan.brief
    assert found.weeks[1].plan.sessions == block().weeks[1].plan.sessions
    assert [w.outlook for w in found.weeks] == [False, False, True]
    assert report.behind == ()
    assert report.easy_week == ()
    assert all(e.sentence == "as planned" for s in report.sessions for e in s.exercises)


def entry(load_kg: float | None = 100.0) -> Entry:
    return Entry(
        exercise="barbell_back_squat",
        name="Squat",
        sets=3,
        reps=5,
        zone=Zone.HEAVY,
        reps_in_reserve=0,
        rest_seconds=180,
        load_kg=load_kg,
    )


def row(reps: int, load_kg: float | None = 100.0, reserve: int | None = 0) -> LoggedExercise:
    return LoggedExercise(exercise="barbell_back_squat", sets=1, reps=reps, load_kg=load_kg, reps_in_reserve=reserve)


LIFT = Lift(exercise="barbell_back_squat", load_kg=100, reps=5)


@pytest.mark.parametrize(("reps", "over"), [(6, 1), (7, 2), (9, 4), (20, 15)])
@pytest.mark.parametrize("formula", list(Formula))
def test_reps_over_target_raise_the_load_by_2_to_10_percent(reps: int, over: int, formula: Formula) -> None:
    """ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708): one or two reps over target, 2-10 % more."""
    told = progress([(entry(), row(reps))] * 3, LIFT, formula)
    assert told.reps_over == over
    assert told.change_percent is not None
    if (formula, over) == (Formula.LOMBARDI, 1):
        # By load x reps ^ 0.10 (6/5) ^ 0.10 = 1.018: below the published step, so the load waits.
        assert told.change_percent == 0
        return
    assert 2 <= told.change_percent <= 10
    assert told.lift is not None
    assert told.lift.load_kg == pytest.approx(100 + told.change_percent, abs=0.1)


def test_epley_worked_by_hand() -> None:
    """Epley 1985, w(1 + r/30): 100 kg for 5 is 116.67, for 6 it is 120; 120/116.67 = 1.0286."""
    told = progress([(entry(), row(6))], LIFT, Formula.EPLEY)
    assert told.change_percent == pytest.approx(2.9, abs=0.05)


def test_the_weakest_set_counts() -> None:
    assert progress([(entry(), row(8)), (entry(), row(6))], LIFT, Formula.EPLEY).reps_over == 1


def test_sets_on_both_sides_of_the_target_change_nothing() -> None:
    told = progress([(entry(), row(7)), (entry(), row(4))], LIFT, Formula.EPLEY)
    assert (told.reps_over, told.change_percent, told.lift) == (0, 0.0, None)


def test_reps_in_reserve_count_as_reps() -> None:
    """Zourdos et al. 2016, J Strength Cond Res 30:267-75: reps done and in reserve together are those to failure."""
    assert progress([(entry(), row(5, reserve=1))], LIFT, Formula.EPLEY).reps_over == 1


def test_below_target_lowers_the_load() -> None:
    told = progress([(entry(), row(3))] * 2, LIFT, Formula.EPLEY)
    assert told.change_percent is not None
    assert -10 <= told.change_percent < 0


def test_a_set_that_was_not_planned_is_held_against_the_known_lift() -> None:
    """Epley 1985, by hand: 100 kg for 5 is 116.67, 95 kg for 8 with 0 in reserve 120.33; 120.33/116.67 = 1.0314."""
    told = progress([(None, row(8, 95))], LIFT, Formula.EPLEY)
    assert told.change_percent == pytest.approx(3.1, abs=0.05)
    assert told.reps_over is None


def test_a_set_that_was_not_planned_tells_nothing_without_its_reserve() -> None:
    """Reps short of failure are no maximum: who does not say how many were left says nothing of it."""
    told = progress([(None, row(3, 60, reserve=None))], LIFT, Formula.EPLEY)
    assert told.lift is None


def test_the_first_load_of_an_exercise_is_its_lift() -> None:
    told = progress([(entry(None), row(8, 60, 2))], None, Formula.EPLEY)
    assert told.lift == Lift(exercise="barbell_back_squat", load_kg=60, reps=8, reps_in_reserve=2)


def test_sets_beyond_the_range_of_the_formula_are_told() -> None:
    assert progress([(entry(None), row(14, 60))], None, Formula.BRZYCKI).rough
    assert progress([(entry(None), row(36, 60, 5))], None, Formula.BRZYCKI).lift is None


def squat_sessions(reps: int, number: int = 1, found: Block | None = None, **more: Any) -> list[dict[str, Any]]:
    sessions = in_full(found or block(), number)
    for session in sessions:
        for e in session["exercises"]:
            if e["exercise"] == "barbell_back_squat":
                e["reps"] += reps
                e.update(more)
    return sessions


def squat_load(found: Block, number: int) -> float:
    entries = (e for s in found.weeks[number - 1].plan.sessions for e in s.entries)
    return next(e.load_kg for e in entries if e.exercise == "barbell_back_squat" and e.load_kg is not None)


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


def test_recovery_carries_over_from_what_was_done() -> None:
    """The last upper session was done on Sunday evening, so no upper session may come on Monday evening."""
    sessions = as_planned(block(), 1)
    last = next(s for s in reversed(sessions) if s["kind"] == "upper")
    last |= {"day": "sun", "start": "19:00"}
    found, _ = log_week(block(), log_of(sessions))
    upper = min(s.start for s in found.weeks[1].plan.sessions if s.kind == "upper")
    assert upper.replace(tzinfo=None) >= dt.datetime(2026, 12, 8, 17)
    assert next(f.kept for f in found.findings if f.key == "borders")


def test_pain_suggests_an_easy_week() -> None:
    _, report = log_week(block(), log_of(squat_sessions(0, pain="left knee")))
    assert len(report.easy_week) == 1
    assert "left knee" in report.easy_week[0]


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


# --- corrections and extra work -----------------------------------------------------------------------------------


def planned(found: Block, number: int) -> Any:
    return found.weeks[number - 1].plan.sessions


def test_a_session_entered_again_takes_the_place_of_what_was_logged() -> None:
    """Logged wrongly and then rightly is the same as logged rightly at once."""
    right = log_of(squat_sessions(2))
    wrong, _ = log_week(block(), log_of(squat_sessions(-2)))
    again = log_of([s for s in squat_sessions(2) if s["kind"] == "lower"])
    mended, report = log_week(wrong, again)
    at_once, _ = log_week(block(), right)
    assert len(mended.logs) == 1
    assert {s.kind: s for s in mended.logs[0].sessions} == {s.kind: s for s in right.sessions}
    assert planned(mended, 2) == planned(at_once, 2)
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
    ],
)
def test_a_log_that_cannot_be_used(log: dict[str, Any], match: str) -> None:
    with pytest.raises(InputError, match=match):
        log_week(block(), WeekLog.model_validate(log))


def test_a_log_does_not_change_the_block_it_is_given() -> None:
    before = block().model_dump_json()
    log_week(block(), log_of(squat_sessions(2)))
    assert block().model_dump_json() == before


# --- files --------------------------------------------------------------------------------------------------------

CSV = b"""date,kind,exercise,sets,reps,load_kg,reps_in_reserve,pain,state
2026-11-30,upper,lat_pulldown,3,10,55,2,,
2026-11-30,upper,barbell_bench_press,3,8,60,2,left shoulder,
2026-12-02,upper,,,,,,,as planned
2026-12-04,lower,,,,,,,missed
"""


def test_a_table_says_the_same_as_yaml(tmp_path: Path) -> None:
    (tmp_path / "log.yaml").write_text(
        """
week: 2026-11-30
sessions:
  - kind: upper
    day: mon
    exercises:
      - {exercise: lat_pulldown, sets: 3, reps: 10, load_kg: 55, reps_in_reserve: 2}
      - {exercise: barbell_bench_press, sets: 3, reps: 8, load_kg: 60, reps_in_reserve: 2, pain: left shoulder}
  - {kind: upper, day: wed, as_planned: true}
  - {kind: lower, day: fri, missed: true}
""",
        encoding="utf-8",
    )
    assert log_of_csv(CSV) == read_log(tmp_path / "log.yaml")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"date,kind\n",
        b"\xff\xfe\x00date",
        b"date,colour\n2026-11-30,red\n",
        b"date,kind,exercise,sets\n2026-11-30,upper\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,3,4,5\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,three\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,-3\n",
        b"date,kind,exercise,sets,load_kg\n2026-11-30,upper,lat_pulldown,3,nan\n",
        b"date,kind,exercise,sets,load_kg\n2026-11-30,upper,lat_pulldown,3,inf\n",
        b"date,kind,exercise,sets\n30.11.2026,upper,lat_pulldown,3\n",
        b"date,kind,exercise,sets\n2026-11-30,upper,lat_pulldown,3\n2026-12-07,upper,lat_pulldown,3\n",
        b"date,kind,state\n2026-11-30,upper,perhaps\n",
        b'date,kind\n2026-11-30,"upper\n',
    ],
)
def test_hostile_tables_are_told(data: bytes) -> None:
    with pytest.raises(InputError):
        log_of_csv(data)


def test_a_log_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(b"x" * 1_000_001)
    with pytest.raises(InputError, match="larger"):
        read_log(path)


def test_the_rule_of_80_percent_is_a_row_of_the_evidence() -> None:
    assert load_catalogue().default_int("log_done_percent") == 80
