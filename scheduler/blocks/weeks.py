"""The brief of one week of a block: the base brief, moved on, with what the week's neighbours ask of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from scheduler.answers.variants import patched
from scheduler.blocks.figures import instance_alone
from scheduler.blocks.pain import NO_PAIN, Pain, flagged
from scheduler.blocks.schedule import WeekSpec
from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockWeek, numbered
from scheduler.domain.brief import (
    HISTORY_DAYS,
    Brief,
    BusyTime,
    DoneExercise,
    Lift,
    MuscleGoal,
    Pin,
    PinnedExercise,
    SessionRecord,
)
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.log import uncleared
from scheduler.domain.units import DAYS, CountRange, Day, sets_from_quarters
from scheduler.instance import Target
from scheduler.rules import RULES

_AIM = 100
WEEK = dt.timedelta(days=7)


@dataclass(frozen=True)
class Before:
    """What a week knows of the weeks before it.

    Attributes:
        records: all sessions before it, oldest first: as planned, or as logged.
        rhythm: its usual sessions, on the first week's dates; empty where there are none.
        contents: sessions whose exercises it keeps (in an easy week: and whose sets it cuts).
        after_easy: whether the week before was easy: its few sets are no ground for a ramp.
        newcomers: exercises that are to come in this phase for the sake of variety.
        demanded: those of them that must; the others are wished for.
        shut: by kind of session, days that are shut to it, so that the week after can be as usual.
        lifts: what its loads come from; None: the brief's own lifts.
        aims: by muscle, the per cent of the path where it is not the week's own.
        pain: what hurts and is not cleared, and what is beyond the lifter yet.
        strange: exercises like it that have not come before: they stay away.
        missed: by muscle, where its ramp starts: the sets before sessions were missed, if the week before misses some.
    """

    records: Sequence[SessionRecord] = ()
    rhythm: Sequence[SessionRecord] = ()
    contents: Sequence[SessionRecord] = ()
    after_easy: bool = False
    lifts: tuple[Lift, ...] | None = None
    aims: Mapping[str, int] = field(default_factory=dict)
    pain: Pain = NO_PAIN
    strange: tuple[str, ...] = ()
    missed: Mapping[str, float] = field(default_factory=dict)
    newcomers: tuple[str, ...] = ()
    demanded: tuple[str, ...] = ()
    shut: Mapping[str, frozenset[Day]] = field(default_factory=dict)


def base_of(brief: Brief, spec: WeekSpec, pain: Pain = NO_PAIN) -> Brief:
    """The week's own demands: the base brief with the week's patches, on its own dates. Raises InputError.

    What is beyond the lifter yet is avoided, and what hurt and is not cleared, wanted or not, unless a pin of the coach
    holds it; the caution for where it hurt holds, unless it speaks against a pin.
    """
    try:
        changed = patched(brief, spec.changes)
    except InputError as error:
        if not spec.changes:
            raise
        where = f"block.patches.{spec.patch}"
        raise InputError(Fault(f"{where}.{f.path}", f.problem, f.advice) for f in error.faults) from None
    if changed.week.start != brief.week.start:
        raise InputError.single(
            f"block.patches.{spec.patch}.week.start",
            "the date of a week follows from the first week of the block",
            "Leave it out; the first week is the brief's",
        )
    monday = brief.week.start + WEEK * (spec.number - 1)
    update: dict[str, Any] = {
        "title": numbered(brief.title, spec.number),
        "week": changed.week.model_copy(update={"start": monday, "repeats": False}),
        "expect": None,
    }
    if spec.number > 1:
        # Of the history a later week still sees what lies no further back than a brief may look.
        near = tuple(r for r in changed.history if r.start.date() >= monday - dt.timedelta(days=HISTORY_DAYS))
        update |= {"done": (), "not_before": None, "previous": (), "history": near}
    changed = changed.model_copy(update=update)
    pool, held = changed.exercises, pinned(changed)
    out = [key for key in (*pain.exercises, *pain.beyond) if key not in held]
    cautions = [c for c in pain.cautions if not any(c in load_catalogue().exercises[key].cautions for key in held)]
    lifter = changed.lifter.model_copy(update={"cautions": tuple(dict.fromkeys((*changed.lifter.cautions, *cautions)))})
    against = {*out, *flagged(cautions)}
    rest = {
        "avoided": tuple(dict.fromkeys((*pool.avoided, *out))),
        "wanted": tuple(key for key in pool.wanted if key not in against),
    }
    update = {
        "busy": tuple(_busy_near(changed, changed.busy)),
        "exercises": pool.model_copy(update=rest),
        "lifter": lifter,
    }
    return _without_gone(brief, changed.model_copy(update=update))


def _without_gone(brief: Brief, derived: Brief) -> Brief:
    """A week's brief without the musts and concessions that name what the base brief has and the week does not: an
    exercise that is no longer wanted, last week's meeting, a rule that an easy week leaves off."""
    named = {*derived.musts, *derived.concessions}
    gone = named & _switches(brief) - _switches(derived) if named else set()
    if not gone:
        return derived
    update = {
        "musts": tuple(name for name in derived.musts if name not in gone),
        "concessions": {name: most for name, most in derived.concessions.items() if name not in gone},
    }
    return derived.model_copy(update=update)


def _switches(brief: Brief) -> set[str]:
    instance = instance_alone(brief)
    return {switch.id for rule in RULES for switch in rule.active_switches(instance)}


def left_out(base: Brief, pain: Pain) -> set[str]:
    """Exercises that a week's brief leaves out: avoided, or against a caution for where it hurts. Pins hold."""
    held = [caution for caution in pain.cautions if caution in base.lifter.cautions]
    return {*base.exercises.avoided, *flagged(held)}.difference(pinned(base))


def kept_from(block: Block, week: BlockWeek) -> frozenset[str]:
    """Switches that no way out of an impossible week may touch: those that leave out what hurts and is not cleared."""
    return frozenset(f"selection:avoided:{key}" for key in uncleared(block.logs)) & _switches(week.plan.brief)


def pinned(brief: Brief) -> tuple[str, ...]:
    """Exercises that the brief pins."""
    return tuple(e.exercise for pin in brief.pinned for e in pin.exercises)


def rhythm_brief(brief: Brief, spec: WeekSpec, usual: Sequence[SessionRecord]) -> Brief:
    """The week as a ring, without its calendar: whatever it comes to can follow itself.

    It is asked at the top of the path, so that the sessions of every week before fit into its times.
    """
    base = base_of(brief, spec)
    week = base.week.model_copy(update={"start": brief.week.start, "repeats": True})
    update = {"week": week, "busy": (), "history": (), "done": (), "not_before": None, "expect": None}
    base = base.model_copy(update=update)
    base = base.model_copy(update={"previous": tuple(_known(base, usual)) if usual else ()})
    return _without_gone(brief, base.model_copy(update={"goals": path_goals(base, spec.path_percent, {})}))


def build_brief(brief: Brief, spec: WeekSpec, before: Before) -> Brief:
    """A week that builds: aims along the path, recovery from the weeks before, days and times as usual."""
    base = _with_neighbours(base_of(brief, spec, before.pain), spec, before)
    named = {*base.exercises.wanted, *before.newcomers, *pinned(base)}
    wanted = dict.fromkeys((*base.exercises.wanted, *before.newcomers))
    avoided = dict.fromkeys((*base.exercises.avoided, *(key for key in before.strange if key not in named)))
    update: dict[str, Any] = {
        "goals": path_goals(base, spec.path_percent, before.aims),
        "exercises": base.exercises.model_copy(update={"wanted": tuple(wanted), "avoided": tuple(avoided)}),
    }
    if before.demanded:
        switches = (f"selection:wanted:{key}" for key in before.demanded)
        update["musts"] = tuple(dict.fromkeys((*base.musts, *switches)))
    return _without_gone(brief, base.model_copy(update=update))


@dataclass(frozen=True)
class Ease:
    """What an easy week keeps of the sets of an exercise and of the reps of a set, in per cent, rounded up."""

    sets_percent: int
    reps_percent: int


def easy_brief(brief: Brief, spec: WeekSpec, before: Before, ease: Ease, *, same_exercises: bool = True) -> Brief:
    """An easy week: the sessions, days and exercises of the week before, fewer sets and reps, more reps in reserve.

    What a week that builds asks for - least sets, hits, variety, the mix of rep zones, length - is not asked of it.
    """
    base = _with_neighbours(base_of(brief, spec, before.pain), spec, before)
    out = left_out(base, before.pain)
    fewer = [_cut(record, ease.sets_percent, out) for record in _allowed(base, before.contents)]
    cut_sets = {kind: [sum(e.sets for e in r.exercises) for r in fewer if r.kind == kind] for kind in base.kinds}
    prescription = base.prescription
    per_exercise = prescription.sets_per_exercise
    most = per_exercise.most if per_exercise is not None else 50
    settled = instance_alone(base)
    kinds = {}
    for key, kind in base.kinds.items():
        template = settled.kinds[key]
        add_on = kind.add_on
        if add_on is not None:
            upper = template.add_on.sets.most if template.add_on is not None else most
            add_on = add_on.model_copy(update={"sets": CountRange(least=1, most=upper)})
        highest = max(cut_sets[key], default=template.sets.most)
        update: dict[str, Any] = {
            "sets": CountRange(least=1, most=max(1, highest)),
            "minutes": CountRange(least=0, most=template.minutes.most),
            "add_on": add_on,
        }
        kinds[key] = kind.model_copy(update=update)
    goals = {key: _easy_goal(goal, settled.targets[key]) for key, goal in base.goals.items()}
    rules = {key: dict(value) for key, value in base.rules.items()}
    for key in ("variety", "rep_mix", "frequency", "ramp", "stand_in"):
        rules[key] = {**rules.get(key, {}), "mode": "off"}
    pins = base.pinned
    if same_exercises:
        pins = tuple(_pin(record) for record in fewer)
    pool = base.exercises.model_copy(update={"least_distinct": {}, "wanted": ()})
    easier: dict[str, Any] = {
        "kinds": kinds,
        "goals": goals,
        "rules": rules,
        "pinned": pins,
        "exercises": pool,
        "musts": (),
        "prescription": base.prescription.model_copy(
            update={
                "sets_per_exercise": CountRange(least=1, most=most),
                "reps_percent": ease.reps_percent,
            }
        ),
    }
    return _without_gone(brief, base.model_copy(update=easier))


def _allowed(base: Brief, records: Iterable[SessionRecord]) -> Iterable[SessionRecord]:
    """No more sessions of a kind than the week may have."""
    left = {key: kind.per_week.most for key, kind in base.kinds.items()}
    for record in records:
        if left.get(record.kind, 0):
            left[record.kind] -= 1
            yield record


def _pin(record: SessionRecord) -> Pin:
    rows: dict[str, int] = {}
    for e in record.exercises:
        rows[e.exercise] = rows.get(e.exercise, 0) + e.sets
    return Pin(kind=record.kind, exercises=tuple(PinnedExercise(exercise=k, sets=n) for k, n in rows.items()))


def _cut(record: SessionRecord, percent: int, avoided: Collection[str]) -> SessionRecord:
    rows = (e.model_copy(update={"sets": -(-e.sets * percent // 100)}) for e in record.exercises)
    return record.model_copy(update={"exercises": tuple(e for e in rows if e.sets and e.exercise not in avoided)})


def _easy_goal(goal: MuscleGoal, target: Target) -> MuscleGoal:
    update = {"least": 0.0, "aim": 0.0, "most": sets_from_quarters(target.most), "frequency": None}
    return goal.model_copy(update=update)


def path_goals(brief: Brief, percent: int, own: Mapping[str, int]) -> dict[str, MuscleGoal]:
    """The goals at a per cent of the path: 0 the least, 100 the aim, 200 the most; whole sets, halves down."""
    goals = {}
    for key, target in instance_alone(brief).targets.items():
        least, aim, most = (sets_from_quarters(q) for q in (target.least, target.aim, target.most))
        share = own.get(key, percent)
        low, high, part = (least, aim, share) if share <= _AIM else (aim, most, share - _AIM)
        wanted = low + (high - low) * part / _AIM
        whole = float(-int(-(wanted - 0.5) // 1))
        update = {"least": least, "aim": min(most, max(least, whole)), "most": most}
        goals[key] = brief.goals[key].model_copy(update=update)
    return goals


def _with_neighbours(base: Brief, spec: WeekSpec, before: Before) -> Brief:
    monday = base.week.start
    rules = dict(base.rules)
    if before.after_easy and "ramp" not in base.rules:
        rules["ramp"] = {"mode": "off"}
    if before.missed:
        rules["ramp"] = {**rules.get("ramp", {}), "before_missed": dict(before.missed)}
    lifter = base.lifter if before.lifts is None else base.lifter.model_copy(update={"lifts": before.lifts})
    kinds = {
        key: kind.model_copy(update={"days": tuple(d for d in kind.days or DAYS if d not in before.shut[key])})
        if key in before.shut
        else kind
        for key, kind in base.kinds.items()
    }
    rhythm = [at_week(record, spec.number - 1, base) for record in before.rhythm]
    update = {
        "history": tuple(_history(base, before.records, monday)),
        "previous": tuple(_known(base, _with_contents(rhythm, before.contents))) if spec.number > 1 or rhythm else (),
        "prescription": base.prescription.model_copy(update={"reps_in_reserve": spec.reps_in_reserve}),
        "lifter": lifter,
        "rules": rules,
        "kinds": kinds,
    }
    return base.model_copy(update=update)


def _history(base: Brief, records: Iterable[SessionRecord], monday: dt.date) -> Iterable[SessionRecord]:
    """What is not older than two weeks and began before the week."""
    start = dt.datetime.combine(monday, dt.time(), base.week.tz)
    for record in (*base.history, *records):
        begun = record.start if record.start.tzinfo else record.start.replace(tzinfo=base.week.tz)
        if start - 2 * WEEK <= begun < start:
            yield placed(record, base)


def _known(base: Brief, records: Iterable[SessionRecord]) -> Iterable[SessionRecord]:
    """Records of kinds that the week has."""
    for record in records:
        if record.kind in base.kinds:
            yield placed(record, base)


def placed(record: SessionRecord, brief: Brief) -> SessionRecord:
    """A record for a week's brief: a place that the week does not know is left out."""
    return record if record.place in brief.places else record.model_copy(update={"place": None})


def at_week(record: SessionRecord, weeks: int, base: Brief) -> SessionRecord:
    """A record so many weeks later at the same time on the clock."""
    zone = base.week.tz
    start = (record.start.astimezone(zone) if record.start.tzinfo else record.start).replace(tzinfo=None)
    return record.model_copy(update={"start": (start + WEEK * weeks).replace(tzinfo=zone)})


def _with_contents(rhythm: Sequence[SessionRecord], contents: Sequence[SessionRecord]) -> list[SessionRecord]:
    """The usual sessions with the exercises of other ones, kind by kind in order of time."""
    queues: dict[str, list[tuple[DoneExercise, ...]]] = {}
    for record in sorted(contents, key=lambda r: r.start):
        queues.setdefault(record.kind, []).append(record.exercises)
    found = []
    for record in sorted(rhythm, key=lambda r: r.start):
        queue = queues.get(record.kind)
        found.append(record.model_copy(update={"exercises": queue.pop(0) if queue else ()}))
    return found


def with_least_sets(records: Iterable[SessionRecord], brief: Brief) -> list[SessionRecord]:
    """Records with the fewest sets that an exercise may have: where a path begins."""
    least = max(1, instance_alone(brief).sets_per_exercise.least)
    return [
        r.model_copy(
            update={"exercises": tuple(e.model_copy(update={"sets": min(e.sets, least)}) for e in r.exercises)}
        )
        for r in records
    ]


def busy_in(busy: Iterable[BusyTime], first: dt.datetime, last: dt.datetime) -> Iterable[BusyTime]:
    """Busy times that touch a span."""
    for time in busy:
        start, end = (t if t.tzinfo else t.replace(tzinfo=first.tzinfo) for t in (time.start, time.end))
        if start < last and end > first:
            yield time


def _busy_near(base: Brief, busy: Iterable[BusyTime]) -> Iterable[BusyTime]:
    start = dt.datetime.combine(base.week.start, dt.time(), base.week.tz)
    return busy_in(busy, start - dt.timedelta(days=1), start + WEEK + dt.timedelta(days=1))
