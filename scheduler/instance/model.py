"""The instance: a brief with every default filled in, every name resolved and every time on the week's clock.

This is what rules, referee and solver read. It knows no solver and does no I/O.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from scheduler.domain.brief import Brief, Pin, Preference
from scheduler.domain.catalogue import Catalogue, Exercise, Size
from scheduler.domain.plan import Role, Zone
from scheduler.domain.units import QUARTERS_PER_SET, TICK_SECONDS, CountRange
from scheduler.instance.clock import Clock


@dataclass(frozen=True)
class Target:
    """A muscle or group with a goal; volumes in quarter sets, recovery in slots."""

    key: str
    name: str
    is_group: bool
    members: tuple[str, ...]
    least: int
    aim: int
    most: int
    frequency: CountRange | None
    """None for a group whose goal names none: hits are about single muscles."""
    session_cap: int | None
    """None for a group whose goal names none."""
    recovery: int | None
    """None for a group whose goal names none."""
    priority: int | None
    factor: int
    """How many times an ordinary shortfall one of this muscle costs."""


@dataclass(frozen=True)
class AddOnSpec:
    pattern: str
    sets: CountRange
    sessions: CountRange


@dataclass(frozen=True)
class Kind:
    """A session kind with all its numbers."""

    key: str
    name: str
    patterns: tuple[str, ...]
    required: tuple[str, ...]
    sets: CountRange
    minutes: CountRange
    per_week: CountRange
    lower_body: bool
    add_on: AddOnSpec | None
    days: tuple[int, ...] | None
    places: tuple[str, ...] | None

    def allows(self, day: int, place: str | None) -> bool:
        """Whether a session may lie on a day and at a place; a place that is not known is no fault."""
        return (self.days is None or day in self.days) and (
            self.places is None or place is None or place in self.places
        )


@dataclass(frozen=True)
class Spot:
    """An opening on the clock: slots from Monday 00:00, the end excluded."""

    day: int
    start: int
    end: int
    place: str
    preference: Preference
    closed: bool = False
    """No opening of the brief: the week model adds such a stretch of a day where a rule lets sessions lie outside."""


@dataclass(frozen=True)
class Busy:
    """A busy time on the clock, rounded outwards to whole slots."""

    title: str
    start: int
    end: int


@dataclass(frozen=True)
class Item:
    """An exercise in a session, as counted and checked. ``zone`` is None where a record gives no reps; ``reps`` and
    ``reserve`` are those of the record, None where nothing was done yet or it does not say."""

    key: str
    exercise: Exercise
    sets: int
    zone: Zone | None
    role: Role
    pair: int | None = None
    load_grams: int | None = None
    reps: int | None = None
    reserve: int | None = None


@dataclass(frozen=True)
class SessionFacts:
    """A session as plain facts: of the history, done, or of a plan under check."""

    kind: str
    start: int
    end: int
    day: int
    place: str | None
    items: tuple[Item, ...]
    done: bool = False
    """True for what is past: facts that no rule can blame."""
    pin: int | None = None


@dataclass(frozen=True)
class Limits:
    """How heavy and how fine an equipment is at a place, in grams; heaviest None: free of limits."""

    heaviest: int | None
    step: int
    lightest: int


@dataclass(frozen=True)
class Venue:
    """A place with its equipment resolved."""

    key: str
    name: str
    equipment: Mapping[str, Limits | None]
    travel: int
    """Slots of travel on either side."""
    several: frozenset[str] = frozenset()
    """Equipment that it has more than one of."""


@dataclass(frozen=True)
class Offer:
    """An exercise can be done in this zone at this place; the load where a recent lift tells it."""

    load_grams: int | None


@dataclass(frozen=True)
class ZoneNumbers:
    """What a set of a zone is: target reps, rest, effort.

    Attributes:
        fewest_reps: what an easy week asks for where the exercise is good for so few; else the target reps.
        offered: whether exercises are given in this zone; not the heavy one to those who go gently.
    """

    reps: int
    rest_seconds: int
    reps_in_reserve: int
    fewest_reps: int
    offered: bool = True

    def reps_of(self, row: Exercise) -> int:
        """Reps a set of an exercise."""
        return min(self.reps, max(self.fewest_reps, row.reps.least))


def fitting_zones(row: Exercise, zones: Mapping[Zone, ZoneNumbers]) -> tuple[Zone, ...]:
    """Zones that are given, whose target reps lie in an exercise's sensible range."""
    return tuple(z for z in Zone if zones[z].offered and row.reps.least <= zones[z].reps <= row.reps.most)


@dataclass(frozen=True)
class Instance:
    brief: Brief
    catalogue: Catalogue
    clock: Clock
    kinds: Mapping[str, Kind]
    targets: Mapping[str, Target]
    venues: Mapping[str, Venue]
    spots: tuple[Spot, ...]
    busy: tuple[Busy, ...]
    pool: Mapping[str, Exercise]
    """Exercises the brief does not shut out by name, in catalogue order."""
    offers: Mapping[tuple[str, str, Zone], Offer]
    """By exercise, place and zone; absent: not possible there."""
    zones: Mapping[Zone, ZoneNumbers]
    hit_quarters: int
    indirect_quarters: int
    warm_up_ticks: int
    build_up_ticks: int
    """Of the lighter sets before heavy ones of an exercise with a load."""
    sets_per_exercise: CountRange
    more_sets: Mapping[str, int]
    """Most sets of exercises of which there may be more; see :meth:`sets_of`."""
    sessions: CountRange
    history: tuple[SessionFacts, ...]
    done: tuple[SessionFacts, ...]
    previous: tuple[SessionFacts, ...]
    pins: tuple[Pin, ...]
    settings: Mapping[str, Any]
    """Per rule its validated setting."""
    notes: tuple[str, ...] = ()
    _counted: dict[tuple[str, str], int] = field(default_factory=dict, compare=False, repr=False)
    _direct: dict[tuple[str, str], bool] = field(default_factory=dict, compare=False, repr=False)
    _direct_zones: dict[str, frozenset[Zone]] = field(default_factory=dict, compare=False, repr=False)
    switches: dict[str, Any] = field(default_factory=dict, compare=False, repr=False, init=False)
    """Kept for the rules: by rule its switches, which are asked for again and again; not handed on by ``replace``."""

    @property
    def ring(self) -> int | None:
        """Length of the ring in slots for a repeating week, else None."""
        return self.clock.slots if self.brief.week.repeats else None

    def counted(self, exercise: str, target: str) -> int:
        """Quarter sets that one set of an exercise counts for a muscle or group: the largest share, never the sum."""
        key = (exercise, target)
        if key not in self._counted:
            row = self.catalogue.exercises[exercise]
            members = self.catalogue.members(target)
            if any(m in members for m in row.direct):
                self._counted[key] = QUARTERS_PER_SET
            elif any(m in members for m in row.indirect):
                self._counted[key] = self.indirect_quarters
            else:
                self._counted[key] = 0
        return self._counted[key]

    def direct(self, exercise: str, target: str) -> bool:
        """Whether an exercise trains a muscle, or a muscle of a group, directly."""
        key = (exercise, target)
        if key not in self._direct:
            members = self.catalogue.members(target)
            self._direct[key] = any(m in members for m in self.catalogue.exercises[exercise].direct)
        return self._direct[key]

    def served(self, exercise: str, place: str) -> bool:
        """Whether a place has all the equipment of an exercise."""
        return set(self.catalogue.exercises[exercise].equipment) <= set(self.venues[place].equipment)

    def limits(self, exercise: str, place: str | None) -> Limits | None:
        """How an exercise can be loaded at a place; None where it cannot be there, or has no load with limits."""
        loaded_by, venue = self.catalogue.exercises[exercise].loaded_by, self.venues.get(place or "")
        return venue.equipment.get(loaded_by) if venue is not None and loaded_by else None

    def sets_of(self, exercise: str) -> CountRange:
        """Working sets that an exercise may have in a session."""
        asked = self.sets_per_exercise
        return CountRange(least=asked.least, most=self.more_sets.get(exercise, asked.most))

    def set_ticks(self, exercise: Exercise, zone: Zone) -> int:
        """Ticks of 15 s for one set with its rest; a one-sided exercise works twice."""
        numbers = self.zones[zone]
        work = numbers.reps_of(exercise) * exercise.seconds_per_rep * (2 if exercise.unilateral else 1)
        return -(-(work + numbers.rest_seconds) // TICK_SECONDS)

    def setup_ticks(self, exercise: Exercise, zone: Zone) -> int:
        """Ticks until the first hard set: walking there, loading, and what builds up to a heavy load."""
        builds_up = zone is Zone.HEAVY and exercise.loaded_by is not None
        return exercise.setup_seconds // TICK_SECONDS + self.build_up_ticks * builds_up

    def rest_ticks(self, zone: Zone) -> int:
        return self.zones[zone].rest_seconds // TICK_SECONDS

    def fitting_zones(self, row: Exercise) -> tuple[Zone, ...]:
        """Zones that are given, whose target reps lie in an exercise's sensible range."""
        return fitting_zones(row, self.zones)

    def possible(self) -> Iterator[str]:
        """Exercises that some kind of session may hold and some place allows, in the order of the catalogue."""
        flagged = set(self.brief.lifter.cautions)
        patterns = {pattern for kind in self.kinds.values() for pattern in kind.patterns}
        for key, row in self.pool.items():
            if key in self.brief.exercises.avoided or flagged & set(row.cautions) or row.pattern not in patterns:
                continue
            if self.possible_zones(key):
                yield key

    def possible_zones(self, exercise: str) -> tuple[Zone, ...]:
        """Zones in which an exercise can be done at one of the places at least."""
        return tuple(z for z in Zone if any((exercise, place, z) in self.offers for place in self.venues))

    def direct_zones(self, target: str) -> frozenset[Zone]:
        """Zones in which some exercise trains a muscle directly at one of the places."""
        if target not in self._direct_zones:
            training = (key for key in self.pool if self.direct(key, target))
            self._direct_zones[target] = frozenset(zone for key in training for zone in self.possible_zones(key))
        return self._direct_zones[target]

    def activation_exercise(self, target: str, place: str, shut: Collection[str]) -> str | None:
        """A light exercise that wakes a muscle at a place: a favourite first, else the first of the catalogue.

        Args:
            shut: exercises that rules shut out of the session.
        """
        fit = [
            key
            for key, row in self.pool.items()
            if row.activation
            and self.direct(key, target)
            and set(row.equipment) <= set(self.venues[place].equipment)
            and key not in shut
        ]
        return min(fit, key=lambda key: key not in self.brief.exercises.favourites, default=None)

    def priorities(self) -> tuple[Target, ...]:
        """The targets with a priority, the most important first."""
        ranked = [t for t in self.targets.values() if t.priority is not None]
        return tuple(sorted(ranked, key=lambda t: (t.priority, t.key)))

    def is_large(self, exercise: Exercise) -> bool:
        return any(self.catalogue.muscles[m].size is Size.LARGE for m in exercise.direct)
