"""From what was really done to the next week: the log against the plan, loads, paths, and reasons for an easy week."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from scheduler.answers.replan import record_of
from scheduler.answers.variants import Stopped
from scheduler.blocks.build import ROUGH, Course, settled
from scheduler.blocks.progress import Progress, estimate, formula_line, formula_of, progress
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockWeek, WeekRole
from scheduler.domain.brief import DoneExercise, Lift, SessionRecord
from scheduler.domain.errors import Fault, InputError, unknown
from scheduler.domain.log import ExerciseOutcome, LoggedExercise, LoggedSession, LogReport, SessionOutcome, WeekLog
from scheduler.domain.plan import Entry, PlannedSession, PlanStatus, Role
from scheduler.domain.units import DAYS
from scheduler.domain.wording import counted
from scheduler.instance import Instance
from scheduler.loads import TRUSTED_REPS_TO_FAILURE
from scheduler.planning import instance_of
from scheduler.week.solver import Cancel, Limits


def log_week(
    block: Block,
    log: WeekLog,
    *,
    easy: bool | None = None,
    limits: Limits | None = None,
    cancel: Cancel | None = None,
) -> tuple[Block, LogReport]:
    """Take a week's log into a block and plan the next week anew; later weeks stay as an outlook.

    A week that was logged before may be logged again: what is entered for a kind of session on a day takes the place
    of all that was logged for it there, the rest stays. So a week may also be logged session by session.

    Args:
        easy: make the next week an easy one, the paths then wait for a week; None: as was chosen before.

    Returns:
        The block with the log and the next week, and what the log says beside the plan.

    Raises:
        InputError: the log is not of a week that can be logged, or names what is not known.
        Stopped: it was cancelled before the next week was planned; nothing is lost, the block is as it was.
    """
    number, logs, corrections = check_log(block, log)
    following = len(logs) + 1
    chosen = {n for n in block.easy_from_log if n != following or easy is None}
    if easy and following <= len(block.weeks):
        chosen.add(following)
    told = _retold(block, logs, chosen)
    course = Course(
        brief=block.brief,
        settings=block.settings,
        limits=limits or Limits(),
        cancel=cancel,
        weeks=list(block.weeks[: len(logs)]),
        rhythm=dict(block.rhythm),
        done=told.done,
        lifts=told.lifts,
        behind=dict(told.behind),
        easy=frozenset(chosen),
        rough=ROUGH in block.method,
    )
    if len(logs) < len(course.specs):
        if course.plan_next().plan.status is PlanStatus.STOPPED and not course.weeks[-1].plan.tiers:
            raise Stopped
        course.weeks += [w.model_copy(update={"outlook": True}) for w in block.weeks[following:]]
    week = told.weeks[number - 1]
    report = LogReport(
        week=number,
        next_week=following if following <= len(course.specs) else None,
        sessions=week.sessions,
        formula=formula_line(block.weeks[number - 1].plan.brief),
        behind=tuple(week.waiting.values()),
        easy_week=tuple(_reasons(week, told.weeks)),
        notes=(*corrections, *week.notes),
    )
    return settled(course, logs=logs), report


def check_log(block: Block, log: WeekLog) -> tuple[int, tuple[WeekLog, ...], list[str]]:
    """Which week a log is of, the block's logs with it, and what it corrects. Raises InputError."""
    number = _number(block, log)
    _check(block.weeks[number - 1], log)
    logs, notes = list(block.logs), []
    if number <= len(logs):
        kinds = instance_of(block.weeks[number - 1].plan.brief).kinds
        again = {(s.kind, s.day) for s in log.sessions}
        for kind, day in dict.fromkeys((s.kind, s.day) for s in logs[number - 1].sessions):
            if (kind, day) in again:
                name = kinds[kind].name
                notes.append(f"{name} on {day.full_name} was logged before: the new entry takes its place.")
        kept = [s for s in logs[number - 1].sessions if (s.kind, s.day) not in again]
        logs[number - 1] = log.model_copy(update={"sessions": (*kept, *log.sessions)})
    else:
        logs.append(log)
    match(block.weeks[number - 1], logs[number - 1])
    return number, tuple(logs), notes


def _number(block: Block, log: WeekLog) -> int:
    """A week that has a plan, and no week before it that is still to be logged."""
    days = (log.week - block.monday(1)).days
    following = len(block.logs) + 1
    number = days // 7 + 1
    if days % 7 == 0 and 1 <= number <= len(block.logs):
        return number
    if following > len(block.weeks) or not block.weeks[following - 1].plan.tiers:
        raise InputError.single(
            "week",
            f"every week of this block that has a plan is logged, and {log.week} is none of them",
            "Correct one of them, or plan another block",
        )
    if days != 7 * (following - 1):
        raise InputError.single(
            "week",
            f"{log.week} is not the week to be logged next",
            f"That is week {following}, {block.monday(following)}; weeks before it may be corrected",
        )
    return number


@dataclass(frozen=True)
class Week:
    """A logged week beside its plan."""

    matched: Sequence[Matched]
    sessions: tuple[SessionOutcome, ...]
    notes: Sequence[str]
    waiting: Mapping[str, str]
    """Muscles whose path waits a week, and why."""
    easy: bool


@dataclass
class Told:
    """All that the logs of a block say, told from its first week on: so a correction changes what came of it too."""

    weeks: list[Week] = field(default_factory=list)
    lifts: tuple[Lift, ...] | None = None
    """None: those of the brief."""
    behind: Counter[str] = field(default_factory=Counter)
    done: dict[int, tuple[SessionRecord, ...]] = field(default_factory=dict)


def _retold(block: Block, logs: Sequence[WeekLog], easy: Collection[int]) -> Told:
    told = Told()
    for number, (week, log) in enumerate(zip(block.weeks, logs, strict=False), start=1):
        instance = instance_of(week.plan.brief)
        matched = match(week, log)
        before = week.plan.brief.lifter.lifts if told.lifts is None else told.lifts
        after, sessions, notes = _outcomes(week, matched, before, instance)
        if after != before:
            told.lifts = after
        told.done[number] = tuple(records(week, log))
        is_easy = week.role is WeekRole.EASY
        waiting = {} if is_easy else _behind(instance, week, told.done[number])
        told.behind.update(dict.fromkeys(block.brief.goals if number + 1 in easy else waiting, 1))
        told.weeks.append(Week(matched, sessions, notes, waiting, is_easy))
    return told


def _check(week: BlockWeek, log: WeekLog) -> None:
    catalogue = load_catalogue()
    faults: list[Fault] = []
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
    found = [Matched(planned, pairs.get(n)) for n, planned in enumerate(week.plan.sessions)]
    faults = [
        Fault("sessions", f"{s.kind} on {s.day} is no session of the plan", "List its exercises, or leave it out")
        for s in left
        if not s.exercises
    ]
    if faults:
        raise InputError(faults)
    return found + [Matched(None, s) for s in left]


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


# --- beside the plan ---------------------------------------------------------------------------------------------


def _outcomes(
    week: BlockWeek, matched: Sequence[Matched], lifts: tuple[Lift, ...], instance: Instance
) -> tuple[tuple[Lift, ...], tuple[SessionOutcome, ...], list[str]]:
    """The lifts after the week, what came of each session, and notes."""
    now = {lift.exercise: lift for lift in lifts}
    formula = formula_of(week.plan.brief)
    rows_of: dict[str, list[tuple[Entry | None, LoggedExercise]]] = {}
    for pair in matched:
        entries = {e.exercise: e for e in pair.planned.entries} if pair.planned is not None else {}
        for row in pair.logged.exercises if pair.logged is not None else ():
            rows_of.setdefault(row.exercise, []).append((entries.get(row.exercise), row))
    notes: list[str] = []
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
    sessions = tuple(_session_outcome(week, instance, pair, results, before=lifts, after=now) for pair in matched)
    return tuple(now.values()), sessions, notes


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
    if told is not None and told.reps_over:
        side = "over" if told.reps_over > 0 else "under"
        parts.append(f"{abs(told.reps_over)} reps {side} target in every set")
    if told is not None and told.lift is not None:
        change = told.change_percent
        parts.append("loads from now on" if change is None else f"load {change:+g} %")
    return ", ".join(parts) or "as planned"


# --- what follows -------------------------------------------------------------------------------------------------


def _behind(instance: Instance, week: BlockWeek, done: Sequence[SessionRecord]) -> dict[str, str]:
    """Muscles that got too little of what was planned: missed work is not piled on, their path waits a week."""
    percent = load_catalogue().default_int("log_done_percent")
    planned = [record_of(s) for s in week.plan.sessions]
    found = {}
    for key, target in instance.targets.items():
        asked, got = (
            sum(e.sets * instance.counted(e.exercise, key) for r in sessions for e in r.exercises)
            for sessions in (planned, done)
        )
        if asked and got * 100 < percent * asked:
            found[key] = (
                f"{target.name}: {got / 4:g} of {asked / 4:g} counted sets done, less than {percent} %; next week "
                "keeps the aim of this one"
            )
    return found


def _reasons(week: Week, weeks: Sequence[Week]) -> Iterator[str]:
    """Why the next week should be easy: pain in the week just logged, or targets missed several weeks in a row."""
    catalogue = load_catalogue()
    for pair in week.matched:
        for row in pair.logged.exercises if pair.logged is not None else ():
            if row.pain:
                name = catalogue.exercises[row.exercise].name
                yield f"Pain at {name} ({row.pain}): stop what hurts and have it looked at before it is loaded again."
    span = catalogue.default_int("log_stall_weeks")
    last = weeks[-span:]
    if len(last) < span or any(w.easy for w in last):
        return
    under = [{e.exercise for s in w.sessions for e in s.exercises if (e.reps_over or 0) < 0} for w in last]
    for exercise in sorted(set.intersection(*under)):
        yield f"{catalogue.exercises[exercise].name} has stalled: under target in {span} logged weeks in a row."
