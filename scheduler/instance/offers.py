"""What can be trained where, in which zone and at which load."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import islice

from scheduler.domain.brief import Brief, Formula, Lift, Status
from scheduler.domain.catalogue import Catalogue, Exercise
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Zone
from scheduler.domain.units import GRAMS_PER_KG, SLOT_MINUTES, CountRange
from scheduler.instance.model import Limits, Offer, Venue, ZoneNumbers, fitting_zones
from scheduler.loads import TRUSTED_REPS_TO_FAILURE, beyond_range, prescribed_load, round_load

_ENOUGH_OTHERS = 2
_USUALLY_SEVERAL = ("bench", "dumbbells", "bands", "kettlebells")
"""Of these a place has more than one unless its count says otherwise."""


def venue_of(key: str, brief: Brief, catalogue: Catalogue) -> Venue:
    """A place with what stands there, its own equipment beside that of its base."""
    place = brief.places[key]
    names = list(catalogue.places[place.base].equipment) if place.base else []
    names = [n for n in names if n not in place.lacks]
    names += [n for n in place.equipment if n not in names]
    equipment: dict[str, Limits | None] = {}
    for name in names:
        sort = catalogue.equipment[name]
        item = place.equipment.get(name)
        if not sort.loadable:
            equipment[name] = None
            continue
        heaviest = (item and item.heaviest_kg) or sort.heaviest_kg
        step = (item and item.step_kg) or sort.step_kg or 1.0
        grams = round(step * GRAMS_PER_KG)
        lightest = round(sort.lightest_kg * GRAMS_PER_KG)
        if item and item.step_kg:
            # Dumbbells in steps of 2 kg are 4, 6, 8 kg: a step that the brief gives is counted from zero.
            lightest = -(-lightest // grams) * grams
        equipment[name] = Limits(
            heaviest=round(heaviest * GRAMS_PER_KG) if heaviest else None, step=grams, lightest=lightest
        )
    counts = {name: item.count for name, item in place.equipment.items() if item.count is not None}
    several = frozenset(name for name in names if counts.get(name, 2 if name in _USUALLY_SEVERAL else 1) > 1)
    return Venue(key, place.name or key, equipment, -(-place.travel_minutes // SLOT_MINUTES), several)


def pool_of(brief: Brief, catalogue: Catalogue) -> dict[str, Exercise]:
    """The exercises that the brief admits."""
    only = set(brief.exercises.only) if brief.exercises.only is not None else None
    named = set(brief.exercises.wanted) | {e.exercise for p in brief.pinned for e in p.exercises}
    return {key: row for key, row in catalogue.exercises.items() if only is None or key in only or key in named}


_FEWEST = {Zone.HEAVY: 1, Zone.MODERATE: 7, Zone.LIGHT: 13}
"""Reps by which a zone can be told."""


def usual_reserve(brief: Brief, catalogue: Catalogue) -> int:
    """Reps in reserve at the end of a working set: those of the brief, else the default."""
    if brief.prescription.reps_in_reserve is not None:
        return brief.prescription.reps_in_reserve
    more = brief.lifter.stays_short_of_failure
    return catalogue.default_int("reps_in_reserve_novice" if more else "reps_in_reserve")


def row_of_sets(brief: Brief) -> str:
    """The row of the evidence that says how many working sets an exercise has where the brief does not.

    Of a novice fewer, but not where the coach has chosen the exercises: of a few that are left more sets may have to
    come.
    """
    fewer = brief.lifter.status is Status.NOVICE and brief.exercises.only is None
    return "sets_per_exercise_novice" if fewer else "sets_per_exercise"


def usual_sets(brief: Brief, catalogue: Catalogue) -> CountRange:
    """Working sets of an exercise where the brief says nothing of them."""
    return catalogue.default_range(row_of_sets(brief))


def more_sets(brief: Brief, catalogue: Catalogue) -> dict[str, int]:
    """Most working sets of the exercises of which a novice may have more than usual: as many as are pinned.

    Those of a previous plan too: in the middle of a week a pin may be fulfilled and gone, and what was planned with it
    stands.
    """
    if brief.prescription.sets_per_exercise is not None or row_of_sets(brief) == "sets_per_exercise":
        return {}
    pinned = [(e.exercise, e.sets or 0) for pin in brief.pinned for e in pin.exercises]
    planned = [(e.exercise, e.sets) for record in brief.previous for e in record.exercises if not e.add_on]
    usual = usual_sets(brief, catalogue).most
    found: dict[str, int] = {}
    for key, sets in (*pinned, *planned):
        if sets > found.get(key, usual):
            found[key] = sets
    return found


def zones_of(brief: Brief, catalogue: Catalogue) -> dict[Zone, ZoneNumbers]:
    """Reps, rest and reps in reserve of every zone. Raises InputError where reps lie outside theirs."""
    prescription = brief.prescription
    reserve = usual_reserve(brief, catalogue)
    zones = {}
    percent = prescription.reps_percent or 100
    for zone in Zone:
        reps: int = getattr(prescription.reps, zone) or catalogue.default_int(f"reps_{zone}")
        rest: int | None = getattr(prescription.rest_seconds, zone)
        zones[zone] = ZoneNumbers(
            reps,
            rest if rest is not None else catalogue.default_int(f"rest_seconds_{zone}"),
            reserve,
            min(reps, max(_FEWEST[zone], -(-reps * percent // 100))),
            offered=zone is not Zone.HEAVY or prescription.reps.heavy is not None or not brief.lifter.goes_gently,
        )
    bounds = {Zone.HEAVY: (1, 6), Zone.MODERATE: (6, 12), Zone.LIGHT: (12, 200)}
    for zone, (low, high) in bounds.items():
        if not low <= zones[zone].reps <= high:
            raise InputError.single(
                f"prescription.reps.{zone}",
                f"{zones[zone].reps} reps lie outside the {zone} zone",
                f"Write {low} to {high}",
            )
    return zones


def _is_spared(key: str, venue: Venue, *, pool: Mapping[str, Exercise], named: frozenset[str], brief: Brief) -> bool:
    """Whether a substitute is not needed at a place: two others of its pattern can be done there."""
    row = pool[key]
    if not row.substitute or key in named:
        return False
    begins = brief.lifter.begins
    others = (o for o in _others(row, venue, pool, brief) if not (o.substitute or (begins and o.practised)))
    return len(list(islice(others, _ENOUGH_OTHERS))) == _ENOUGH_OTHERS


def _is_beyond(key: str, venue: Venue, *, pool: Mapping[str, Exercise], named: frozenset[str], brief: Brief) -> bool:
    """Whether an exercise asks for practice that a beginner lacks, and another of its pattern can be done at a place.

    Substitutes are such others too.
    """
    row = pool[key]
    if not (row.practised and brief.lifter.begins) or key in named:
        return False
    return any(not other.practised for other in _others(row, venue, pool, brief))


def _others(row: Exercise, venue: Venue, pool: Mapping[str, Exercise], brief: Brief) -> Iterator[Exercise]:
    """Exercises of a pattern that can be done at a place."""
    flagged = set(brief.lifter.cautions)
    return (
        other
        for name, other in pool.items()
        if other.pattern == row.pattern
        and set(other.equipment) <= set(venue.equipment)
        and name not in brief.exercises.avoided
        and not flagged & set(other.cautions)
    )


def _named(brief: Brief) -> frozenset[str]:
    """Exercises that the brief itself names as welcome, or that the lifter does: these are always offered."""
    pool = brief.exercises
    pinned = (e.exercise for pin in brief.pinned for e in pin.exercises)
    recorded = (e.exercise for r in (*brief.done, *brief.previous) for e in r.exercises)
    lifted = (lift.exercise for lift in brief.lifter.lifts)
    return frozenset((*(pool.only or ()), *pool.wanted, *pool.favourites, *pinned, *recorded, *lifted))


def offers_of(
    brief: Brief,
    catalogue: Catalogue,
    pool: Mapping[str, Exercise],
    venues: Mapping[str, Venue],
    zones: Mapping[Zone, ZoneNumbers],
) -> Iterator[tuple[tuple[str, str, Zone], Offer]]:
    """By exercise, place and zone the load; what cannot be done there has no entry."""
    formula = brief.prescription.one_rep_max_formula or Formula(str(catalogue.evidence["one_rep_max_formula"].value))
    lifts = {lift.exercise: lift for lift in brief.lifter.lifts}
    named = _named(brief)
    for key, row in pool.items():
        fitting = fitting_zones(row, zones)
        lift = lifts.get(key)
        for venue in venues.values():
            if any(name not in venue.equipment for name in row.equipment):
                continue
            if _is_spared(key, venue, pool=pool, named=named, brief=brief):
                continue
            if _is_beyond(key, venue, pool=pool, named=named, brief=brief):
                continue
            limits = venue.equipment[row.loaded_by] if row.loaded_by else None
            for zone in fitting:
                load = None
                numbers = zones[zone]
                if lift is not None and not _needs_body_weight(row, lift, numbers):
                    wanted = prescribed_load(lift, numbers.reps_of(row), numbers.reps_in_reserve, formula=formula)
                    most = wanted
                    if beyond_range(lift.reps + lift.reps_in_reserve):
                        most = min(wanted, highest_guess(lift, catalogue))
                    if limits is None:
                        load = most
                    else:
                        load = round_load(most, limits.step, limits.lightest, limits.heaviest)
                        if load is None:
                            continue
                        if most < load and most < wanted:  # A guess is not rounded up.
                            load = max(limits.lightest, load - limits.step)
                yield (key, venue.key, zone), Offer(load)


def _needs_body_weight(row: Exercise, lift: Lift, numbers: ZoneNumbers) -> bool:
    """Whether a load cannot be told from a lift: it hangs on the body, and more reps are asked than were lifted.

    A formula for the maximum takes the whole load, body included. Of the belt's alone it makes too much for more reps
    (of 20 kg for five, 17.5 for ten), and too little for fewer, which is safe.
    """
    return _hangs_on_the_body(row) and (
        numbers.reps_of(row) + numbers.reps_in_reserve > lift.reps + lift.reps_in_reserve
    )


def _hangs_on_the_body(row: Exercise) -> bool:
    return row.loaded_by == "dip_belt"


def highest_guess(lift: Lift, catalogue: Catalogue) -> int:
    """Grams up to which a load is told from a lift that makes a rough estimate: a step above what was lifted."""
    return int(lift.load_kg * GRAMS_PER_KG * (100 + catalogue.default_range("load_step_percent").most) / 100)


def rough_estimates(brief: Brief, catalogue: Catalogue, pool: Collection[str]) -> Iterator[str]:
    """What is to be said of lifts that tell little of a one-repetition maximum: with many reps, or beside the body. Of
    exercises that are left out nothing is: least of all to take more of what hurts."""
    told = set(pool).difference(brief.exercises.avoided)
    for lift in (lift for lift in brief.lifter.lifts if lift.exercise in told):
        if _hangs_on_the_body(catalogue.exercises[lift.exercise]):
            yield (
                f"{catalogue.exercises[lift.exercise].name}: what hangs on the belt is a part of the load, the body is "
                f"the rest. For sets that would fail after more than {lift.reps + lift.reps_in_reserve} reps none is "
                "named: begin light there."
            )
            continue
        reps = lift.reps + lift.reps_in_reserve
        if beyond_range(reps):
            name = catalogue.exercises[lift.exercise].name
            yield (
                f"{name}: its loads are a rough guess, from a set that would fail after {reps} reps; "
                f"{TRUSTED_REPS_TO_FAILURE} or fewer tell more. They stop at "
                f"{highest_guess(lift, catalogue) / GRAMS_PER_KG:.3g} kg: take more where that leaves more in reserve."
            )


def loads_of_no_place(
    brief: Brief,
    pool: Mapping[str, Exercise],
    venues: Mapping[str, Venue],
    zones: Mapping[Zone, ZoneNumbers],
    offers: Mapping[tuple[str, str, Zone], Offer],
) -> Iterator[str]:
    """What is to be said of lifts that shut their exercise out: a place has its equipment, none has such a load."""
    possible = {key for key, _, _ in offers}
    for lift in brief.lifter.lifts:
        row = pool.get(lift.exercise)
        if row is None or lift.exercise in possible or row.substitute or not fitting_zones(row, zones):
            continue
        if row.loaded_by and any(set(row.equipment) <= set(venue.equipment) for venue in venues.values()):
            yield (
                f"{row.name}: no place has the loads that {lift.load_kg:g} kg for {lift.reps} reps tells, so it is "
                "left out. Correct the lift if it is mistyped."
            )
