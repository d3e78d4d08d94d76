"""Weeks as a coach would write them down, without a solver: what pins, histories and re-plans start from.

Sessions lie on the days of the split, each a while after its opening begins; each holds an exercise for every pattern
that its kind requires, then what the goals still lack. Such a week is plausible, not best, and may break a wish.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scheduler.data import load_catalogue
from scheduler.domain.units import DAYS, Day

if TYPE_CHECKING:
    from tests.benchmarks.writer import Writer

Json = dict[str, Any]
MINUTES_PER_SET, WARM_UP_MINUTES = 3.2, 8
SETS = 3


@dataclass(frozen=True)
class SketchedSession:
    kind: str
    day: int
    start: dt.time
    minutes: int
    place: str
    exercises: tuple[tuple[str, int], ...]
    """Exercise and sets."""

    def record(self, monday: dt.date) -> Json:
        start = dt.datetime.combine(monday + dt.timedelta(days=self.day), self.start)
        rows = [{"exercise": key, "sets": sets, "reps": _reps(key)} for key, sets in self.exercises]
        return {
            "kind": self.kind,
            "start": start.isoformat(),
            "minutes": self.minutes,
            "place": self.place,
            "exercises": rows,
        }


@dataclass(frozen=True)
class Sketch:
    sessions: tuple[SketchedSession, ...]

    def exercises(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(key for s in self.sessions for key, _ in s.exercises))

    def records(self, monday: dt.date) -> list[Json]:
        return [s.record(monday) for s in self.sessions]

    def pins(self, rng: random.Random) -> list[Json]:
        """Some sessions settled: a day, often a time, often two to four exercises, sometimes their order."""
        number = rng.randint(1, len(self.sessions))
        chosen = sorted(rng.sample(range(len(self.sessions)), number))
        found = []
        for session in (self.sessions[n] for n in chosen):
            pin: Json = {"kind": session.kind, "day": DAYS[session.day].value}
            if rng.random() < 0.5:
                pin |= {"start": f"{session.start:%H:%M}", "place": session.place}
            if rng.random() < 0.7:
                rows = session.exercises[: rng.randint(2, 4)]
                pin["exercises"] = [{"exercise": k} | ({"sets": n} if rng.random() < 0.6 else {}) for k, n in rows]
                pin["in_this_order"] = rng.random() < 0.25
            found.append(pin)
        return found

    def replan(self, monday: dt.date, rng: random.Random) -> Json:
        """Some days have passed: the first session is done, one may have been missed, the rest was planned."""
        past = rng.randint(1, max(1, len(self.sessions) - 2))
        now = dt.datetime.combine(monday + dt.timedelta(days=self.sessions[past - 1].day + 1), dt.time(5, 0))
        missed = past - 1 if past > 1 and rng.random() < 0.6 else None
        records = self.records(monday)
        done = [r for n, r in enumerate(records[:past]) if n != missed]
        previous = [r for n, r in enumerate(records) if n >= past or n == missed]
        return {"done": done, "previous": previous, "not_before": now.isoformat()}


def sketch(writer: Writer, rng: random.Random) -> Sketch:
    """The week of a brief that is being written."""
    catalogue = load_catalogue()
    gym = set(catalogue.places[writer.places["gym"]["base"]].equipment)
    usual = [k for k, row in writer.rows.items() if set(row.equipment) <= gym and not row.substitute]
    usual = [k for k in usual if not (row := writer.rows[k]).cautions or row.pattern in ("squat", "hinge")]
    counted = dict.fromkeys(writer.goals, 0.0)
    weeks: list[dict[str, int]] = []

    def add(session: dict[str, int], exercise: str) -> None:
        session[exercise] = SETS
        for target in counted:
            counted[target] += SETS * _counts(writer, exercise, target)

    def has_room(exercise: str) -> bool:
        """Whether no goal's most, by default 20, would be passed."""
        return all(
            counted[t] + SETS * _counts(writer, exercise, t) <= goal.get("most", 20) for t, goal in writer.goals.items()
        )

    for kind in writer.order:  # what the kinds require comes first, in all sessions
        session: dict[str, int] = {}
        for pattern in catalogue.kinds[kind].required:
            found = [k for k in usual if writer.fits(k, kind) and writer.rows[k].pattern == pattern]
            if found:
                add(session, rng.choice(found))
        weeks.append(session)
    sessions = []
    for kind, session, (day, start, room) in zip(writer.order, weeks, _slots(writer), strict=True):
        most = min(int((room - WARM_UP_MINUTES) / MINUTES_PER_SET), catalogue.kinds[kind].sets.most, 18)
        fit = [k for k in usual if writer.fits(k, kind)]
        for target, goal in sorted(writer.goals.items(), key=lambda item: counted[item[0]] - item[1]["aim"]):
            served = [k for k in fit if k not in session and _counts(writer, k, target) == 1 and has_room(k)]
            if goal["aim"] - counted[target] > 2 and served and SETS * len(session) + SETS <= most:
                add(session, rng.choice(served))
        minutes = min(room, 5 * round((WARM_UP_MINUTES + MINUTES_PER_SET * sum(session.values())) / 5))
        sessions.append(SketchedSession(kind, day, start, minutes, "gym", tuple(session.items())))
    return Sketch(tuple(sorted(sessions, key=lambda s: (s.day, s.start))))


def _slots(writer: Writer) -> list[tuple[int, dt.time, int]]:
    """Day, start and minutes of each session: the openings at the gym on the days of the split."""
    openings = [o for o in writer.openings if o["place"] == "gym"]
    by_day: dict[int, tuple[dt.time, int]] = {}
    for opening in openings:
        start, end = dt.time.fromisoformat(opening["start"]), dt.time.fromisoformat(opening["end"])
        room = (end.hour - start.hour) * 60 + end.minute - start.minute
        for day in opening["day"]:
            by_day[Day(day).number] = (start, min(room, writer.minutes))
    usual = [Day(d).number for d in writer.days]
    days = [d for d in usual if d in by_day] + [d for d in sorted(by_day) if d not in usual]
    days = sorted((days * 2)[: writer.count])
    found: list[tuple[int, dt.time, int]] = []
    for n, day in enumerate(days):
        start, room = by_day[day]
        # The second session of a day comes first in the list of openings, in the morning.
        early = next(o for o in openings if day in {Day(d).number for d in o["day"]})
        if n + 1 < len(days) and days[n + 1] == day:
            start = dt.time.fromisoformat(early["start"])
        found.append((day, start, room))
    return found


def _counts(writer: Writer, exercise: str, target: str) -> float:
    row, members = writer.rows[exercise], set(load_catalogue().members(target))
    return 1.0 if members & set(row.direct) else 0.5 if members & set(row.indirect) else 0.0


def _reps(exercise: str) -> int:
    reps = load_catalogue().exercises[exercise].reps
    return 10 if reps.least <= 10 <= reps.most else reps.most
