"""The week as a CP-SAT model: sessions on openings, starts on the grid, exercises and sets.

Each session kind has as many *session slots of its own* (:class:`SessionVars`) as it may have sessions. A session lies
in one opening, starts on the five-minute grid and holds options: a stimulus class in a rep zone, with a number of
exercises (uses) and of sets. Identities that always hold, whatever the rules say:

    end = start + length                   length = warm-up + set-ups + sets x (work + rest) - shared rests, in slots
    exactly one opening if active          day and place are those of the opening
    vol[s, m] = sum of sets x count        total[m] = sum of vol[s, m] + add-ons
    hit[s, m]  <=>  vol[s, m] >= hit_sets  sessions never overlap

Everything else is a rule, posted by the rule itself under its switches; see :meth:`Week.slack`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import gcd, lcm
from typing import Any

from ortools.sat.python import cp_model

from scheduler.domain.brief import Preference
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import DAYS, QUARTERS_PER_SET, SLOTS_PER_HOUR, TICKS_PER_SLOT
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind, SessionFacts, Spot
from scheduler.rules import RULES, SAME_WORK_FROM
from scheduler.rules.base import Rule, Switch
from scheduler.week.classes import StimulusClass, stimulus_classes
from scheduler.week.expressions import Linear, Literal, Variable

LONGEST_SLOTS = 48
"""No session is longer than four hours."""
_DAY_FROM, _DAY_TO = 6 * SLOTS_PER_HOUR, 22 * SLOTS_PER_HOUR
"""Where an opening that does not exist would lie: 06:00 to 22:00."""
ADD_ON_ZONES = (Zone.MODERATE, Zone.LIGHT)


@dataclass(frozen=True)
class OptionVars:
    """A class in a zone in one session: ``use`` <=> ``uses`` >= 1 <=> ``sets`` >= 1; ``sets`` is a sum.

    ``uses`` says how many members of the class do the sets; with one member it is ``use`` itself.
    """

    stimulus: StimulusClass
    zone: Zone
    zones: tuple[Zone, ...]
    """The zones that ``zone`` stands for: nothing tells them apart."""
    role: Role
    use: Variable
    uses: Variable
    sets: Linear
    most_uses: int
    least_sets: int
    """Least sets of one exercise."""
    most_sets: int
    """Most sets of one exercise."""


Gives = tuple["SessionVars", OptionVars, int]
"""An option of a session, and the most that one exercise of it adds to what is wanted."""


@dataclass(frozen=True)
class Cover:
    """Exercises must give ``least`` together, or ``slack`` makes up for it, wherever ``when`` is 1."""

    least: int
    gives: tuple[Gives, ...]
    slack: Linear
    when: Linear


@dataclass
class SessionVars:
    """One session. For a past one (``facts`` given) every variable is a constant.

    ``day[d]`` and ``at[p]`` add up to ``active``; ``spots`` lists the openings it may lie in.
    """

    label: str
    kind: str
    facts: SessionFacts | None
    pin: int | None
    active: Literal
    start: Variable
    end: Variable
    length: Variable
    ticks: Variable
    """What the session holds takes so many ticks of 15 s; ``length`` is that in whole slots."""
    day: tuple[Literal, ...]
    at: Mapping[str, Literal]
    spots: Mapping[Spot, Literal] = field(default_factory=dict)
    options: list[OptionVars] = field(default_factory=list)
    extra_ticks: list[Linear] = field(default_factory=list)
    """Terms that rules add to the session's time: activation sets, shared rests (negative)."""

    @property
    def fixed(self) -> bool:
        return self.facts is not None

    def main(self) -> Iterable[OptionVars]:
        return (o for o in self.options if o.role is Role.MAIN)

    def add_ons(self) -> Iterable[OptionVars]:
        return (o for o in self.options if o.role is Role.ADD_ON)


class Week:
    """The model of one week, with the containers that rules read.

    Attributes:
        sessions: this week's sessions, done ones first.
        past: sessions of the history, before this week.
        posted: the rules that it holds, by key.
        switches: every switch that is not off, by id.
        slacks: the breach variables that exist, by switch id.
        covers: what rules have said of wholes; see :meth:`cover`.
        parts: by switch, what the sessions of each kind add to its breach; see :meth:`count`.
        work: what each session and the week give each goal, in counted quarter sets.
    """

    def __init__(self, instance: Instance, *, posing: bool = False, outline: bool = False) -> None:
        """Build the model.

        Args:
            posing: give every must a literal in ``on``; with it off the must may give way, as far as its slack goes.
                Wishes are left out. For questions about which musts clash and which would have to give way.
            outline: merge exercises that differ only in minutes or station; see :mod:`scheduler.week.outline`.
        """
        self.instance = instance
        self.posing = posing
        self.outline = outline
        self.on: dict[str, Variable] = {}
        self.model = cp_model.CpModel()
        self.switches: dict[str, Switch] = {s.id: s for rule in RULES for s in rule.active_switches(instance)}
        self.slacks: dict[str, Variable] = {}
        self.covers: list[Cover] = []
        self.parts: dict[str, list[Linear]] = {}
        self.activations: dict[tuple[int, str], Literal] = {}
        self.pairings: list[tuple[SessionVars, OptionVars, OptionVars, Literal]] = []
        self._before: dict[tuple[int, int], Literal] = {}
        self._volumes: dict[tuple[int, str], Variable] = {}
        self._hits: dict[tuple[int, str], Literal] = {}
        self._totals: dict[str, Variable] = {}
        self._steps: dict[str, int] = {}
        self._trained: dict[int, Literal] = {}
        self._shut_out: dict[str, list[Variable]] = {}
        self._time_told = False
        self.one = self.model.new_constant(1)
        self.zero = self.model.new_constant(0)
        self.posted = {rule.key: rule for rule in RULES if self._holds(rule)}
        exclusions = {
            key: _joined(rule.excluded(instance, kind) for rule in RULES if rule.mode(instance) is not Mode.OFF)
            for key, kind in instance.kinds.items()
        }
        self.spots = (*instance.spots, *self._closed_spots())
        self.classes = stimulus_classes(
            instance,
            exclusions,
            self.posted.values(),
            unserved=posing or not all(self._forbids(f"equipment:{p}") for p in instance.venues),
            outline=outline,
        )
        self.past = [self._past(s, f"past {n}") for n, s in enumerate(instance.history)]
        self.sessions = [self._past(s, f"done {n}") for n, s in enumerate(instance.done)]
        for kind in instance.kinds.values():
            self._sessions_of(kind)
        for switch, uses in self._shut_out.items():
            self.model.add(sum(uses) <= self.slack(switch, sum(upper(u) for u in uses)))
        self._keep_apart()
        for rule in self.posted.values():
            rule.post(self)
        self._lengths()
        self.work = [self.volume(s, target) for target in instance.targets for s in self.open_sessions]
        self.work += [self.total(target) for target in instance.targets]

    # --- what rules use -------------------------------------------------------------------------------------

    @property
    def open_sessions(self) -> list[SessionVars]:
        """The sessions that are still to be decided."""
        return [s for s in self.sessions if not s.fixed]

    def slack(self, switch: str, most: int, step: int = 1) -> Variable | int:
        """The breach of a switch in its base unit, up to ``most``, in steps of what can be missing at all.

        That it goes in steps is told to the solver, which does not find it out: without, it takes a set and a half
        of two sets that are missing for a way to do better elsewhere, and proofs get long.

        For a must what the brief concedes, mostly 0; for a wish a variable. While posing every must has a variable
        too, held to its concession by the literal in ``on``.
        """
        row = self.switches[switch]
        if most <= 0:
            return 0
        if row.mode is Mode.MUST and not self.posing:
            return min(row.concession, most)
        if switch not in self.slacks:
            steps = -(-most // step)
            self.slacks[switch] = self.model.new_int_var(0, steps * step, switch)
            if step > 1:
                self.model.add(self.slacks[switch] == step * self.model.new_int_var(0, steps, f"steps of {switch}"))
            if row.mode is Mode.MUST:
                self.on[switch] = self.model.new_bool_var(f"on {switch}")
                self.model.add(self.slacks[switch] <= min(row.concession, most)).only_enforce_if(self.on[switch])
        return self.slacks[switch]

    def volume(self, session: SessionVars, target: str) -> Variable:
        """Counted quarter sets of a session for a muscle or group, without add-ons."""
        key = (id(session), target)
        if key not in self._volumes:
            if session.facts is not None:
                self._volumes[key] = self.model.new_constant(self.facts.volume(session.facts, target))
            else:
                terms = [(o.sets, self.instance.counted(o.stimulus.key, target)) for o in session.main()]
                self._volumes[key] = self._sum(f"{session.label} {target}", terms)
        return self._volumes[key]

    def total(self, target: str) -> Variable:
        """Counted quarter sets of the week for a muscle or group, add-ons included."""
        if target not in self._totals:
            counted = self.instance.counted
            base = self.done_volume(target)
            volumes = [(self.volume(s, target), 1) for s in self.open_sessions]
            extras = [(o.sets, counted(o.stimulus.key, target)) for s in self.open_sessions for o in s.add_ons()]
            self._totals[target] = self._sum(f"total {target}", [*volumes, *extras], base)
        return self._totals[target]

    def step(self, target: str, *amounts: int) -> int:
        """The greatest number of quarter sets that divides what every option counts for a target, and amounts too."""
        if target not in self._steps:
            keys = {o.stimulus.key for s in self.open_sessions for o in s.options}
            self._steps[target] = gcd(*(self.instance.counted(key, target) for key in keys))
        return max(1, gcd(self._steps[target], *amounts))

    def at_most(self, switch: str, target: str, most: int) -> None:
        """No more counted quarter sets of a target in the week, or its switch pays. What is done stays done."""
        done = self.done_volume(target)
        limit = max(most, done)
        upper_end = self.most_volume(target) * max(1, len(self.sessions))
        slack = self.slack(switch, upper_end, self.step(target, limit - done))
        self.model.add(self.total(target) - slack <= limit)

    def hit(self, session: SessionVars, target: str) -> Literal:
        """Whether a session hits a muscle or group: at least ``hit_sets`` counted sets."""
        key = (id(session), target)
        if key not in self._hits:
            if session.facts is not None:
                self._hits[key] = self.one if self.facts.is_hit(session.facts, target) else self.zero
            elif self.instance.hit_quarters <= 0:
                self._hits[key] = session.active
            else:
                hit = self.model.new_bool_var(f"{session.label} hits {target}")
                volume = self.volume(session, target)
                enough = self.instance.hit_quarters
                self.model.add(volume >= enough).only_enforce_if(hit)
                self.model.add(volume <= enough - 1).only_enforce_if(~hit)
                self._hits[key] = hit
                counts = [(o, self.instance.counted(o.stimulus.key, target)) for o in session.main()]
                self.cover(enough, ((session, o, count * o.most_sets) for o, count in counts), when=hit)
                for option, count in counts:
                    if count * option.least_sets >= enough:
                        self.model.add_implication(option.use, hit)
        return self._hits[key]

    def direct_hit(self, session: SessionVars, muscle: str) -> Literal:
        """Whether a session gives a muscle at least ``hit_sets`` direct sets; may be true in vain, never false."""
        key = (id(session), f"direct {muscle}")
        if key not in self._hits:
            options = [o for o in session.main() if self.instance.direct(o.stimulus.key, muscle)]
            if session.facts is not None:
                self._hits[key] = self.one if self.facts.is_direct_hit(session.facts, muscle) else self.zero
            elif self.instance.hit_quarters <= 0:
                self._hits[key] = session.active
            elif not options:
                self._hits[key] = self.zero
            else:
                hit = self.model.new_bool_var(f"{session.label} hits {muscle} directly")
                enough = -(-self.instance.hit_quarters // QUARTERS_PER_SET)
                if all(o.least_sets >= enough for o in options):
                    for option in options:
                        self.model.add_implication(option.use, hit)
                else:
                    most = sum(upper(o.sets) for o in options)
                    self.model.add(sum(o.sets for o in options) <= enough - 1 + most * hit)
                self._hits[key] = hit
        return self._hits[key]

    def trained(self, day: int) -> Literal:
        """Whether a day of this week (0 to 6) has a session; negative days look into the history."""
        if day not in self._trained:
            if day < 0:
                self._trained[day] = self.one if any(s.day == day for s in self.instance.history) else self.zero
            else:
                trained = self.model.new_bool_var(f"trained {DAYS[day]}")
                sessions: list[Linear] = [s.day[day] for s in self.sessions]
                self.model.add_max_equality(trained, sessions or [0])
                self._trained[day] = trained
        return self._trained[day]

    def cover(self, least: int, gives: Iterable[Gives], slack: Linear = 0, when: Linear = 1) -> None:
        """Say in whole exercises what is wanted of sets.

        A rule that wants ``sum(count * sets) + slack >= least * when`` says so itself and calls this with
        ``count * most_sets`` for each option. What is posted here follows from that and removes no week: an exercise
        gives at most so much, and one that gives all is enough. But the relaxation does not see it, and takes parts of
        exercises. It is what most proofs of few exercises hang on; stations are counted from it too.
        """
        kept = tuple((session, option, min(least, most)) for session, option, most in gives if most > 0)
        if least <= 0 or not kept:
            return
        whole = sum(most * (option.use if most == least else option.uses) for _, option, most in kept)
        self.model.add(whole + slack >= least * when)
        self.covers.append(Cover(least, kept, slack, when))

    def pack(self, most: int, takes: Iterable[tuple[OptionVars, int]], slack: Linear = 0, when: Linear = 1) -> None:
        """The like where sets may be too many: an exercise takes ``count * least_sets`` at least.

        A rule that wants ``sum(count * sets) - slack <= most * when`` says so itself and calls this.
        """
        kept = [least * option.uses for option, least in takes if least > 0]
        if kept:
            self.model.add(sum(kept) - slack <= most * when)

    def count(self, switch: str, terms: Iterable[tuple[SessionVars, Linear]], most: int) -> None:
        """Say that the breach of a switch is a sum over sessions, each of at most ``most``.

        What the sessions of a kind add is kept in ``parts``: kinds that have little in common are soon bounded one by
        one.
        """
        by_kind: dict[str, list[Linear]] = {}
        for session, term in terms:
            by_kind.setdefault(session.kind, []).append(term)
        self.parts[switch] = [sum(terms) for terms in by_kind.values()]
        self.model.add(sum(self.parts[switch]) <= self.slack(switch, most * len(self.sessions)))

    def before(self, one: SessionVars, other: SessionVars) -> Literal:
        """Whether one session comes before another (both active)."""
        key = (id(one), id(other))
        if key not in self._before:
            if one.facts is not None and other.facts is not None:
                first = self.one if one.facts.start < other.facts.start else self.zero
            else:
                first = self.model.new_bool_var(f"{one.label} before {other.label}")
            self._before[key] = first
            self._before[id(other), id(one)] = first.negated()
        return self._before[key]

    def apart(
        self,
        one: SessionVars,
        other: SessionVars,
        slots: int,
        when: Sequence[Literal] = (),
        slack: Linear = 0,
    ) -> None:
        """At least ``slots`` from the end of the earlier to the start of the later; on a ring both ways round."""
        if one.fixed and other.fixed:
            return
        add = self.model.add
        ring = self.instance.ring
        active = [*when, *(s.active for s in (one, other) if not s.fixed)]
        known = one in self.past or other in self.past
        if known:
            first, second = (one, other) if one in self.past else (other, one)
            add(second.start - first.end + slack >= slots).only_enforce_if(active)
            return
        before = self.before(one, other)
        for literal, first, second in ((before, one, other), (before.negated(), other, one)):
            add(second.start - first.end + slack >= slots).only_enforce_if([*active, literal])
            if ring is not None:
                add(first.start + ring - second.end + slack >= slots).only_enforce_if([*active, literal])

    def all_pairs(self) -> Iterable[tuple[SessionVars, SessionVars]]:
        """Pairs of sessions, history included, of which one at least is still to be decided."""
        everything = [*self.past, *self.sessions]
        for i, later in enumerate(everything):
            for earlier in everything[:i]:
                if not (earlier.fixed and later.fixed):
                    yield earlier, later

    def done_volume(self, target: str) -> int:
        """Counted quarter sets that are done this week for a muscle or group, add-ons included."""
        return sum(self.facts.volume(s.facts, target, add_ons=True) for s in self.sessions if s.facts is not None)

    def most_volume(self, target: str) -> int:
        """No session can give a muscle or group more quarter sets than this."""
        return max((upper(self.volume(s, target)) for s in self.open_sessions), default=0) + 200

    def bool_var(self, name: str) -> Variable:
        return self.model.new_bool_var(name)

    # --- building -------------------------------------------------------------------------------------------

    def _forbids(self, switch: str) -> bool:
        """Whether a switch is a must that concedes nothing."""
        row = self.switches.get(switch)
        return row is not None and row.mode is Mode.MUST and not row.concession

    def _holds(self, rule: Rule[Any]) -> bool:
        """Whether a rule is posted: not those that are off, no wishes while posing, in outline not the last tiers."""
        if rule.mode(self.instance) is Mode.OFF or (self.outline and rule.tier >= SAME_WORK_FROM):
            return False
        return not self.posing or any(s.rule == rule.key and s.mode is Mode.MUST for s in self.switches.values())

    def _may_give_way(self, prefix: str) -> bool:
        """Whether a must whose name begins so may be broken: while posing, or by a concession."""
        found = [s for s in self.switches.values() if s.id.startswith(prefix)]
        return any(s.concession for s in found) or (self.posing and any(s.mode is Mode.MUST for s in found))

    def _closed_spots(self) -> Iterable[Spot]:
        """Stretches of days without an opening at a place, where the opening rule may give way."""
        starts = self.instance.clock.day_starts
        for number, day in enumerate(DAYS):
            if not self._may_give_way(f"opening:{day.value}"):
                continue
            for place in self.instance.venues:
                if not any(s.day == number and s.place == place for s in self.instance.spots):
                    first, last = starts[number] + _DAY_FROM, starts[number] + _DAY_TO
                    yield Spot(number, first, last, place, Preference.RELUCTANT, closed=True)

    @property
    def facts(self) -> WeekFacts:
        return WeekFacts(self.instance, ())

    def _sum(self, name: str, terms: Sequence[tuple[Linear, int]], base: int = 0) -> Variable:
        """A variable equal to a weighted sum."""
        kept = [(term, count) for term, count in terms if count]
        if not kept:
            return self.model.new_constant(base)
        added, counts = zip(*kept, strict=True)
        total = self.model.new_int_var(0, base + sum(count * upper(term) for term, count in kept), name)
        self.model.add(cp_model.LinearExpr.weighted_sum(added, counts) + base == total)
        return total

    def _past(self, facts: SessionFacts, label: str) -> SessionVars:
        const = self.model.new_constant
        return SessionVars(
            label=label,
            kind=facts.kind,
            facts=facts,
            pin=None,
            active=self.one,
            start=const(facts.start),
            end=const(facts.end),
            length=const(facts.end - facts.start),
            ticks=const((facts.end - facts.start) * TICKS_PER_SLOT),
            day=tuple(self.one if facts.day == d else self.zero for d in range(len(DAYS))),
            at={p: self.one if facts.place == p else self.zero for p in self.instance.venues},
        )

    def _sessions_of(self, kind: Kind) -> None:
        """The sessions a kind may have: done ones exist, then pinned ones, then free ones in order of time."""
        done = sum(s.kind == kind.key for s in self.instance.done)
        pins = [n for n, pin in enumerate(self.instance.pins) if pin.kind == kind.key]
        self.sessions += [self._session(kind, f"{kind.key} pin {n}", n) for n in pins]
        # One more than allowed where the count may give way: then "one session more" can be an answer.
        spare = int(self._may_give_way(f"session_count:kind:{kind.key}"))
        number = kind.per_week.most + spare - done - len(pins)
        free = [self._session(kind, f"{kind.key} {n}", None) for n in range(number)]
        self.sessions += free
        # Free sessions of one kind are alike: the earlier ones are used first, and lie earlier.
        for one, other in pairwise(free):
            self.model.add_implication(other.active, one.active)
            self._before[id(one), id(other)] = self.one
            self._before[id(other), id(one)] = self.zero

    def _session(self, kind: Kind, label: str, pin: int | None) -> SessionVars:
        model = self.model
        active = model.new_bool_var(f"{label} active")
        horizon = self.instance.clock.slots
        start = model.new_int_var(0, horizon, f"{label} start")
        length = model.new_int_var(0, LONGEST_SLOTS, f"{label} length")
        ticks = model.new_int_var(0, LONGEST_SLOTS * TICKS_PER_SLOT, f"{label} ticks")
        end = model.new_int_var(0, horizon, f"{label} end")
        model.add(start + length == end)
        spots = {
            spot: model.new_bool_var(f"{label} in {spot.place} {DAYS[spot.day]} {spot.start}")
            for spot in self.spots
            if kind.allows(spot.day, spot.place) or self._may_give_way(f"kind_days:{kind.key}")
        }
        model.add(sum(spots.values()) == active)
        model.add(start == 0).only_enforce_if(~active)
        model.add(length == 0).only_enforce_if(~active)
        model.add(length >= 1).only_enforce_if(active)
        day = tuple(
            self._any(active, [v for s, v in spots.items() if s.day == d], f"{label} on {DAYS[d]}") for d in range(7)
        )
        at = {
            p: self._any(active, [v for s, v in spots.items() if s.place == p], f"{label} at {p}")
            for p in self.instance.venues
        }
        # A session starts on the day of its opening, however far a wish stretches that opening.
        for number, literal in enumerate(day):
            if literal is not self.zero:
                model.add(start >= self.instance.clock.day_starts[number]).only_enforce_if(literal)
                model.add(start < self.instance.clock.day_starts[number + 1]).only_enforce_if(literal)
        session = SessionVars(label, kind.key, None, pin, active, start, end, length, ticks, day, at, spots)
        self._options(session, kind)
        return session

    def _any(self, active: Literal, among: Sequence[Literal], name: str) -> Literal:
        """A literal that equals a sum of exclusive literals."""
        if not among:
            return self.zero
        if len(among) == 1:
            return among[0]
        literal = self.model.new_bool_var(name)
        self.model.add(sum(among) == literal)
        return literal

    def _options(self, session: SessionVars, kind: Kind) -> None:
        model = self.model
        sets = self.instance.sets_per_exercise
        places = {spot.place for spot in session.spots}
        limited = not self.posing and self._forbids(f"session_size:sets_most:{kind.key}")
        single = not self.posing and self._forbids(f"add_on:{kind.key}")

        def create(
            stimulus: StimulusClass, role: Role, zones: Iterable[Zone], least: int, most: int
        ) -> list[OptionVars]:
            shut = stimulus.exclusions[kind.key]
            if not self.posing and any(self._forbids(s) for s in shut):
                return []
            times, most_sets = stimulus.size, stimulus.size * most
            if role is Role.ADD_ON and single:
                times, most_sets = 1, most
            elif role is Role.MAIN and limited and times > 1:
                # No more than a session of the kind has room for.
                times = max(1, min(times, kind.sets.most // least))
                most_sets = max(most, min(times * most, kind.sets.most))
            found = []
            offered = [zone for zone in zones if not places.isdisjoint(stimulus.places(zone))]
            for alike in self._alike_zones(stimulus, offered):
                zone = Zone.MODERATE if Zone.MODERATE in alike else alike[0]
                name = f"{session.label} {stimulus.key} {zone}"
                use = model.new_bool_var(f"{name} used")
                uses = use if times == 1 else model.new_int_var(0, times, f"{name} uses")
                held = self._sets(name, uses, least, most, most_sets)
                if times > 1:
                    model.add(uses >= use)
                    model.add(uses <= times * use)
                model.add_implication(use, session.active)
                for switch in shut:
                    self._shut_out.setdefault(switch, []).append(uses)
                found.append(OptionVars(stimulus, zone, alike, role, use, uses, held, times, least, most))
            return found

        for stimulus in self.classes:
            mine: list[OptionVars] = []
            if stimulus.row.pattern in kind.patterns:
                mine += create(stimulus, Role.MAIN, Zone, max(1, sets.least), sets.most)
            if kind.add_on is not None and stimulus.row.pattern == kind.add_on.pattern:
                quick = kind.add_on.sets
                mine += create(stimulus, Role.ADD_ON, ADD_ON_ZONES, max(1, quick.least), quick.most)
            # An exercise comes once a session.
            if len(mine) > 1 and stimulus.size == 1:
                model.add_at_most_one(o.use for o in mine)
            elif len(mine) > 1:
                model.add(sum(o.uses for o in mine) <= stimulus.size)
            session.options += mine

    def _sets(self, name: str, uses: Variable, least: int, most: int, most_sets: int) -> Linear:
        """The sets of so many exercises, each of ``least`` to ``most``.

        What is above the least has a range without the hole that "none or two to four" has: the relaxation then needs
        0.8 of the time. Questions are asked without a relaxation, and there one variable is far quicker.
        """
        if self.posing:
            return self._sets_as_one(name, uses, least, most, most_sets)
        above = self.model.new_int_var(0, most_sets - least, f"{name} sets above the least")
        self.model.add(above <= (most - least) * uses)
        return least * uses + above

    def _sets_as_one(self, name: str, uses: Variable, least: int, most: int, most_sets: int) -> Variable:
        sets = self.model.new_int_var(0, most_sets, f"{name} sets")
        self.model.add(sets >= least * uses)
        self.model.add(sets <= most * uses)
        return sets

    def _alike_zones(self, stimulus: StimulusClass, zones: Sequence[Zone]) -> Iterable[tuple[Zone, ...]]:
        """Zones in groups that nothing tells apart: no rule, no minutes, no place. One option stands for a group.

        That loses nothing, and spares the solver weeks that differ in name only.
        """
        groups: dict[tuple[int, tuple[str, ...], Zone | None], list[Zone]] = {}
        for zone in zones:
            ticks = 0 if self.outline else self.instance.set_ticks(stimulus.row, zone)
            told = zone if zone in stimulus.told else None
            groups.setdefault((ticks, stimulus.places(zone), told), []).append(zone)
        return map(tuple, groups.values())

    def _keep_apart(self) -> None:
        """Sessions never overlap."""
        for one, other in self.all_pairs():
            self.apart(one, other, 0)

    def _lengths(self) -> None:
        """Length in whole slots of what a session holds; posted last, when every rule has added its time."""
        add = self.model.add
        for session in self.open_sessions:
            total = session.ticks - self.instance.warm_up_ticks * session.active - sum(session.extra_ticks)
            times = [self._ticks(option) for option in session.options]
            scale = lcm(*(share for share, _, _ in times))
            least = sum(scale // share * low for share, low, _ in times)
            most = sum(scale // share * high for share, _, high in times)
            if self.outline:
                add(least <= scale * total)
                add(most >= scale * total)
            else:
                add(least == scale * total)
            add(TICKS_PER_SLOT * session.length >= session.ticks)
            add(TICKS_PER_SLOT * session.length <= session.ticks + TICKS_PER_SLOT - 1)

    def tell_time_by_zone(self) -> None:
        """Say of each session's time what so many exercises, and so many sets in each zone, take at least.

        That follows from the lengths and removes no week. But these counts are whole, and few: where time is short a
        relaxation fills a session with parts of sets, and proofs hang on that. A second call adds nothing.
        """
        if self._time_told:
            return
        self._time_told = True
        for session in self.open_sessions:
            if not session.options:
                continue
            ways = {id(option): self._ways(option) for option in session.options}
            exercises = self._sum(f"{session.label} exercises", [(o.uses, 1) for o in session.options])
            least = self.instance.warm_up_ticks * session.active + sum(session.extra_ticks)
            least += min(setup for mine in ways.values() for setup, _ in mine) * exercises
            for zones in dict.fromkeys(option.zones for option in session.options):
                alike = [o for o in session.options if o.zones == zones]
                sets = self._sum(f"{session.label} {'/'.join(zones)} sets", [(o.sets, 1) for o in alike])
                least += min(each for o in alike for _, each in ways[id(o)]) * sets
            self.model.add(least <= session.ticks)

    def _ticks(self, option: OptionVars) -> tuple[int, Linear, Linear]:
        """A number, and the ticks that an option takes at least and at most, times that number.

        In outline, members and zones take different times. The least of them is concave in the sets of an exercise, so
        no less than the straight line between the fewest sets and the most; the longest is no more.
        """
        fewest, span = option.least_sets, option.most_sets - option.least_sets
        ways = self._ways(option)
        lines: list[Linear] = []
        for extreme in (min, max):
            first, last = (extreme(setup + sets * each for setup, each in ways) for sets in (fewest, fewest + span))
            lines.append(first * option.uses * max(1, span) + (last - first) * (option.sets - fewest * option.uses))
        return max(1, span), lines[0], lines[1]

    def _ways(self, option: OptionVars) -> list[tuple[int, int]]:
        """Ticks to set up and ticks a set, for each exercise and zone that an option may stand for; but for outlines
        there is one."""
        instance = self.instance
        if not self.outline:
            return [(instance.setup_ticks(option.stimulus.row), instance.set_ticks(option.stimulus.row, option.zone))]
        rows = [instance.pool[key] for key in option.stimulus.members]
        return [
            (instance.setup_ticks(row), instance.set_ticks(row, zone))
            for row in rows
            for zone in option.zones
            if zone in instance.fitting_zones(row)
        ]


def _joined(parts: Iterable[Mapping[str, str]]) -> dict[str, tuple[str, ...]]:
    """Switches by exercise, of several rules."""
    found: dict[str, tuple[str, ...]] = {}
    for part in parts:
        for exercise, switch in part.items():
            found[exercise] = (*found.get(exercise, ()), switch)
    return found


def upper(term: Linear) -> int:
    """The largest value of a variable's domain, or of a sum of variables without subtractions."""
    if isinstance(term, int):
        return term
    flat = cp_model.FlatIntExpr(term)
    # A negative index into a repeated field of the proto silently reads 0 (ortools 9.15).
    most = (int(v.proto.domain[len(v.proto.domain) - 1]) for v in flat.vars)
    return int(flat.offset + sum(c * m for c, m in zip(flat.coeffs, most, strict=True)))
