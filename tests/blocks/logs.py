"""A small block and its logs, as the tests of logging write them."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any

from scheduler.blocks.build import plan_block
from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import PlannedSession, Role
from scheduler.domain.units import DAYS
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


def planned(found: Block, number: int) -> Any:
    return found.weeks[number - 1].plan.sessions


def hurting(
    exercise: str, found: Block | None = None, number: int = 1, pain: str = "right shoulder"
) -> list[dict[str, Any]]:
    sessions = in_full(found or block(), number)
    rows = [e for s in sessions for e in s["exercises"] if e["exercise"] == exercise]
    assert rows
    for e in rows:
        e["pain"] = pain
    return sessions


def held(found: Block, number: int) -> set[str]:
    return {e.exercise for s in planned(found, number) for e in s.entries}


def cleared(*exercises: str, number: int = 1, sessions: list[dict[str, Any]] | None = None) -> WeekLog:
    return log_of(sessions or [], number).model_copy(update={"cleared": exercises})
