"""Stimulus classes: exercises that no rule can tell apart are merged, with a multiplicity.

Two exercises fall into one class when they agree in everything that a rule or the clock looks at: pattern, what they
count for every goal, minutes, zones and places where they can be done, lower-back load, plane, grip, station, weekly
cap, and whether the brief or its records name them. A named exercise (pinned, wanted, avoided, favourite, in the
previous plan or in a record) is told apart by what names it. The solver then decides how often a class is used and
:mod:`scheduler.week.decode` deals its members out round-robin, which loses nothing: with at least two members no
exercise need come twice in a row, the number of distinct ones is the smaller of uses and members, and weekly caps are
kept evenly. 5 to 20 times faster than one variable an exercise (measured on the plain formulation).
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Zone
from scheduler.instance import Instance

MOST_USES = 14
"""No exercise is used more often a week than this: the cap where the brief names none."""


@dataclass(frozen=True)
class StimulusClass:
    """Interchangeable exercises. ``members`` are keys in catalogue order; ``row`` is the first of them."""

    index: int
    members: tuple[str, ...]
    row: Exercise
    zones: tuple[Zone, ...]
    """Zones in which its members can be done at one of the places."""
    weekly_cap: int
    """Most uses a week of each member."""
    exclusions: dict[str, tuple[str, ...]]
    """By session kind: the switches that shut its members out there."""

    @property
    def key(self) -> str:
        return self.members[0]

    @property
    def size(self) -> int:
        return len(self.members)


Exclusions = dict[str, dict[str, tuple[str, ...]]]
"""By kind, then by exercise: the switches that shut it out."""


def stimulus_classes(
    instance: Instance, exclusions: Exclusions, *, unserved: bool = False
) -> tuple[StimulusClass, ...]:
    """Merge the pool into classes, in catalogue order of their first members.

    Args:
        unserved: keep exercises that no place has the equipment for, too.
    """
    patterns = {p for kind in instance.kinds.values() for p in kind.patterns}
    patterns |= {kind.add_on.pattern for kind in instance.kinds.values() if kind.add_on}
    groups: dict[Hashable, list[str]] = {}
    named = _named(instance)
    for key, row in instance.pool.items():
        served = any(instance.served(key, place) for place in instance.venues)
        if row.pattern in patterns and (instance.possible_zones(key) or (unserved and not served)):
            groups.setdefault(_signature(instance, key, row, exclusions, key if key in named else None), []).append(key)
    classes: list[StimulusClass] = []
    for members in groups.values():
        first = members[0]
        classes.append(
            StimulusClass(
                index=len(classes),
                members=tuple(members),
                row=instance.pool[first],
                zones=fitting_zones(instance, instance.pool[first]),
                weekly_cap=instance.brief.exercises.most_per_week.get(first, MOST_USES),
                exclusions={kind: exclusions[kind].get(first, ()) for kind in instance.kinds},
            )
        )
    return tuple(classes)


def fitting_zones(instance: Instance, row: Exercise) -> tuple[Zone, ...]:
    """Zones whose target reps lie in the exercise's sensible range."""
    return tuple(z for z in Zone if row.reps.least <= instance.zones[z].reps <= row.reps.most)


def _named(instance: Instance) -> frozenset[str]:
    """Exercises that a rule may look at by name."""
    brief = instance.brief
    records = (*instance.done, *instance.previous, *instance.history[-1:])
    return frozenset(
        (
            *brief.exercises.wanted,
            *(e.exercise for pin in brief.pinned for e in pin.exercises),
            *(item.key for record in records for item in record.items),
        )
    )


def _signature(instance: Instance, key: str, row: Exercise, exclusions: Exclusions, name: str | None) -> Hashable:
    offers = tuple((p, z) for p in instance.venues for z in Zone if (key, p, z) in instance.offers)
    return (
        row.pattern,
        tuple((instance.counted(key, t), instance.direct(key, t)) for t in instance.targets),
        tuple((instance.direct(key, t)) for t in instance.brief.exercises.least_distinct),
        # Recovery looks at direct work for muscles without a goal too.
        row.direct,
        row.setup_seconds,
        tuple(instance.set_ticks(row, z) for z in Zone),
        fitting_zones(instance, row),
        offers,
        # Loads change no rule: where a load is known it has already decided which zones are offered.
        row.lower_back_load,
        row.plane,
        # The grip is looked at for priority muscles only, the floor for hinges only.
        row.grip if any(instance.direct(key, t.key) for t in instance.priorities()) else None,
        row.station,
        row.pattern == "hinge" and row.from_floor,
        instance.brief.exercises.most_per_week.get(key, MOST_USES),
        key in instance.brief.exercises.favourites,
        tuple(exclusions[kind].get(key, ()) for kind in instance.kinds),
        name,
    )
