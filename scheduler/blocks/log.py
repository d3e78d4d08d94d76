"""From what was really done to the next week: the log against the plan, loads, paths, and reasons for an easy week."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile

from scheduler.answers.replan import record_of
from scheduler.answers.variants import Stopped
from scheduler.blocks.build import ROUGH, settled
from scheduler.blocks.course import Course
from scheduler.blocks.logged import Matched, check_names, match, outcomes, records
from scheduler.blocks.pain import pain_of
from scheduler.blocks.progress import formula_line
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockWeek, WeekRole
from scheduler.domain.brief import Lift, SessionRecord
from scheduler.domain.errors import InputError
from scheduler.domain.log import LoggedExercise, LogReport, SessionOutcome, WeekLog, uncleared
from scheduler.domain.plan import PlanStatus
from scheduler.domain.units import MOST_SETS, sets_from_quarters
from scheduler.instance import Instance
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
    elif easy:
        corrections.append("No week follows in this block that could be made easy.")
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
        pain=replace(pain_of(logs), beyond=tuple(_beyond(told.weeks))),
        cleared=_cleared(logs),
        missed=_before_missed(block, told),
        rough=ROUGH in block.method,
    )
    if len(logs) < len(course.specs):
        if course.plan_next().plan.status is PlanStatus.STOPPED and not course.weeks[-1].plan.tiers:
            raise Stopped
        course.weeks += map(course.outlook, block.weeks[following:])
    week = told.weeks[number - 1]
    planned = course.weeks[len(logs)].notes if len(logs) < len(course.specs) else ()
    report = LogReport(
        week=number,
        next_week=following if following <= len(course.specs) else None,
        sessions=week.sessions,
        formula=formula_line(block.weeks[number - 1].plan.brief),
        behind=tuple(week.waiting.values()),
        easy_week=tuple(_reasons(week, told.weeks)),
        notes=(*corrections, *week.notes, *planned),
    )
    return settled(course, logs=logs), report


def check_log(block: Block, log: WeekLog) -> tuple[int, tuple[WeekLog, ...], list[str]]:
    """Which week a log is of, the block's logs with it, and what it corrects. Raises InputError."""
    number = _number(block, log)
    check_names(block.weeks[number - 1], log)
    logs, notes = list(block.logs), list(_cleared_notes(block, number, log))
    cleared = set(log.cleared)
    if number <= len(logs):
        kinds = instance_of(block.weeks[number - 1].plan.brief).kinds
        again = {(s.kind, s.day) for s in log.sessions}
        for kind, day in dict.fromkeys((s.kind, s.day) for s in logs[number - 1].sessions):
            if (kind, day) in again:
                name = kinds[kind].name
                notes.append(f"{name} on {day.full_name} was logged before: the new entry takes its place.")
        kept = [s for s in logs[number - 1].sessions if (s.kind, s.day) not in again]
        cleared.update(logs[number - 1].cleared)
        logs[number - 1] = log.model_copy(update={"sessions": (*kept, *log.sessions)})
    else:
        logs.append(log)
    # Only pain that was logged before is cleared: what an entry itself says hurts is left out until the next one.
    update = {"cleared": tuple(sorted(cleared - log.hurt))}
    logs[number - 1] = logs[number - 1].model_copy(update=update)
    match(block.weeks[number - 1], logs[number - 1])
    return number, tuple(logs), notes


def _cleared_notes(block: Block, number: int, log: WeekLog) -> Iterator[str]:
    """What becomes of each exercise that a log clears."""
    hurt = uncleared(block.logs[:number])
    for key in log.cleared:
        name = load_catalogue().exercises[key].name
        if key in hurt and key not in log.hurt:
            yield f"{name} is cleared: it may come again, with the load that was lowered."
        elif key in log.hurt:
            yield f"{name} is not cleared by the log that says it hurt; a later one can say so."
        elif key not in hurt and not any(key in earlier.cleared for earlier in block.logs[:number]):
            yield f"{name} was not left out: no log says that it hurt."


def _number(block: Block, log: WeekLog) -> int:
    """A week that has a plan, and no week before it that is still to be logged."""
    days = (log.week - block.monday(1)).days
    following = len(block.logs) + 1
    number = days // 7 + 1
    if days % 7 == 0 and 1 <= number <= len(block.logs):
        return number
    if following > len(block.weeks):
        raise InputError.single(
            "week",
            f"every week of this block is logged, and {log.week} is none of them",
            "Correct one of them, or plan another block",
        )
    if not block.weeks[following - 1].plan.tiers:
        raise InputError.single(
            "week",
            f"week {following} has no plan ({block.weeks[following - 1].plan.status.value}), so nothing after week "
            f"{following - 1} can be logged",
            f"Log week {following - 1} once more with what is to be otherwise, or plan another block",
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

    @property
    def rows(self) -> list[LoggedExercise]:
        return [row for pair in self.matched if pair.logged is not None for row in pair.logged.exercises]

    @property
    def missed(self) -> bool:
        """Whether a session was missed, so far as the log says not for pain."""
        return any(pair.planned and pair.missed for pair in self.matched) and not any(row.pain for row in self.rows)


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
        after, sessions, notes = outcomes(week, matched, before, instance)
        if after != before:
            told.lifts = after
        told.done[number] = tuple(records(week, log))
        is_easy = week.role is WeekRole.EASY
        waiting = {} if is_easy else _behind(instance, week, told.done[number])
        told.behind.update(dict.fromkeys(block.brief.goals if number + 1 in easy else waiting, 1))
        told.weeks.append(Week(matched, sessions, notes, waiting, is_easy))
    return told


def _cleared(logs: Sequence[WeekLog]) -> dict[str, int]:
    """Exercises that hurt and are cleared, and the week whose log says so."""
    still = uncleared(logs)
    return {
        key: number
        for number, log in enumerate(logs, start=1)
        for key in log.cleared
        if key not in still and any(key in earlier.hurt for earlier in logs[:number])
    }


def _behind(instance: Instance, week: BlockWeek, done: Sequence[SessionRecord]) -> dict[str, str]:
    """Muscles that got too little of what was planned: missed work is not piled on, their path waits a week."""
    percent = load_catalogue().default_int("log_done_percent")
    planned = _totals(instance, [record_of(s) for s in week.plan.sessions])
    totals = _totals(instance, done)
    found = {}
    for key, target in instance.targets.items():
        asked, got = planned[key], totals[key]
        if asked and got * 100 < percent * asked:
            found[key] = (
                f"{target.name}: {got / 4:g} of {asked / 4:g} counted sets done, less than {percent} %; the next "
                "building week keeps the aim of this one"
            )
    return found


def _totals(instance: Instance, sessions: Sequence[SessionRecord]) -> dict[str, int]:
    """Counted quarter sets of each target."""
    rows = [e for session in sessions for e in session.exercises]
    return {key: sum(e.sets * instance.counted(e.exercise, key) for e in rows) for key in instance.targets}


def _before_missed(block: Block, told: Told) -> dict[str, float]:
    """By muscle, the most sets that were done since the last building week without a miss, that week among them.

    So short a break detrains nobody, and the next week need not begin from what little was done. Nothing where the last
    week misses no session, or too many weeks in a row do. Where no week was whole, the first counts as it was planned.
    """
    building = [(number, week) for number, week in enumerate(told.weeks, start=1) if not week.easy]
    run = [number for number, _ in takewhile(lambda pair: pair[1].missed, reversed(building))]
    if told.weeks[-1].easy or not 1 <= len(run) <= load_catalogue().default_int("log_missed_weeks"):
        return {}
    if len(run) < len(building):
        whole = told.done[building[-len(run) - 1][0]]
    else:
        whole = tuple(record_of(s) for s in block.weeks[run[-1] - 1].plan.sessions)
    instance = instance_of(block.brief)
    totals = [_totals(instance, sessions) for sessions in (whole, *(told.done[number] for number in run))]
    # No week can ask for more than MOST_SETS, whatever a log says was done.
    return {key: min(MOST_SETS, sets_from_quarters(max(found[key] for found in totals))) for key in instance.targets}


def _beyond(weeks: Sequence[Week]) -> Iterator[str]:
    """Exercises with no load to lower, every set of which ended far short when they were last logged."""
    rows, short = load_catalogue().exercises, load_catalogue().default_int("log_beyond_reps")
    last = {e.exercise: e.reps_over for w in weeks for s in w.sessions for e in s.exercises if e.reps_over is not None}
    return (key for key, over in sorted(last.items()) if over <= -short and rows[key].loaded_by is None)


def _reasons(week: Week, weeks: Sequence[Week]) -> Iterator[str]:
    """Why the next week should be easy: pain in the week just logged, or targets missed several weeks in a row."""
    catalogue = load_catalogue()
    for row in week.rows:
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
