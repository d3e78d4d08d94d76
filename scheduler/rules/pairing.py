"""Antagonist pairs share their rests."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import combinations
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.facts import WeekFacts, item_pairs
from scheduler.instance import Instance, Item, Venue
from scheduler.rules.base import Look, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal, Variable
    from scheduler.week.model import Week
    from scheduler.week.variables import OptionVars, SessionVars


class PairingSetting(Setting):
    least_pairs: int = Field(default=1, ge=0, le=6)
    """Pairs that each session should have."""


class PairingRule(Rule[PairingSetting]):
    """Two main exercises of antagonist patterns, in the same zone and neither heavy, may alternate their sets: for
    each set both have, one rest falls away. Two exercises that need the same equipment can only where the place has
    two of it. Every session should have ``least_pairs``.

    Off unless asked. One switch for all sessions. Breach: pairs missing over the sessions, and pairs that do not fit.
    """

    key = "pairing"
    title = "Pairing"
    meaning = "Antagonist exercises alternate their sets and share rests; never the heavy first lift."
    formula = "for all s: |pairs(s)| >= n; saved(pair) = min(sets) x rest"
    default_mode = Mode.OFF
    takes_time = True
    one_by_one = True
    """Partners must not need the same equipment."""
    setting_model = PairingSetting

    def switches(self, instance: Instance) -> Iterable[Switch]:
        least = self.setting(instance).least_pairs
        sentence = f"Every session has at least {wording.counted(least, 'antagonist pair')}; none is heavy."
        yield self.switch(instance, "", sentence, "{} missing or unfit", count_of("pair"))

    def looks_at(self, instance: Instance) -> Look:
        return lambda exercise: instance.catalogue.exercises[exercise].pattern

    def zones_told(self, instance: Instance) -> Callable[[str], Iterable[Zone]]:
        return lambda exercise: Zone

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        instance = facts.instance
        least = self.setting(instance).least_pairs
        breach = 0
        for session in facts.planned:
            pairs = list(item_pairs(session.items))
            venue = instance.venues[session.place] if session.place is not None else None
            fit = [p for p in pairs if self._fits(instance, *p, venue)]
            breach += max(0, least - len(fit)) + len(pairs) - len(fit)
        return {self.id(""): breach} if breach else {}

    def _fits(self, instance: Instance, one: Item, other: Item, venue: Venue | None) -> bool:
        return (
            one.role is other.role is Role.MAIN
            and one.zone is other.zone
            and one.zone is not Zone.HEAVY
            and antagonists(instance, one.exercise, other.exercise)
            and (venue is None or no_queue(venue, one.exercise, other.exercise))
        )

    def post(self, week: Week) -> None:
        least = self.setting(week.instance).least_pairs
        missing = []
        for session in week.open_sessions:
            pairs = (self._in_outline if week.outline else self._one_by_one)(week, session)
            lacking = week.model.new_int_var(0, least, f"{session.label} lacks pairs")
            week.model.add(sum(pairs) + lacking >= least).only_enforce_if(session.active)
            missing.append(lacking)
        if missing:
            week.model.add(sum(missing) <= week.slack(self.id(""), least * len(missing)))

    def _in_outline(self, week: Week, session: SessionVars) -> list[Variable]:
        """How many pairs there may be of two patterns in a zone, whoever the partners are and whatever they need."""
        groups: dict[tuple[Zone, str], list[OptionVars]] = {}
        for option in session.main:
            if option.zone is not Zone.HEAVY:
                groups.setdefault((option.zone, option.stimulus.row.pattern), []).append(option)
        pairs: dict[tuple[Zone, str], list[Variable]] = {}
        rests: dict[tuple[Zone, str], list[Variable]] = {}
        found = []
        for (one, mine), (other, theirs) in combinations(groups.items(), 2):
            if one[0] is not other[0] or not antagonists(week.instance, mine[0].stimulus.row, theirs[0].stimulus.row):
                continue
            most = min(sum(o.most_uses for o in options) for options in (mine, theirs))
            number = week.model.new_int_var(0, most, f"{session.label} pairs of {one[1]} and {other[1]} {one[0]}")
            most_sets = max(o.most_sets for o in (*mine, *theirs))
            shared = week.model.new_int_var(0, most * most_sets, f"{number.name}, shared rests")
            week.model.add(shared <= most_sets * number)
            session.extra_ticks.append(-week.instance.rest_ticks(one[0]) * shared)
            for key in (one, other):
                pairs.setdefault(key, []).append(number)
                rests.setdefault(key, []).append(shared)
            found.append(number)
        for key, numbers in pairs.items():
            week.model.add(sum(numbers) <= sum(o.uses for o in groups[key]))
            week.model.add(sum(rests[key]) <= sum(o.sets for o in groups[key]))
        return found

    def _one_by_one(self, week: Week, session: SessionVars) -> list[Literal]:
        """Every two exercises that may be partners; each stands alone in its class."""
        partners: dict[int, list[Literal]] = {}
        rests: dict[int, list[Variable]] = {}
        pairs = []
        options = [o for o in session.main if o.zone is not Zone.HEAVY]
        for one, other in combinations(options, 2):
            rows = one.stimulus.row, other.stimulus.row
            torn = _torn(week.instance, session.pin, one.stimulus.key, other.stimulus.key)
            if one.zone is other.zone and antagonists(week.instance, *rows) and not torn:
                queues = [at for p, at in session.at.items() if not no_queue(week.instance.venues[p], *rows)]
                if len(queues) == len(session.at):
                    continue
                pair, shared = self._pair(week, session, one, other)
                for at in queues:
                    week.model.add_implication(pair, ~at)
                pairs.append(pair)
                for option in (one, other):
                    partners.setdefault(id(option), []).append(pair)
                    rests.setdefault(id(option), []).append(shared)
        for option in options:
            if id(option) in partners:
                week.model.add_at_most_one(partners[id(option)])
                # That follows, but the relaxation would share the rests of a set with every partner.
                week.model.add(sum(rests[id(option)]) <= option.sets)
        return pairs

    def _pair(self, week: Week, session: SessionVars, one: OptionVars, other: OptionVars) -> tuple[Literal, Variable]:
        model = week.model
        name = f"{one.use.name} with {other.use.name}"
        pair = week.bool_var(f"{name} paired")
        model.add_implication(pair, one.use)
        model.add_implication(pair, other.use)
        most = max(one.most_sets, other.most_sets)
        smaller = model.new_int_var(0, most, f"{name} smaller")
        model.add_min_equality(smaller, [one.sets, other.sets])
        shared = model.new_int_var(0, most, f"{name} shared rests")
        model.add(shared == smaller).only_enforce_if(pair)
        model.add(shared == 0).only_enforce_if(~pair)
        session.extra_ticks.append(-week.instance.rest_ticks(one.zone) * shared)
        week.pairings.append((session, one, other, pair))
        return pair, shared


def antagonists(instance: Instance, one: Exercise, other: Exercise) -> bool:
    patterns = instance.catalogue.patterns
    return patterns[one.pattern].antagonist == other.pattern or patterns[other.pattern].antagonist == one.pattern


def _torn(instance: Instance, pin: int | None, one: str, other: str) -> bool:
    """Whether a pinned order puts another exercise between two."""
    if pin is None or not instance.pins[pin].in_this_order:
        return False
    order = [row.exercise for row in instance.pins[pin].exercises]
    return one in order and other in order and abs(order.index(one) - order.index(other)) > 1


def no_queue(venue: Venue, one: Exercise, other: Exercise) -> bool:
    """Whether a place has two of all equipment that both exercises need."""
    return all(name in venue.several for name in one.equipment if name in other.equipment)
