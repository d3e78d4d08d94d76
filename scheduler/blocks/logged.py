"""What was done in a week beside what was planned: which session is which, and what became of each exercise."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from scheduler.answers.replan import record_of
from scheduler.blocks.progress import Progress, estimate, formula_of, progress
from scheduler.data import load_catalogue
from scheduler.domain.block import BlockWeek
from scheduler.domain.brief import DoneExercise, Lift, SessionRecord
from scheduler.domain.errors import Fault, InputError, unknown
from scheduler.domain.log import ExerciseOutcome, LoggedExercise, LoggedSession, SessionOutcome, WeekLog
from scheduler.domain.plan import Entry, PlannedSession, Role
from scheduler.domain.units import DAYS, GRAMS_PER_KG
from scheduler.domain.wording import counted
from scheduler.instance import Instance
from scheduler.loads import TRUSTED_REPS_TO_FAILURE


def check_names(week: BlockWeek, log: WeekLog) -> None:
    catalogue = load_catalogue()
    faults: list[Fault] = [*unknown("cleared", "exercise", log.cleared, catalogue.exercises)]
    seen: set[tuple[str, str]] = set()
    for n, session in enumerate(log.sessions):
        where = f"sessions[{n}]"
        faults += unknown(f"{where}.kind", "session kind", (session.kind,), week.plan.brief.kinds)
        if session.place is not None:
            faults += unknown(f"{where}.place", "place", (session.place,), week.plan.brief.places)
        names = (e.exercise for e in session.exercises)
        faults += unknown(f"{where}.exercises", "exercise", names, catalogue.exercises)
        if (session.kind, session.day) in seen and session.start is None:
            faults.append(Fault(where, f"{session.kind} on {session.day} comes twice", "Write a start with each"))
        seen.add((session.kind, session.day))
    if faults:
        raise InputError(faults)


@dataclass(frozen=True)
class Matched:
    """A planned session and what the log says of it; one of the two may be missing."""

    planned: PlannedSession | None
    logged: LoggedSession | None

    @property
    def missed(self) -> bool:
        return self.logged is None or self.logged.missed


def match(week: BlockWeek, log: WeekLog) -> list[Matched]:
    """Logged sessions by planned ones: of one kind on one day first, then of one kind in order of time."""
    zone = week.plan.brief.week.tz
    left = list(log.sessions)
    pairs: dict[int, LoggedSession] = {}
    for same_day in (True, False):
        for n, planned in enumerate(week.plan.sessions):
            day = DAYS[planned.start.astimezone(zone).weekday()]
            fitting = [s for s in left if s.kind == planned.kind and (not same_day or s.day == day)]
            if n not in pairs and fitting:
                pairs[n] = fitting[0]
                left.remove(fitting[0])
    found = [
        Matched(planned, _without_activation(planned, pairs[n]) if n in pairs else None)
        for n, planned in enumerate(week.plan.sessions)
    ]
    faults = [
        Fault("sessions", f"{s.kind} on {s.day} is no session of the plan", "List its exercises, or leave it out")
        for s in left
        if not s.exercises
    ]
    if faults:
        raise InputError(faults)
    return found + [Matched(None, s) for s in left]


def _without_activation(planned: PlannedSession, logged: LoggedSession) -> LoggedSession:
    """A logged session without the light sets of its plan: written down like the others they are still no work."""
    main = {e.exercise for e in planned.entries if e.role is not Role.ACTIVATION}
    left = {e.exercise: e for e in planned.entries if e.role is Role.ACTIVATION}
    rows = []
    for row in logged.exercises:
        light = left.get(row.exercise)
        untold = row.reps is None and row.exercise not in main
        if light is None or row.pain or not (untold or row.reps == light.reps):
            rows.append(row)
            continue
        del left[row.exercise]
        if row.sets > light.sets:
            rows.append(row.model_copy(update={"sets": row.sets - light.sets}))
    return logged.model_copy(update={"exercises": tuple(rows)})


def records(week: BlockWeek, log: WeekLog) -> Iterator[SessionRecord]:
    """What was done in a week, as the weeks after it see it."""
    found = [_record(week, pair) for pair in match(week, log) if not pair.missed]
    yield from sorted(found, key=lambda r: r.start)


def _record(week: BlockWeek, pair: Matched) -> SessionRecord:
    logged, planned = pair.logged, pair.planned
    assert logged is not None
    plan = record_of(planned) if planned is not None else None
    frame = week.plan.brief.week
    start = plan.start if plan is not None else None
    day = DAYS[start.astimezone(frame.tz).weekday()] if start is not None else None
    if logged.start is not None or day != logged.day or start is None:
        usual = start.astimezone(frame.tz).time() if start is not None else dt.time(12)
        date = frame.start + dt.timedelta(days=logged.day.number)
        start = dt.datetime.combine(date, logged.start or usual, frame.tz)
    add_ons = {e.exercise for e in plan.exercises if e.add_on} if plan is not None else set()
    rows = tuple(
        DoneExercise(**e.model_dump(exclude={"pain"}) | {"add_on": e.add_on or e.exercise in add_ons})
        for e in logged.exercises
    )
    if plan is not None and logged.as_planned:
        listed = {row.exercise for row in rows}
        rows = (*(row for row in plan.exercises if row.exercise not in listed), *rows)
    return SessionRecord(
        kind=logged.kind,
        start=start,
        minutes=logged.minutes or (plan.minutes if plan is not None else 60),
        place=logged.place or (plan.place if plan is not None else None),
        exercises=rows,
    )


def outcomes(
    week: BlockWeek, matched: Sequence[Matched], lifts: tuple[Lift, ...], instance: Instance
) -> tuple[tuple[Lift, ...], tuple[SessionOutcome, ...], list[str]]:
    """The lifts after the week, what came of each session, and notes."""
    now = {lift.exercise: lift for lift in lifts}
    formula = formula_of(week.plan.brief)
    rows_of: dict[str, list[tuple[Entry | None, LoggedExercise]]] = {}
    notes: list[str] = []
    for pair in matched:
        entries = {e.exercise: e for e in pair.planned.entries} if pair.planned is not None else {}
        for row in pair.logged.exercises if pair.logged is not None else ():
            told = row
            lightest = _lightest_kg(instance, pair, row)
            if row.load_kg and row.load_kg < lightest:
                name = instance.catalogue.exercises[row.exercise].name
                notes.append(
                    f"{name}: {row.load_kg:g} kg is less than the {lightest:g} kg that it can be loaded with at least; "
                    "it is kept as logged, but loads are not worked out from it. If it is mistyped, log the session "
                    "again."
                )
                told = row.model_copy(update={"load_kg": None})
            rows_of.setdefault(row.exercise, []).append((entries.get(row.exercise), told))
    results = {}
    for exercise, rows in rows_of.items():
        name = instance.catalogue.exercises[exercise].name
        result = progress(rows, now.get(exercise), formula)
        results[exercise] = result
        if result.lift is not None:
            now[exercise] = result.lift
        if result.rough:
            notes.append(
                f"{name}: a set of more than {TRUSTED_REPS_TO_FAILURE} reps to failure tells little of its maximum."
            )
        notes += (
            f"{name}: {load:g} kg is {float(f'{load / expected:.2g}'):g} times the {expected:g} kg to be expected; it "
            "is kept as logged, but loads are not worked out from it. If it is mistyped, log the session again."
            for load, expected in result.strange
        )
    sessions = tuple(_session_outcome(week, instance, pair, results, before=lifts, after=now) for pair in matched)
    return tuple(now.values()), sessions, notes


def _lightest_kg(instance: Instance, pair: Matched, row: LoggedExercise) -> float:
    """The least that an exercise can be loaded with where the session was, or at any place where that is not said."""
    place = (pair.logged.place if pair.logged else None) or (pair.planned.place if pair.planned else None)
    places = [place] if place in instance.venues else instance.venues
    limits = [instance.limits(row.exercise, each) for each in places]
    return min((each.lightest / GRAMS_PER_KG for each in limits if each is not None), default=0.0)


def _session_outcome(
    week: BlockWeek,
    instance: Instance,
    pair: Matched,
    results: Mapping[str, Progress],
    *,
    before: Sequence[Lift],
    after: Mapping[str, Lift],
) -> SessionOutcome:
    formula = formula_of(week.plan.brief)
    planned, logged = pair.planned, pair.logged
    kind = planned.kind if planned is not None else logged.kind if logged is not None else ""
    asked: Counter[str] = Counter()
    for e in planned.entries if planned is not None else ():
        if e.role is not Role.ACTIVATION:
            asked[e.exercise] += e.sets
    listed = {row.exercise for row in logged.exercises} if logged is not None else set()
    done: Counter[str] = Counter()
    if logged is not None and logged.as_planned:
        done.update({exercise: sets for exercise, sets in asked.items() if exercise not in listed})
    for row in logged.exercises if logged is not None else ():
        done[row.exercise] += row.sets
    was = {lift.exercise: lift for lift in before}
    rows = []
    for exercise in dict.fromkeys((*asked, *done)):
        name = instance.catalogue.exercises[exercise].name
        as_logged = results.get(exercise) if exercise in listed else None
        rows.append(
            ExerciseOutcome(
                exercise=exercise,
                name=name,
                sets_planned=asked[exercise],
                sets_done=done[exercise],
                reps_over=as_logged.reps_over if as_logged is not None else None,
                estimate_before_kg=estimate(was.get(exercise), formula),
                estimate_after_kg=estimate(after.get(exercise), formula),
                sentence=_sentence(asked[exercise], done[exercise], as_logged),
            )
        )
    return SessionOutcome(
        kind=kind,
        name=instance.kinds[kind].name,
        planned=planned.start if planned is not None else None,
        done=None if pair.missed else _record(week, pair).start,
        exercises=tuple(rows),
    )


def _sentence(asked: int, done: int, told: Progress | None) -> str:
    parts = []
    if not asked:
        parts.append(f"{counted(done, 'set')} beside the plan, counted as extra work")
    elif done < asked:
        parts.append(f"{asked - done} of {asked} sets missed")
    elif done > asked:
        parts.append(f"{counted(done - asked, 'set')} more than planned")
    if told is not None and told.reserve is not None:
        left, planned = told.reserve
        parts.append(f"all reps done, {'but' if left < planned else 'with'} {left} in reserve instead of {planned}")
    elif told is not None and told.reps_over:
        side = "over" if told.reps_over > 0 else "under"
        parts.append(f"{counted(abs(told.reps_over), 'rep')} {side} target in every set")
    if told is not None and told.lift is not None:
        first = "loads from now on" + (", lowered" if told.hurt else "")
        change = first if told.change_percent is None else f"load {told.change_percent:+g} %"
        parts.append(change + (" for the pain" if told.hurt else ""))
    return ", ".join(parts) or "as planned"
