"""Stimulus classes: exercises that no rule can tell apart are merged, with a multiplicity.

Two exercises fall into one class when they agree in everything that a rule or the clock looks at: pattern, what they
count for every goal, minutes, zones and places where they can be done, lower-back load, plane, grip, station, and
whether the brief or its records name them. A named exercise (pinned, wanted, avoided, capped a week, in the previous
plan or in a record) stands alone. Where exercises are paired all do: partners must not need the same equipment. Only
rules count that the week holds: while questions are posed wishes are left out, and nobody looks at stations.

The solver decides how often each session uses a class, at most as often as it has members, and
:mod:`scheduler.week.decode` deals the members out. That loses nothing: see there. 5 to 20 times faster than one
variable an exercise (measured on the plain formulation).

In outline, minutes do not tell exercises apart either: then there are half as many classes, and hardly more of them in
a large catalogue than in a small one. See :mod:`scheduler.week.outline`.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable
from dataclasses import dataclass

from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Zone
from scheduler.instance import Instance
from scheduler.rules.equipment import shortage


@dataclass(frozen=True)
class StimulusClass:
    """Interchangeable exercises. ``members`` are keys in catalogue order; ``row`` is the first of them."""

    index: int
    members: tuple[str, ...]
    row: Exercise
    zones: tuple[Zone, ...]
    """Zones whose target reps suit its members."""
    places: dict[Zone, tuple[str, ...]]
    """By zone: where they are offered or, if so asked, where only equipment stands against them."""
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
    instance: Instance,
    exclusions: Exclusions,
    posted: Collection[str],
    *,
    unserved: bool = False,
    outline: bool = False,
) -> tuple[StimulusClass, ...]:
    """Merge the pool into classes, in catalogue order of their first members.

    Args:
        posted: keys of the rules that the week holds; what only others look at tells no exercises apart.
        unserved: where a place lacks the equipment of an exercise, or cannot load it, use it there all the same.
        outline: merge what differs only in minutes too.
    """
    patterns = {p for kind in instance.kinds.values() for p in kind.patterns}
    patterns |= {kind.add_on.pattern for kind in instance.kinds.values() if kind.add_on}
    groups: dict[Hashable, list[str]] = {}
    named = frozenset(instance.pool) if "pairing" in posted and not outline else _named(instance)
    for key, row in instance.pool.items():
        if row.pattern in patterns and any(_places(instance, key, z, unserved=unserved) for z in Zone):
            name = key if key in named else None
            minutes = None if outline else _minutes(instance, row)
            station = row.station if "few_stations" in posted else None
            favourite = "favourites" in posted and key in instance.brief.exercises.favourites
            signature = _signature(instance, key, row, exclusions, unserved=unserved)
            groups.setdefault((signature, name, minutes, station, favourite), []).append(key)
    return tuple(
        StimulusClass(
            index=index,
            members=tuple(members),
            row=instance.pool[members[0]],
            zones=instance.fitting_zones(instance.pool[members[0]]),
            places={z: _places(instance, members[0], z, unserved=unserved) for z in Zone},
            exclusions={kind: exclusions[kind].get(members[0], ()) for kind in instance.kinds},
        )
        for index, members in enumerate(groups.values())
    )


def _places(instance: Instance, key: str, zone: Zone, *, unserved: bool) -> tuple[str, ...]:
    if zone not in instance.fitting_zones(instance.pool[key]):
        return ()
    return tuple(
        p
        for p, venue in instance.venues.items()
        if (key, p, zone) in instance.offers or (unserved and shortage(instance, key, zone, venue))
    )


def _named(instance: Instance) -> frozenset[str]:
    """Exercises that a rule may look at by name."""
    brief = instance.brief
    records = (*instance.done, *instance.previous, *instance.history[-1:])
    return frozenset(
        (
            *brief.exercises.wanted,
            *brief.exercises.most_per_week,
            *(e.exercise for pin in brief.pinned for e in pin.exercises),
            *(item.key for record in records for item in record.items),
        )
    )


def _signature(instance: Instance, key: str, row: Exercise, exclusions: Exclusions, *, unserved: bool) -> Hashable:
    venues = instance.venues
    offers = tuple((p, z) for p in venues for z in Zone if (key, p, z) in instance.offers)
    short = tuple((p, z) for p, v in venues.items() for z in Zone if unserved and shortage(instance, key, z, v))
    return (
        row.pattern,
        tuple((instance.counted(key, t), instance.direct(key, t)) for t in instance.targets),
        tuple((instance.direct(key, t)) for t in instance.brief.exercises.least_distinct),
        # Recovery looks at direct work for muscles without a goal too.
        row.direct,
        instance.fitting_zones(row),
        offers,
        short,
        # Loads change no rule: where a load is known it has already decided which zones are offered.
        row.lower_back_load,
        row.plane,
        # The grip is looked at for priority muscles only, the floor for hinges only.
        row.grip if any(instance.direct(key, t.key) for t in instance.priorities()) else None,
        row.pattern == "hinge" and row.from_floor,
        tuple(exclusions[kind].get(key, ()) for kind in instance.kinds),
    )


def _minutes(instance: Instance, row: Exercise) -> Hashable:
    return row.setup_seconds, tuple(instance.set_ticks(row, z) for z in Zone)
