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
from copy import copy
from math import gcd
from typing import Any

from ortools.sat.python import cp_model

from scheduler.domain.brief import MOST_CONCESSION
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, QUARTERS_PER_SET
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules import RULES, SAME_WORK_FROM
from scheduler.rules.base import Rule, Switch
from scheduler.week.classes import stimulus_classes
from scheduler.week.expressions import Linear, Literal, Variable, upper
from scheduler.week.lengths import post_lengths
from scheduler.week.sessions import closed_spots, held_session, sessions_of
from scheduler.week.variables import Cover, Gives, OptionVars, SessionVars


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

    def __init__(self, instance: Instance, *, wishes: bool = True, posing: bool = False, outline: bool = False) -> None:
        """Build the model.

        Args:
            wishes: without them it only matters whether there is a week: rules of which nothing has to hold are left
                out, but for such as change how long sessions take.
            posing: give every must a literal in ``on``; with it off the must may give way, as far as its slack goes.
                No wishes either. For questions about which musts clash and which would have to give way.
            outline: merge exercises that differ only in minutes or station; see :mod:`scheduler.week.outline`.
        """
        self.instance = instance
        self.wishes = wishes and not posing
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
        self._training: dict[str, frozenset[int]] = {}
        self.shut_out: dict[str, list[Variable]] = {}
        self.time_told = False
        self.one = self.model.new_constant(1)
        self.zero = self.model.new_constant(0)
        self.posted = {rule.key: rule for rule in RULES if self._holds(rule)}
        self.exclusions = {
            key: _joined(rule.excluded(instance, kind) for rule in RULES if rule.mode(instance) is not Mode.OFF)
            for key, kind in instance.kinds.items()
        }
        self.spots = (*instance.spots, *closed_spots(self))
        self.classes = stimulus_classes(
            instance,
            self.exclusions,
            self.posted.values(),
            unserved=posing or not all(self.forbids(f"equipment:{p}") for p in instance.venues),
            outline=outline,
        )
        self.past = [held_session(self, s, f"past {n}") for n, s in enumerate(instance.history)]
        self.sessions = [held_session(self, s, f"done {n}") for n, s in enumerate(instance.done)]
        for kind in instance.kinds.values():
            self.sessions += sessions_of(self, kind)
        for switch, uses in self.shut_out.items():
            self.model.add(sum(uses) <= self.slack(switch, sum(upper(u) for u in uses)))
        self._keep_apart()
        for rule in self.posted.values():
            rule.post(self)
        post_lengths(self)
        self.work = [self.volume(s, target) for target in instance.targets for s in self.open_sessions]
        self.work += [self.total(target) for target in instance.targets]

    def twin(self) -> Week:
        """The same week with a model of its own: what is added to one is not in the other."""
        twin = copy(self)
        twin.model = self.model.clone()
        return twin

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
        too, held to its concession by the literal in ``on``. Whoever asks again gets the same variable, and so asks
        for no more than the first did.
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
        elif most > upper(self.slacks[switch]):
            raise RuntimeError(f"{switch} may be broken by {most}, and not so far before: a defect of this program")
        return self.slacks[switch]

    def volume(self, session: SessionVars, target: str) -> Variable:
        """Counted quarter sets of a session for a muscle or group, without add-ons."""
        key = (id(session), target)
        if key not in self._volumes:
            if session.facts is not None:
                self._volumes[key] = self.model.new_constant(self.facts.volume(session.facts, target))
            else:
                terms = [(o.sets, self.instance.counted(o.stimulus.key, target)) for o in session.main]
                self._volumes[key] = self.sum_of(f"{session.label} {target}", terms)
        return self._volumes[key]

    def total(self, target: str) -> Variable:
        """Counted quarter sets of the week for a muscle or group, add-ons included."""
        if target not in self._totals:
            counted = self.instance.counted
            base = self.done_volume(target)
            volumes = [(self.volume(s, target), 1) for s in self.open_sessions]
            extras = [(o.sets, counted(o.stimulus.key, target)) for s in self.open_sessions for o in s.add_ons]
            self._totals[target] = self.sum_of(f"total {target}", [*volumes, *extras], base)
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
                counts = [(o, self.instance.counted(o.stimulus.key, target)) for o in session.main]
                self.cover(enough, ((session, o, count * o.most_sets) for o, count in counts), when=hit)
                for option, count in counts:
                    if count * option.least_sets >= enough:
                        self.model.add_implication(option.use, hit)
        return self._hits[key]

    def direct_hit(self, session: SessionVars, muscle: str) -> Literal:
        """Whether a session gives a muscle at least ``hit_sets`` direct sets; may be true in vain, never false."""
        key = (id(session), f"direct {muscle}")
        if key not in self._hits:
            training = self._trains(muscle)
            options = [o for o in session.main if o.stimulus.index in training]
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

    def _trains(self, muscle: str) -> frozenset[int]:
        """The classes that train a muscle directly."""
        if muscle not in self._training:
            direct = self.instance.direct
            self._training[muscle] = frozenset(c.index for c in self.classes if direct(c.key, muscle))
        return self._training[muscle]

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

    def put_before(self, one: SessionVars, other: SessionVars) -> None:
        """Settle that one session comes before another, wherever both are active."""
        self._before[id(one), id(other)] = self.one
        self._before[id(other), id(one)] = self.zero

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

    def activation_exercise(self, session: SessionVars, target: str, place: str) -> str | None:
        """A light exercise that wakes a muscle in a session at a place: none that a rule shuts out, conceded or not."""
        return self.instance.activation_exercise(target, place, self.exclusions[session.kind])

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

    def sum_of(self, name: str, terms: Sequence[tuple[Linear, int]], base: int = 0) -> Variable:
        """A variable equal to a weighted sum."""
        kept = [(term, count) for term, count in terms if count]
        if not kept:
            return self.model.new_constant(base)
        added, counts = zip(*kept, strict=True)
        total = self.model.new_int_var(0, base + sum(count * upper(term) for term, count in kept), name)
        self.model.add(cp_model.LinearExpr.weighted_sum(added, counts) + base == total)
        return total

    @property
    def facts(self) -> WeekFacts:
        return WeekFacts(self.instance, ())

    # --- what building uses ---------------------------------------------------------------------------------

    def forbids(self, switch: str) -> bool:
        """Whether a switch is a must that concedes nothing."""
        row = self.switches.get(switch)
        return row is not None and row.mode is Mode.MUST and not row.concession

    def may_be_broken(self, switch: str) -> bool:
        """Whether what a switch asks need not hold: while posing, by a concession, as a wish, where its rule is off."""
        return self.posing or not self.forbids(switch)

    def _holds(self, rule: Rule[Any]) -> bool:
        """Whether a rule is posted: not those that are off, without wishes only such as change how long sessions take
        or have a must that does not give way altogether, in outline not the last tiers."""
        if rule.mode(self.instance) is Mode.OFF or (self.outline and rule.tier >= SAME_WORK_FROM):
            return False
        mine = (s for s in self.switches.values() if s.rule == rule.key and s.mode is Mode.MUST)
        return (
            self.wishes or rule.takes_time or any(self.posing or switch.concession < MOST_CONCESSION for switch in mine)
        )

    def _keep_apart(self) -> None:
        """Sessions never overlap."""
        for one, other in self.all_pairs():
            self.apart(one, other, 0)


def _joined(parts: Iterable[Mapping[str, tuple[str, ...]]]) -> dict[str, tuple[str, ...]]:
    """Switches by exercise, of several rules."""
    found: dict[str, tuple[str, ...]] = {}
    for part in parts:
        for exercise, switches in part.items():
            found[exercise] = (*found.get(exercise, ()), *switches)
    return found
