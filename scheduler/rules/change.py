"""When a week is planned anew: as little as possible changes against the previous plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations, product
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import SLOTS_PER_HOUR
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.rules.base import TIME, Rule, Setting, Switch, Unit, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear, Literal
    from scheduler.week.model import Week
    from scheduler.week.variables import OptionVars, SessionVars

PARTS = ("days", "times", "places", "exercises", "sets")
"""What can change, the gravest first: each is kept before all that come after it."""
LONGEST_DAY = 25 * SLOTS_PER_HOUR
"""Slots of the day on which summer time ends: two starts on one day lie less than this apart."""

_WHOLE_SETS = Unit("set", lambda n: wording.counted(n, "set"))
_UNITS = {
    "days": count_of("session"),
    "times": TIME,
    "places": count_of("session"),
    "exercises": count_of("exercise"),
    "sets": _WHOLE_SETS,
}
_SENTENCES = {
    "days": ("Sessions stay on the days they had.", "{} moved to another day, dropped or added"),
    "times": ("Sessions stay at the times they had.", "{} earlier or later, summed"),
    "places": ("Sessions stay at the places they had.", "{} at another place"),
    "exercises": ("Sessions keep the exercises they had.", "{} added or dropped"),
    "sets": ("Exercises keep the sets and rep zones they had.", "{} more, fewer or in another rep zone"),
}


@dataclass(frozen=True)
class Matching:
    """Which session of the new plan is which of the previous one.

    Attributes:
        same_day: pairs of a previous and a new session on the same day.
        moved: pairs on different days.
        dropped: previous sessions without a new one.
        added: new sessions without a previous one.
    """

    same_day: tuple[tuple[SessionFacts, SessionFacts], ...]
    moved: tuple[tuple[SessionFacts, SessionFacts], ...]
    dropped: tuple[SessionFacts, ...]
    added: tuple[SessionFacts, ...]

    @property
    def pairs(self) -> tuple[tuple[SessionFacts, SessionFacts], ...]:
        return (*self.same_day, *self.moved)


def match_sessions(previous: Iterable[SessionFacts], planned: Iterable[SessionFacts]) -> Matching:
    """Sessions of one kind on one day are the same session, in order of time; the rest of a kind goes by order of time.

    That keeps as many days as any matching could: of P sessions on a day and N later there are min(P, N) that stay.
    """
    before = sorted(previous, key=lambda s: s.start)
    after = sorted(planned, key=lambda s: s.start)
    same_day: list[tuple[SessionFacts, SessionFacts]] = []
    moved: list[tuple[SessionFacts, SessionFacts]] = []
    dropped: list[SessionFacts] = []
    added: list[SessionFacts] = []
    for kind in dict.fromkeys(s.kind for s in (*before, *after)):
        old, new = [s for s in before if s.kind == kind], [s for s in after if s.kind == kind]
        for day in dict.fromkeys(s.day for s in old):
            here = list(zip([s for s in old if s.day == day], [s for s in new if s.day == day], strict=False))
            same_day += here
            for one, other in here:
                old.remove(one)
                new.remove(other)
        moved += zip(old, new, strict=False)
        dropped += old[len(new) :]
        added += new[len(old) :]
    return Matching(tuple(same_day), tuple(moved), tuple(dropped), tuple(added))


def exercise_sets(session: SessionFacts) -> dict[str, Counter[Zone | None]]:
    """Sets by exercise and rep zone, activation left out."""
    found: dict[str, Counter[Zone | None]] = {}
    for item in session.items:
        if item.role is not Role.ACTIVATION:
            found.setdefault(item.key, Counter())[item.zone] += item.sets
    return found


def sets_changed(old: Mapping[Zone | None, int], new: Mapping[Zone | None, int]) -> int:
    """Sets more and fewer, zone by zone; a record without reps tells no zone, and then the total counts."""
    if None in old or None in new:
        return abs(sum(new.values()) - sum(old.values()))
    return sum(abs(new.get(zone, 0) - old.get(zone, 0)) for zone in dict.fromkeys((*old, *new)))


class ChangeRule(Rule[Setting]):
    """With a previous plan: change against it, as small as can be, the gravest part first.

        days       = sessions that are on another day, dropped or added
        times      = sum of |start(s) - start(p)| over the sessions that stay on their day
        places     = sessions that stay in the plan but go to another place
        exercises  = exercises added or dropped in sessions that stay in the plan
        sets       = sets more or fewer of the exercises that stay, zone by zone

    A session s is the previous p of its kind on the same day, in order of time; those left over are matched in order of
    time. Done sessions are on neither side. Five switches. Measure: sessions, five minutes, sessions, exercises, sets.

    The parts are solved one after another, and their weights are such that one unit of a part costs more than all that
    can be lost in the parts after it: with P previous sessions of e exercises each, sets <= sum of (old + most sets of
    an exercise), exercises <= sum of (e + exercises of the kind), places <= P, times <= P x 300 slots.
    """

    key = "change"
    title = "Change"
    meaning = "Against a previous plan as little as possible changes: days before times, places, exercises and sets."
    formula = "lexicographically minimise (days, times, places, exercises, sets) against the previous plan"
    default_mode = Mode.WISH
    tier = 2
    measure = True
    staged = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        if not instance.previous:
            return
        factors = self.factors(instance)
        for part in PARTS:
            sentence, words = _SENTENCES[part]
            yield self.switch(instance, part, sentence, words, _UNITS[part], factor=factors[part])

    def bounds(self, instance: Instance) -> dict[str, int]:
        """No plan that the planner can make changes more than this of the parts that come after another."""
        previous = instance.previous
        sets = exercises = 0
        for session in previous:
            kind = instance.kinds[session.kind]
            add_on = kind.add_on
            patterns = (*kind.patterns, *((add_on.pattern,) if add_on else ()))
            old = exercise_sets(session)
            cap = add_on.sets.most if add_on else 0
            sets += sum(sum(zones.values()) + max(cap, instance.sets_of(key).most) for key, zones in old.items())
            exercises += len(old) + sum(row.pattern in patterns for row in instance.pool.values())
        return {
            "times": len(previous) * LONGEST_DAY,
            "places": len(previous),
            "exercises": exercises,
            "sets": sets,
        }

    def factors(self, instance: Instance) -> dict[str, int]:
        """What a unit of each part costs: one more than all parts after it together can."""
        bounds = self.bounds(instance)
        found: dict[str, int] = {}
        rest = 0
        for part in reversed(PARTS):
            found[part] = rest + 1
            rest += found[part] * bounds.get(part, 0)
        return found

    def zones_told(self, instance: Instance) -> Callable[[str], Iterable[Zone]]:
        before = {item.key for old in instance.previous for item in old.items}
        return lambda exercise: Zone if exercise in before else ()

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        if not facts.instance.previous:
            return {}
        matching = match_sessions(facts.instance.previous, facts.planned)
        found = dict.fromkeys(PARTS, 0)
        found["days"] = len(matching.moved) + len(matching.dropped) + len(matching.added)
        found["times"] = sum(abs(old.start - new.start) for old, new in matching.same_day)
        for old, new in matching.pairs:
            found["places"] += int(old.place is not None and old.place != new.place)
            before, after = exercise_sets(old), exercise_sets(new)
            found["exercises"] += len(before.keys() ^ after.keys())
            found["sets"] += sum(sets_changed(before[key], after[key]) for key in before if key in after)
        return {self.id(part): breach for part, breach in found.items() if breach}

    def post(self, week: Week) -> None:
        instance = week.instance
        if not instance.previous:
            return
        # How many sessions there may be is the model's to say.
        bounds = {**self.bounds(instance), "days": len(instance.previous) + len(week.open_sessions)}
        parts: dict[str, list[Linear]] = {part: [] for part in PARTS}
        for kind in instance.kinds:
            previous = [s for s in instance.previous if s.kind == kind]
            sessions = [s for s in week.open_sessions if s.kind == kind]
            same_day, moved = _Pairing(week, previous, sessions).post()
            parts["days"].append(len(previous) + sum(s.active for s in sessions))
            parts["days"] += [-2 * literal for literal in same_day.values()]
            parts["days"] += [-literal for literal in moved.values()]
            for p, old in enumerate(previous):
                late = week.model.new_int_var(0, LONGEST_DAY, f"{kind} {p} earlier or later")
                parts["times"].append(late)
                for s, new in enumerate(sessions):
                    if (p, s) in same_day:
                        week.model.add(late >= new.start - old.start).only_enforce_if(same_day[p, s])
                        week.model.add(late >= old.start - new.start).only_enforce_if(same_day[p, s])
                matched = [(sessions[s], literal) for s, literal in _either(week, p, same_day, moved).items()]
                self._post_content(week, old, matched, parts)
        for part in PARTS:
            week.model.add(sum(parts[part]) <= week.slack(self.id(part), bounds[part]))

    def _post_content(
        self,
        week: Week,
        old: SessionFacts,
        matched: Iterable[tuple[SessionVars, Literal]],
        parts: Mapping[str, list[Linear]],
    ) -> None:
        """Places, exercises and sets of one previous session against the new one it is matched with."""
        model = week.model
        label = f"previous {old.kind} {old.start}"
        before = exercise_sets(old)
        elsewhere = week.bool_var(f"{label} elsewhere")
        changed = model.new_int_var(0, 1000, f"{label} exercises changed")
        parts["places"].append(elsewhere)
        parts["exercises"].append(changed)
        differences = {key: model.new_int_var(0, 1000, f"{label} {key} sets changed") for key in before}
        parts["sets"] += differences.values()
        for new, literal in matched:
            if old.place is not None:
                model.add_bool_or(elsewhere, new.at[old.place], ~literal)
            kept = [o.use for o in new.options if o.stimulus.key in before]
            added = [o.uses for o in new.options if o.stimulus.key not in before]
            model.add(changed >= len(before) - sum(kept) + sum(added)).only_enforce_if(literal)
            for option in new.options:
                if option.stimulus.key in before:
                    zones = before[option.stimulus.key]
                    _post_sets(week, option, zones, differences[option.stimulus.key], literal)


def _post_sets(
    week: Week, option: OptionVars, zones: Mapping[Zone | None, int], difference: Linear, literal: Literal
) -> None:
    """``difference`` is at least what :func:`sets_changed` says, where the option is used."""
    told = None not in zones
    here = zones.get(option.zone, 0) if told else sum(zones.values())
    elsewhere = sum(zones.values()) - here
    for change in (option.sets - here, here - option.sets):
        week.model.add(difference >= change + elsewhere).only_enforce_if(literal, option.use)


def _either(
    week: Week,
    p: int,
    same_day: Mapping[tuple[int, int], Literal],
    moved: Mapping[tuple[int, int], Literal],
) -> dict[int, Literal]:
    """Per new session whether it is the previous p, on its day or moved."""
    found: dict[int, Literal] = {}
    for (old, s), literal in moved.items():
        if old != p:
            continue
        found[s] = literal
        if (p, s) in same_day:
            either = week.bool_var(f"previous {p} is {s}")
            week.model.add(same_day[p, s] + literal == either)
            found[s] = either
    return found


class _Pairing:
    """The matching of :func:`match_sessions` for one kind, as literals: fully determined by the sessions."""

    def __init__(self, week: Week, previous: Sequence[SessionFacts], sessions: Sequence[SessionVars]) -> None:
        self.week = week
        self.previous = previous
        self.sessions = sessions
        self.same_day: dict[tuple[int, int], Literal] = {}
        self.moved: dict[tuple[int, int], Literal] = {}

    def post(self) -> tuple[Mapping[tuple[int, int], Literal], Mapping[tuple[int, int], Literal]]:
        """Pairs on the same day and pairs moved, by index of the previous and of the new session."""
        add = self.week.model.add
        for p, old in enumerate(self.previous):
            for s, new in enumerate(self.sessions):
                name = f"{new.label} is previous {p} of {old.kind}"
                on_day = self._on(s, old.day)
                if on_day is not None:
                    self.same_day[p, s] = self.week.bool_var(f"{name}, same day")
                    self.week.model.add_implication(self.same_day[p, s], on_day)
                self.moved[p, s] = self.week.bool_var(f"{name}, moved")
                self.week.model.add_implication(self.moved[p, s], new.active)
        for p in range(len(self.previous)):
            add(self._old(p) <= 1)
        for s in range(len(self.sessions)):
            add(self._new(s) <= 1)
        for day in dict.fromkeys(old.day for old in self.previous):
            self._in_order(self.same_day, [p for p, old in enumerate(self.previous) if old.day == day], day)
        self._in_order(self.moved, range(len(self.previous)), None)
        return self.same_day, self.moved

    def _on(self, s: int, day: int) -> Literal | None:
        if not 0 <= day < len(self.sessions[s].day) or self.sessions[s].day[day] is self.week.zero:
            return None
        return self.sessions[s].day[day]

    def _old(self, p: int, *, same_day_only: bool = False) -> Linear:
        pairs = (self.same_day,) if same_day_only else (self.same_day, self.moved)
        return sum(literal for part in pairs for (old, _), literal in part.items() if old == p)

    def _new(self, s: int, *, same_day_only: bool = False) -> Linear:
        pairs = (self.same_day,) if same_day_only else (self.same_day, self.moved)
        return sum(literal for part in pairs for (_, new), literal in part.items() if new == s)

    def _in_order(self, pairs: Mapping[tuple[int, int], Literal], among: Sequence[int], day: int | None) -> None:
        """As many as there can be, the earliest of either side first, none crossing another."""
        model = self.week.model
        same_day_only = day is not None
        for p in among:
            for s, new in enumerate(self.sessions):
                there = new.active if day is None else self._on(s, day)
                if there is not None:
                    old_or_new = self._old(p, same_day_only=same_day_only) + self._new(s, same_day_only=same_day_only)
                    model.add(old_or_new >= 1).only_enforce_if(there)
        for earlier, later in combinations(among, 2):
            for (p, _), literal in pairs.items():
                if p == later:
                    model.add(self._old(earlier, same_day_only=same_day_only) >= 1).only_enforce_if(literal)
        for s, t in permutations(range(len(self.sessions)), 2):
            before = self.week.before(self.sessions[s], self.sessions[t])
            there = self.sessions[s].active if day is None else self._on(s, day)
            if there is None:
                continue
            for p in among:
                if (p, t) in pairs:
                    # The later of the two is taken only when the earlier one is.
                    model.add(self._new(s, same_day_only=same_day_only) >= 1).only_enforce_if(
                        pairs[p, t], before, there
                    )
            for p, q in product(among, among):
                if p < q and (q, s) in pairs and (p, t) in pairs:
                    model.add_bool_or(~pairs[q, s], ~pairs[p, t], before.negated())
