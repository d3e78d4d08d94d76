"""A block for a brief: planned on its course, then looked at by its referee."""

from __future__ import annotations

import time
from collections.abc import Callable

from scheduler.blocks import referee
from scheduler.blocks.course import Course
from scheduler.blocks.figures import exercises_of
from scheduler.blocks.figures import rows as rows_of
from scheduler.blocks.schedule import schedule
from scheduler.blocks.weeks import (
    base_of,
)
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockSettings, worst_status
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError, unknown
from scheduler.domain.plan import PlanStatus
from scheduler.planning import instance_of
from scheduler.week.solver import Cancel, Limits

BlockProgress = Callable[[int, int, str], None]
"""Called with the week, how many there are, and what it came to."""

METHOD = (
    "First the usual week is solved as a ring, without a calendar and at the top of the path, so that it can follow "
    "itself; then week by week, each best beside what the weeks before it left. Early weeks hold of its exercises "
    "what their aims need.",
    "The weeks are not solved jointly: what a week could do for a later one beyond that is not looked for.",
)
ROUGH = "The search for the usual week was cut short, so with more time the block may come out otherwise."
NO_RHYTHM = "No week by these demands can follow itself, so days and times are taken from the week before."


def plan_block(
    brief: Brief,
    settings: BlockSettings | None = None,
    *,
    limits: Limits | None = None,
    seconds: float | None = None,
    cancel: Cancel | None = None,
    progress: BlockProgress | None = None,
) -> Block:
    """A block of weeks for a brief of one week.

    Args:
        brief: what is asked of a week; its busy times may lie anywhere in the block.
        settings: how many weeks, the path, the patches.
        limits: of one solve.
        seconds: wall-clock seconds for the whole block; ends that come by it do not repeat.
        progress: told after each week.

    Returns:
        The block with a plan for each week, up to one that has none: an impossible week ends it.

    Raises:
        InputError: the brief, or a patch of it, cannot be used.
    """
    course = Course(
        brief,
        check_settings(brief, settings or BlockSettings()),
        limits or Limits(),
        cancel,
        None if seconds is None else time.monotonic() + seconds,
    )
    specs = course.specs
    if progress is not None:
        progress(0, len(specs), "the usual week")
    for spec in specs:
        week = course.plan_next()
        if week.plan.status is PlanStatus.IMPOSSIBLE:
            week = course.go_back() or week
        if progress is not None:
            progress(spec.number, len(specs), week.plan.status.value)
        if not week.plan.tiers:
            break
    return settled(course)


def settled(course: Course, **more: object) -> Block:
    """The block of a course, looked at by its referee."""
    method: tuple[str, ...] = METHOD if any(course.rhythm.values()) else (NO_RHYTHM, METHOD[1])
    if course.rough:
        method = (*method, ROUGH)
    rows = rows_of(course.brief, course.settings, course.weeks)
    findings = referee.review(course.brief, course.settings, course.weeks, course.done)
    cautions = {c.key: c for week in course.weeks for c in week.plan.cautions}
    worst = worst_status(course.weeks)
    proved = worst is PlanStatus.OPTIMAL
    return Block(
        title=course.brief.title,
        brief=course.brief,
        settings=course.settings,
        status="each week proved best after those before it" if proved else worst.value,
        method=method,
        rhythm=course.rhythm,
        weeks=tuple(course.weeks),
        rows=rows,
        distinct_exercises=len(exercises_of(course.weeks)),
        findings=findings,
        cautions=tuple(cautions.values()),
        lifts=course.lifts,
        behind=course.behind,
        easy_from_log=tuple(sorted(course.easy)),
    ).model_copy(update=more)


def check_settings(brief: Brief, settings: BlockSettings) -> BlockSettings:
    """Raises InputError where a name or a patch of the settings cannot be used."""
    catalogue = load_catalogue()
    instance_of(brief)
    faults = [
        *unknown("block.main", "exercise", settings.main, catalogue.exercises),
        *unknown("block.distinct", "muscle or group", settings.distinct, catalogue.targets),
    ]
    if faults:
        raise InputError(faults)
    if brief.week.repeats:
        raise InputError.single("week.repeats", "the weeks of a block follow one another", "Write repeats: false")
    for spec in {s.patch: s for s in schedule(settings, brief, catalogue)}.values():
        base_of(brief, spec)
    return settings
