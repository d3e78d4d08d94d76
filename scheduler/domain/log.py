"""The nouns of a log: what was done in a week, and what follows from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from pydantic import Field, model_validator

from scheduler.domain.brief import DoneExercise, Names
from scheduler.domain.units import ClockTime, Day, Frozen, Label


class LoggedExercise(DoneExercise):
    """Sets done alike; an exercise may come in several rows."""

    pain: Label | None = None
    """Where it hurt."""


class LoggedSession(Frozen):
    """A session of the week: missed, as it was planned, with what was done, or as planned but for what is listed."""

    kind: str
    day: Day
    start: ClockTime | None = None
    """Left out: as planned."""
    minutes: int | None = Field(default=None, ge=1, le=600)
    place: str | None = None
    as_planned: bool = False
    missed: bool = False
    exercises: tuple[LoggedExercise, ...] = ()

    @model_validator(mode="after")
    def _done_or_missed(self) -> LoggedSession:
        if self.missed == (self.as_planned or bool(self.exercises)):
            raise ValueError("a session is missed, or as_planned or lists its exercises: write missed or the others")
        return self


class WeekLog(Frozen):
    """What was done in one week of a block."""

    week: dt.date
    """Its Monday."""
    sessions: tuple[LoggedSession, ...] = Field(default=(), max_length=28)
    """A planned session that is not listed counts as missed."""
    cleared: Names = ()
    """Exercises that hurt before and were looked at since: they may be loaded again."""

    @property
    def hurt(self) -> frozenset[str]:
        """Exercises at which pain was logged."""
        return frozenset(row.exercise for session in self.sessions for row in session.exercises if row.pain)


def uncleared(logs: Iterable[WeekLog]) -> dict[str, tuple[str, ...]]:
    """Exercises that hurt and that no log since then says are cleared, by key, and where they hurt.

    Of one log's own pain, the log is the later word.
    """
    found: dict[str, tuple[str, ...]] = {}
    for log in logs:
        for session in log.sessions:
            for row in session.exercises:
                if row.pain:
                    found[row.exercise] = (*found.get(row.exercise, ()), row.pain)
        for key in log.cleared:
            found.pop(key, None)
    return dict(sorted(found.items()))


class ExerciseOutcome(Frozen):
    """One exercise of the week against its plan."""

    exercise: str
    name: str
    sets_planned: int
    sets_done: int
    reps_over: int | None
    """Reps to failure above (below: negative) what was asked, in the set that counts; None where it cannot be told."""
    estimate_before_kg: float | None
    """Estimated one-repetition maximum."""
    estimate_after_kg: float | None
    sentence: str


class SessionOutcome(Frozen):
    kind: str
    name: str
    planned: dt.datetime | None
    done: dt.datetime | None
    """None: missed."""
    exercises: tuple[ExerciseOutcome, ...] = ()


class LogReport(Frozen):
    """A week's log against its plan, and what follows for the weeks to come."""

    week: int
    next_week: int | None = None
    """The week that was planned anew; None at the end of the block."""
    sessions: tuple[SessionOutcome, ...]
    formula: str
    """Of the one-repetition maximum, with its source and valid range."""
    behind: tuple[str, ...]
    """Muscles whose path waits, and why."""
    easy_week: tuple[str, ...]
    """Reasons to make the next week easy; empty where there are none."""
    notes: tuple[str, ...] = ()
