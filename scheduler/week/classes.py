"""Stimulus classes: exercises that no rule can tell apart are merged, with a multiplicity.

Two exercises fall into one class when they agree in everything that a rule or the clock looks at: the kinds of session
that may hold them, what they count for every goal, minutes, zones and places where they can be done, what each rule
looks at besides (:meth:`scheduler.rules.base.Rule.looks_at`), and whether the brief or its records name them. A named
exercise (pinned, wanted, avoided, capped a week, in the previous plan or in a record) stands alone. Where a rule takes
exercises one by one all do. Only rules count that the week holds: while questions are posed wishes are left out, and
nobody looks at stations.

The solver decides how often each session uses a class, at most as often as it has members, and
:mod:`scheduler.week.decode` deals the members out. That loses nothing: see there. 5 to 20 times faster than one
variable an exercise (measured on the plain formulation).

In outline, minutes do not tell exercises apart either, nor do zones where nothing hangs on them: then there are half as
many classes, and hardly more of them in a large catalogue than in a small one. See :mod:`scheduler.week.outline`.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass
from typing import Any

from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Zone
from scheduler.instance import Instance
from scheduler.rules.base import Rule
from scheduler.rules.equipment import shortage

Places = Mapping[Zone, tuple[str, ...]]


@dataclass(frozen=True)
class StimulusClass:
    """Interchangeable exercises. ``members`` are keys in catalogue order; ``row`` is the first of them."""

    index: int
    members: tuple[str, ...]
    row: Exercise
    told: frozenset[Zone]
    """Zones that a rule tells from the others."""
    offers: Places
    """By zone: the places that offer its members."""
    short: Places
    """By zone: where, if so asked, only equipment stands against them."""
    exclusions: dict[str, tuple[str, ...]]
    """By session kind: the switches that shut its members out there."""

    @property
    def key(self) -> str:
        return self.members[0]

    @property
    def size(self) -> int:
        return len(self.members)

    def places(self, zone: Zone) -> tuple[str, ...]:
        return (*self.offers[zone], *self.short[zone])


Exclusions = dict[str, dict[str, tuple[str, ...]]]
"""By kind, then by exercise: the switches that shut it out."""


def stimulus_classes(
    instance: Instance,
    exclusions: Exclusions,
    rules: Collection[Rule[Any]],
    *,
    unserved: bool = False,
    outline: bool = False,
) -> tuple[StimulusClass, ...]:
    """Merge the pool into classes, in catalogue order of their first members.

    Args:
        rules: those that the week holds; what only others look at tells no exercises apart.
        unserved: where a place lacks the equipment of an exercise, or cannot load it, use it there all the same.
        outline: merge what differs only in minutes, or in zones that nothing tells apart, too.
    """
    named = frozenset(instance.pool) if not outline and any(rule.one_by_one for rule in rules) else _named(instance)
    looks = [rule.looks_at(instance) for rule in rules]
    tellings = [rule.zones_told(instance) for rule in rules]
    groups: dict[Hashable, list[str]] = {}
    known: dict[str, tuple[frozenset[Zone], Places, Places]] = {}
    for key, row in instance.pool.items():
        main, quick = _held(instance, row)
        offers = _offers(instance, key)
        short = _short(instance, key) if unserved else dict.fromkeys(Zone, ())
        if not any((*main, *quick)) or not any((*offers.values(), *short.values())):
            continue
        told = frozenset(zone for telling in tellings for zone in telling(key))
        if outline and not unserved:
            # Quick sets are never heavy: that an exercise is offered heavy says nothing of it as an add-on.
            offers = _merged(offers, told | {Zone.HEAVY} if any(quick) else told)
        known[key] = told, offers, short
        signature = (
            (main, quick),
            tuple((instance.counted(key, t), instance.direct(key, t)) for t in instance.targets),
            tuple(exclusions[kind].get(key, ()) for kind in instance.kinds),
            tuple(look(key) for look in looks),
            told,
            # Loads change no rule: where a load is known it has already decided which zones are offered.
            tuple(offers.values()),
            tuple(short.values()),
            None
            if outline
            else tuple(
                (instance.setup_ticks(row, z), instance.set_ticks(row, z)) for z in Zone if offers[z] or short[z]
            ),
            key if key in named else None,
        )
        groups.setdefault(signature, []).append(key)
    return tuple(
        StimulusClass(
            index,
            tuple(members),
            instance.pool[members[0]],
            *known[members[0]],
            {kind: exclusions[kind].get(members[0], ()) for kind in instance.kinds},
        )
        for index, members in enumerate(groups.values())
    )


def _held(instance: Instance, row: Exercise) -> tuple[tuple[bool, ...], tuple[bool, ...]]:
    """By kind, whether its sessions may hold an exercise as main work, and whether as a quick add-on."""
    kinds = instance.kinds.values()
    main = tuple(row.pattern in kind.patterns for kind in kinds)
    return main, tuple(kind.add_on is not None and row.pattern == kind.add_on.pattern for kind in kinds)


def _offers(instance: Instance, key: str) -> Places:
    return {zone: tuple(p for p in instance.venues if (key, p, zone) in instance.offers) for zone in Zone}


def _short(instance: Instance, key: str) -> Places:
    fitting = instance.fitting_zones(instance.pool[key])
    return {
        zone: tuple(
            p
            for p, venue in instance.venues.items()
            if zone in fitting and (key, p, zone) not in instance.offers and shortage(instance, key, zone, venue)
        )
        for zone in Zone
    }


def _merged(offers: Places, told: frozenset[Zone]) -> Places:
    """Zones that nothing tells apart are offered wherever one of them is."""
    somewhere = {place for zone, places in offers.items() if zone not in told for place in places}
    return {zone: places if zone in told else tuple(sorted(somewhere)) for zone, places in offers.items()}


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
