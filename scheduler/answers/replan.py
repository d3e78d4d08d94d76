"""Re-plan: what is past is fixed, what was missed is free, and the rest of the week moves as little as possible.

The old plan's remaining sessions become ``previous`` of the brief, so that tier 2 holds the new plan to them; nothing
starts before now. Where the old plan still holds, and no wish falls shorter than it did, it stays as it is.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scheduler import planning, referee
from scheduler.answers.conflicts import explain
from scheduler.answers.variants import WISHES, Patch, patched, session_differences
from scheduler.domain import wording
from scheduler.domain.brief import Brief, DoneExercise, ExercisePool, SessionRecord
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.plan import Entry, Finding, Mode, Plan, PlannedSession, PlanStatus, Role
from scheduler.domain.units import DAYS
from scheduler.domain.variants import Cause, Difference, Replanned, ReplannedMove
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.instance.clock import Clock
from scheduler.rules.change import match_sessions
from scheduler.rules.not_before import NotBeforeRule
from scheduler.rules.pinned import PinnedRule
from scheduler.week.solver import Cancel, Limits

CHANGE = 2


def replan(
    plan: Plan,
    *,
    done: Iterable[str] = (),
    missed: Iterable[str] = (),
    now: dt.datetime | None = None,
    changes: Patch | None = None,
    limits: Limits | None = None,
    explain_seconds: float = 20.0,
    cancel: Cancel | None = None,
) -> Replanned:
    """Plan the rest of a week anew.

    Args:
        done: sessions of the plan that were done as planned: ``mon``, or ``mon back`` where Monday has two.
        missed: sessions that were not; they may lie anywhere from now on.
        now: nothing starts before; left out: the end of the last session that is named here, or the moment of an
            earlier re-plan. A moment without an offset is on the week's clock.
        changes: a merge patch of the brief.
        explain_seconds: budget for the conflicts and mends of an impossible rest.

    Raises:
        InputError: a session is not there or not named, or the changed brief cannot be used.
    """
    split = _split(plan, done, missed, now)
    brief = _brief(plan, split, changes)
    instance = planning.instance_of(brief)
    kept = planning.check(brief, split.remaining)
    if split.missed or not kept.holds or _worse(kept.plan, plan):
        found = planning.solve(brief, limits=limits, cancel=cancel)
        stays = kept.holds and (not found.tiers or _values(kept.plan) <= _values(found))
    else:
        found, stays = kept.plan, True
    if stays and not (split.missed or split.done_again or changes):
        found = plan
    elif stays:
        found = kept.plan.model_copy(update={"sessions": split.remaining})
    found = found.model_copy(update={"sessions": _with_done(found.sessions, split)})
    if not found.tiers:
        impossible = found.status is PlanStatus.IMPOSSIBLE
        return Replanned(
            now=split.now,
            unchanged=False,
            sentence=_no_plan(found),
            plan=found,
            reasons=explain(brief, budget_seconds=explain_seconds, costs=_mend_costs(instance, split), cancel=cancel)
            if impossible
            else None,
        )
    facts = referee.facts_of(instance, found.sessions)
    change = session_differences(_remaining(instance, split), facts.planned, instance)
    moves = tuple(_Blame(instance, facts, split).moves())
    unchanged = stays and not split.missed
    return Replanned(
        now=split.now,
        unchanged=unchanged,
        sentence="Nothing needs to change." if unchanged else _summary(change),
        plan=found,
        moves=moves,
        difference=change,
    )


def _mend_costs(instance: Instance, split: _Split) -> dict[str, int]:
    """What mends cost where it is otherwise than usual: that a missed session is not made up costs little."""
    little = instance.catalogue.default_int("mend_cost_missed_session")
    kinds = {session.kind for session in split.missed}
    return dict.fromkeys([f"session_count:kind:{kind}" for kind in kinds] + ["session_count:all"] * bool(kinds), little)


def rest_of(
    plan: Plan,
    *,
    done: Iterable[str] = (),
    missed: Iterable[str] = (),
    now: dt.datetime | None = None,
    changes: Patch | None = None,
) -> Brief:
    """The brief of the rest of a week, as :func:`replan` would solve it. Raises InputError."""
    brief = _brief(plan, _split(plan, done, missed, now), changes)
    planning.instance_of(brief)
    return brief


# --- what is past ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Split:
    """The sessions of the old plan: done before, done now, missed, and still to come."""

    now: dt.datetime
    done: tuple[PlannedSession, ...]
    done_again: tuple[PlannedSession, ...]
    missed: tuple[PlannedSession, ...]
    remaining: tuple[PlannedSession, ...]


def _split(plan: Plan, done: Iterable[str], missed: Iterable[str], now: dt.datetime | None) -> _Split:
    clock = Clock(plan.brief.week)
    open_sessions = [s for s in plan.sessions if s.state != "done"]
    did = [_named(open_sessions, clock, name, "done") for name in done]
    lost = [_named(open_sessions, clock, name, "missed") for name in missed]
    for session in did:
        if session in lost:
            raise InputError.single("missed", f"{_label(session, clock)} is done and missed", "Name it once")
    past = [*did, *lost]
    before = plan.brief.not_before
    ends = [*(s.end for s in past), *([clock.instant(before)] if before is not None else [])]
    moment = now if now is not None else max(ends, default=clock.local(0))
    moment = clock.instant(moment).astimezone(clock.tz)
    if not clock.local(0) <= moment <= clock.local(clock.slots):
        first = clock.local(0)
        raise InputError.single(
            "now", f"{moment:%Y-%m-%dT%H:%M} lies outside the week", f"The plan's week begins on {first:%Y-%m-%d}"
        )
    then = wording.day_time(moment)
    faults = [
        Fault("done", f"{_label(s, clock)} has not started at {then}", "Give a later now, or leave it out")
        for s in did
        if s.start >= moment
    ]
    faults += [
        Fault(
            "now",
            f"{_label(s, clock)} started before {then} and is neither done nor missed",
            f"Add it to done or to missed: {DAYS[s.start.weekday()]} {s.kind}",
        )
        for s in open_sessions
        if s not in past and s.start < moment
    ]
    if faults:
        raise InputError(faults)
    return _Split(
        now=moment,
        done=tuple(s for s in plan.sessions if s.state == "done"),
        done_again=tuple(s.model_copy(update={"state": "done"}) for s in did),
        missed=tuple(lost),
        remaining=tuple(s for s in open_sessions if s not in past),
    )


_CLOCK = re.compile(r"\b([01]?\d|2[0-3]):([0-5]\d)\b")


def _named(sessions: Sequence[PlannedSession], clock: Clock, name: str, field: str) -> PlannedSession:
    time = _CLOCK.search(name)
    at = dt.time(int(time[1]), int(time[2])) if time else None
    words = re.sub("[+:_]", " ", _CLOCK.sub(" ", name)).lower().split()
    days = [w for w in words if w in list(DAYS)]
    kind = " ".join(w for w in words if w not in list(DAYS))
    if not (days or kind) or len(days) > 1:
        raise InputError.single(field, f"{name!r} names no session", "Write a weekday, or weekday and kind: mon back")

    def is_meant(session: PlannedSession) -> bool:
        start = session.start.astimezone(clock.tz)
        return (
            (not days or DAYS[start.weekday()] == days[0])
            and (not kind or kind in (session.kind.lower().replace("_", " "), session.name.lower()))
            and at in (None, start.time())
        )

    found = [session for session in sessions if is_meant(session)]
    if len(found) == 1:
        return found[0]
    there = wording.listed(_label(s, clock) for s in (found or sessions)) if (found or sessions) else "none"
    problem = f"{name!r} names {len(found)} sessions" if found else f"{name!r} names no session that is still open"
    alike = len({(s.kind, s.start.date()) for s in found}) < len(found)
    how = "weekday, time and kind: mon 18:00 back" if alike else "weekday and kind: mon back"
    raise InputError.single(field, problem, f"There are: {there}. Write {how}")


def _label(session: PlannedSession, clock: Clock) -> str:
    return f"{session.name} on {wording.day_time(session.start.astimezone(clock.tz))}"


def record_of(session: PlannedSession) -> SessionRecord:
    """A planned session as a record; activation sets count for nothing and are left out."""
    return SessionRecord(
        kind=session.kind,
        start=session.start,
        minutes=session.minutes,
        place=session.place,
        exercises=tuple(_done_exercise(e) for e in session.entries if e.role is not Role.ACTIVATION),
    )


def _done_exercise(entry: Entry) -> DoneExercise:
    return DoneExercise(
        exercise=entry.exercise,
        sets=entry.sets,
        reps=entry.reps,
        load_kg=entry.load_kg,
        reps_in_reserve=entry.reps_in_reserve,
        add_on=entry.role is Role.ADD_ON,
    )


def _brief(plan: Plan, split: _Split, changes: Patch | None) -> Brief:
    """The brief of the rest of the week."""
    brief = patched(plan.brief, changes or {}, inside="changes." if changes else "")
    # Whatever the brief says of it, or concedes: time does not run backwards.
    brief = brief.model_copy(
        update={
            "rules": {key: setting for key, setting in brief.rules.items() if key != NotBeforeRule.key},
            "concessions": {name: most for name, most in brief.concessions.items() if name != NotBeforeRule.key},
        }
    )
    previous = sorted((*split.remaining, *split.missed), key=lambda s: s.start)
    return brief.model_copy(
        update={
            "done": (*brief.done, *(record_of(s) for s in split.done_again)),
            "previous": tuple(record_of(s) for s in previous),
            **_pins(brief, split),
            "not_before": split.now,
        }
    )


def _pins(brief: Brief, split: _Split) -> dict[str, Any]:
    """The pins of the rest, and what the brief says of them by number: a pin whose session was done is fulfilled; one
    whose session was missed keeps its exercises but not its time.

    Which session a pin is for is asked of all sessions that were open, as the rule does: a done one that fits two pins
    fulfils the one that no other session does.
    """
    were_open = [s.model_copy(update={"state": "planned"}) for s in split.done_again]
    facts = referee.facts_of(planning.instance_of(brief), (*were_open, *split.missed, *split.remaining))
    clock = facts.instance.clock
    of_pin = {
        number: (session.kind, clock.local(session.start)) for number, session in PinnedRule().assigned(facts).items()
    }
    done = {(s.kind, _on_grid(s, clock)) for s in split.done_again}
    missed = {(s.kind, _on_grid(s, clock)) for s in split.missed}
    left = [number for number in range(len(brief.pinned)) if of_pin.get(number) not in done]
    free = {"day": None, "start": None}
    pins = [(brief.pinned[n], of_pin.get(n) in missed) for n in left]
    names = {
        f"{PinnedRule.key}:{n}": f"{PinnedRule.key}:{left.index(n)}" if n in left else None
        for n in range(len(brief.pinned))
    }
    musts = (names.get(name, name) for name in brief.musts)
    conceded = {names.get(name, name): amount for name, amount in brief.concessions.items()}
    fulfilled = [e.exercise for n, pin in enumerate(brief.pinned) if n not in left for e in pin.exercises]
    return {
        "pinned": tuple(pin.model_copy(update=free) if lost else pin for pin, lost in pins),
        "exercises": _still_admitting(brief.exercises, fulfilled),
        "musts": tuple(name for name in musts if name is not None),
        "concessions": {name: amount for name, amount in conceded.items() if name is not None},
    }


def _still_admitting(pool: ExercisePool, exercises: Sequence[str]) -> ExercisePool:
    """The pool with what a pin let in beside the brief's own list: the rest of the week was planned with it."""
    if pool.only is None:
        return pool
    return pool.model_copy(update={"only": tuple(dict.fromkeys((*pool.only, *exercises)))})


def _on_grid(session: PlannedSession, clock: Clock) -> dt.datetime:
    return clock.local(clock.floor(session.start))


def _with_done(sessions: Iterable[PlannedSession], split: _Split) -> tuple[PlannedSession, ...]:
    """The sessions of a plan with the done ones exactly as they were."""
    done = [*split.done, *split.done_again]
    rest = [s for s in sessions if s.state != "done"]
    return tuple(sorted((*done, *rest), key=lambda s: (s.start, s.end, s.kind)))


def _remaining(instance: Instance, split: _Split) -> tuple[SessionFacts, ...]:
    """The old sessions that could stay, missed ones too, as facts of the new brief."""
    return referee.facts_of(instance, (*split.remaining, *split.missed)).planned


# --- whether it is worth a change ---------------------------------------------------------------------------------


def _value(plan: Plan, number: int) -> int:
    return next((t.value for t in plan.tiers if t.tier == number), 0)


def _values(plan: Plan) -> tuple[int, int]:
    """Wishes, then change: what a new plan has to be better in."""
    return _value(plan, WISHES), _value(plan, CHANGE)


def _worse(kept: Plan, plan: Plan) -> bool:
    """Whether a wish falls shorter than it did in the old plan; that another one went makes no good of it."""
    before = _costs_of_wishes(plan)
    return any(cost > before.get(switch, 0) for switch, cost in _costs_of_wishes(kept).items())


def _costs_of_wishes(plan: Plan) -> dict[str, int]:
    return {f.switch: f.cost for rule in plan.rules if rule.tier == WISHES for f in rule.findings}


# --- why it had to change -----------------------------------------------------------------------------------------


class _Blame:
    """Puts each change back by itself and asks the referee what that would break."""

    def __init__(self, instance: Instance, facts: WeekFacts, split: _Split) -> None:
        self.instance = instance
        self.facts = facts
        self.missed = {(s.kind, s.start) for s in split.missed}
        self.old = _remaining(instance, split)
        self.review = referee.review(facts)
        self.kept = referee.review(self._with((*instance.done, *(s for s in self.old if not self._was_missed(s)))))

    def moves(self) -> Iterable[ReplannedMove]:
        matching = match_sessions(self.old, self.facts.planned)
        for old, new in sorted(matching.pairs, key=lambda pair: pair[0].start):
            difference = session_differences([old], [new], self.instance)
            back = replace(new, start=old.start, end=old.start + new.end - new.start, day=old.day, place=old.place)
            for move in difference.moved:
                causes = self._missed() if self._was_missed(old) else self._causes(new, back)
                yield ReplannedMove(sentence=move.sentence, causes=causes)
            refilled = replace(new, items=old.items, end=new.start + old.end - old.start)
            for content in difference.contents:
                yield ReplannedMove(sentence=content.sentence, causes=self._causes(new, refilled))
        for session in matching.dropped:
            gone = session_differences([session], [], self.instance).dropped[0]
            causes = self._missed() if self._was_missed(session) else self._causes(None, session)
            yield ReplannedMove(sentence=gone.sentence, causes=causes)
        for session in matching.added:
            fresh = session_differences([], [session], self.instance).added[0]
            yield ReplannedMove(sentence=fresh.sentence, causes=self._causes(session, None))

    def _was_missed(self, session: SessionFacts) -> bool:
        return (session.kind, self.instance.clock.local(session.start)) in self.missed

    def _missed(self) -> tuple[Cause, ...]:
        return (Cause(rule="missed", sentence="It was missed."),)

    def _with(self, sessions: Iterable[SessionFacts]) -> WeekFacts:
        return WeekFacts(self.instance, tuple(sorted(sessions, key=lambda s: (s.start, s.end, s.kind))))

    def _causes(self, new: SessionFacts | None, old: SessionFacts | None) -> tuple[Cause, ...]:
        """What putting one session back would break; else what keeping the whole old plan would."""
        others = [s for s in self.facts.sessions if s is not new]
        put_back = referee.review(self._with([*others, *([old] if old is not None else [])]))
        for broken in (put_back.broken_musts, self._shorter(put_back), self.kept.broken_musts):
            if broken:
                return tuple(Cause(rule=f.rule, sentence=f"{f.sentence} ({f.breach_text})") for f in broken)
        return tuple(Cause(rule=f.rule, sentence=f"{f.sentence} ({f.breach_text})") for f in self._shorter(self.kept))

    def _shorter(self, other: referee.Review) -> tuple[Finding, ...]:
        """Wishes that fall shorter than in the new plan."""
        now = {f.switch: f.breach for r in self.review.rules for f in r.findings}
        return tuple(
            f
            for r in other.rules
            if r.tier == WISHES and not r.measure
            for f in r.findings
            if f.mode is Mode.WISH and f.breach > now.get(f.switch, 0)
        )


# --- words --------------------------------------------------------------------------------------------------------


def _summary(change: Difference) -> str:
    exercises = sum(len(c.added) + len(c.dropped) for c in change.contents)
    sets = sum(abs(s.after - s.before) for c in change.contents for s in c.sets)
    parts = [
        f"{wording.counted(number, noun)} {word}"
        for number, noun, word in (
            (len(change.moved), "session", "moved"),
            (len(change.added), "session", "new"),
            (len(change.dropped), "session", "dropped"),
            (exercises, "exercise", "added or dropped"),
            (sets, "set", "more or fewer"),
        )
        if number
    ]
    return f"{wording.listed(parts)}." if parts else "No session that is still to come changes."


def _no_plan(found: Plan) -> str:
    if found.status is PlanStatus.IMPOSSIBLE:
        return "The rest of this week cannot be planned by these musts."
    return "No plan was found in time."
