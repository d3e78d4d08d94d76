"""From brief to instance: every default filled in, every name looked up, every time put on the week's clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice, pairwise
from typing import Any

from scheduler.domain.brief import AgeBand, Brief, Formula, MuscleGoal, Opening, SessionKind, SessionRecord, Status
from scheduler.domain.catalogue import Catalogue, Exercise
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.plan import Role, Zone
from scheduler.domain.units import (
    DAYS,
    GRAMS_PER_KG,
    SLOT_MINUTES,
    TICK_SECONDS,
    CountRange,
    quarter_sets,
    slots_from_hours,
)
from scheduler.instance.clock import Clock
from scheduler.instance.model import (
    AddOnSpec,
    Busy,
    Instance,
    Item,
    Kind,
    Limits,
    Offer,
    SessionFacts,
    Spot,
    Target,
    Venue,
    ZoneNumbers,
    fitting_zones,
)
from scheduler.instance.names import check_names
from scheduler.loads import TRUSTED_REPS_TO_FAILURE, beyond_range, prescribed_load, round_load

_ORDINARY_FACTOR = 1
_ENOUGH_OTHERS = 2


def settle(brief: Brief, catalogue: Catalogue, settings: Mapping[str, Any]) -> Instance:
    """Settle a brief.

    Args:
        brief: what was asked.
        catalogue: muscles, exercises, evidence.
        settings: per rule its validated setting.

    Raises:
        InputError: a name is unknown, openings overlap, a place is empty; all such faults at once.
    """
    check_names(brief, catalogue)
    clock = Clock(brief.week)
    sessions, notes = _sessions(brief, catalogue)
    notes = (*notes, *_rough_estimates(brief, catalogue))
    venues = {key: _venue(key, brief, catalogue) for key in brief.places}
    kinds = {key: _kind(key, kind, catalogue) for key, kind in brief.kinds.items()}
    pool = _pool(brief, catalogue)
    zones = _zones(brief, catalogue)
    prescription = brief.prescription
    hit_sets = prescription.hit_sets
    indirect = prescription.indirect_share
    warm_up = prescription.warm_up_minutes
    instance = Instance(
        brief=brief,
        catalogue=catalogue,
        clock=clock,
        kinds=kinds,
        targets={key: _target(key, goal, brief, catalogue) for key, goal in brief.goals.items()},
        venues=venues,
        spots=tuple(_spots(brief.openings, clock)),
        busy=tuple(_busy(brief, clock)),
        pool=pool,
        offers=dict(_offers(brief, catalogue, pool, venues, zones)),
        zones=zones,
        hit_quarters=quarter_sets(hit_sets if hit_sets is not None else catalogue.default_int("hit_sets")),
        indirect_quarters=(
            quarter_sets(indirect) if indirect is not None else catalogue.default_int("indirect_share_quarters")
        ),
        warm_up_ticks=(warm_up if warm_up is not None else catalogue.default_int("warm_up_minutes"))
        * 60
        // TICK_SECONDS,
        sets_per_exercise=prescription.sets_per_exercise or catalogue.default_range("sets_per_exercise"),
        sessions=sessions,
        history=tuple(_record(r, clock, catalogue, done=True) for r in _in_order(brief.history, clock)),
        done=tuple(_record(r, clock, catalogue, done=True) for r in _in_order(brief.done, clock)),
        previous=tuple(_record(r, clock, catalogue, done=False) for r in _in_order(brief.previous, clock)),
        pins=brief.pinned,
        settings=settings,
        notes=notes,
    )
    _check_records(instance)
    return instance


_USUALLY_SEVERAL = ("bench", "dumbbells", "bands", "kettlebells")
"""Of these a place has more than one unless its count says otherwise."""


def _venue(key: str, brief: Brief, catalogue: Catalogue) -> Venue:
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


def _kind(key: str, kind: SessionKind, catalogue: Catalogue) -> Kind:
    template = catalogue.kinds[kind.base] if kind.base else None
    patterns = kind.patterns if kind.patterns is not None else (template.patterns if template else ())
    required = kind.required if kind.required is not None else (template.required if template else ())
    sets = kind.sets or (template.sets if template else None)
    minutes = kind.minutes or (template.minutes if template else None)
    lower_body = kind.lower_body if kind.lower_body is not None else bool(template and template.lower_body)
    if not patterns or sets is None or minutes is None:
        missing = [n for n, v in (("patterns", patterns), ("sets", sets), ("minutes", minutes)) if not v]
        raise InputError.single(
            f"kinds.{key}",
            f"{' and '.join(missing)} left out, and no base to take them from",
            f"Write them, or base: one of {', '.join(sorted(catalogue.kinds))}",
        )
    stray = [p for p in required if p not in patterns]
    if stray:
        raise InputError.single(
            f"kinds.{key}.required", f"{stray[0]!r} is required but not among the patterns", "Add it to patterns"
        )
    add_on = kind.add_on
    return Kind(
        key=key,
        name=kind.name or (template.name if template else key.replace("_", " ").capitalize()),
        patterns=patterns,
        required=required,
        sets=sets,
        minutes=minutes,
        per_week=kind.per_week,
        lower_body=lower_body,
        add_on=AddOnSpec(
            add_on.pattern,
            add_on.sets or catalogue.default_range("add_on_sets"),
            add_on.sessions or CountRange(least=0, most=kind.per_week.most),
        )
        if add_on is not None
        else None,
        days=tuple(sorted({d.number for d in kind.days})) if kind.days else None,
        places=kind.places,
    )


def default_recovery(brief: Brief, catalogue: Catalogue) -> int:
    """Slots between two hits of one muscle where the brief names none: by age, less the allowance."""
    older = brief.lifter.age_band in (AgeBand.FIFTY, AgeBand.SIXTY_FIVE)
    hours = catalogue.default_int("recovery_hours_50_plus" if older else "recovery_hours")
    return slots_from_hours(hours) - catalogue.default_int("recovery_allowance_minutes") // SLOT_MINUTES


def _target(key: str, goal: MuscleGoal, brief: Brief, catalogue: Catalogue) -> Target:
    given = {"least": goal.least, "aim": goal.aim, "most": goal.most}
    default = {n: float(catalogue.default_int(f"weekly_sets_{n}")) for n in given}
    # A default gives way to a number that was asked for: aim 3 pulls the default least of 4 down to 3.
    aim = given["aim"] if given["aim"] is not None else default["aim"]
    if given["least"] is not None:
        aim = max(aim, given["least"]) if given["aim"] is None else aim
    if given["most"] is not None and given["aim"] is None:
        aim = min(aim, given["most"])
    least = given["least"] if given["least"] is not None else min(default["least"], aim)
    most = given["most"] if given["most"] is not None else max(default["most"], aim)
    is_group = key in catalogue.groups
    recovery: int | None = None
    if goal.recovery_hours is not None:
        recovery = slots_from_hours(goal.recovery_hours)
    elif not is_group:
        recovery = default_recovery(brief, catalogue)
    cap = goal.session_cap
    if cap is None and not is_group:
        cap = float(catalogue.default_int("session_sets_cap"))
    frequency = goal.frequency or (None if is_group else catalogue.default_range("frequency"))
    name = catalogue.groups[key].name if is_group else catalogue.muscles[key].name
    return Target(
        key=key,
        name=name,
        is_group=is_group,
        members=catalogue.members(key),
        least=quarter_sets(least),
        aim=quarter_sets(aim),
        most=quarter_sets(most),
        frequency=frequency,
        session_cap=None if cap is None else quarter_sets(cap),
        recovery=recovery,
        priority=goal.priority,
        factor=catalogue.default_int(f"weight_priority_{goal.priority}") if goal.priority else _ORDINARY_FACTOR,
    )


def _spots(openings: Iterable[Opening], clock: Clock) -> Iterator[Spot]:
    last_second = dt.time(23, 59, 59)
    found: list[tuple[Spot, str]] = []
    for number, opening in enumerate(openings):
        for day in opening.day:
            end = (
                clock.day_starts[day.number + 1]
                if opening.end == last_second
                else clock.floor(clock.at(day.number, opening.end))
            )
            spot = Spot(
                day.number, clock.ceil(clock.at(day.number, opening.start)), end, opening.place, opening.preference
            )
            found.append((spot, f"openings[{number}]"))
    faults = []
    for i, (one, where) in enumerate(found):
        for other, there in found[:i]:
            if one.place == other.place and one.start < other.end and other.start < one.end:
                name = DAYS[one.day].full_name
                faults.append(
                    Fault(where, f"overlaps {there} on {name} at {one.place!r}", "Join the two, or move one of them")
                )
    if faults:
        raise InputError(faults)
    yield from sorted((s for s, _ in found), key=lambda s: (s.start, s.place))


def _busy(brief: Brief, clock: Clock) -> Iterator[Busy]:
    times = (Busy(b.title, clock.floor(b.start), clock.ceil(b.end)) for b in brief.busy)
    yield from sorted((b for b in times if b.end > b.start), key=lambda b: (b.start, b.end, b.title))


def _pool(brief: Brief, catalogue: Catalogue) -> dict[str, Exercise]:
    only = set(brief.exercises.only) if brief.exercises.only is not None else None
    named = set(brief.exercises.wanted) | {e.exercise for p in brief.pinned for e in p.exercises}
    return {key: row for key, row in catalogue.exercises.items() if only is None or key in only or key in named}


_FEWEST = {Zone.HEAVY: 1, Zone.MODERATE: 7, Zone.LIGHT: 13}
"""Reps by which a zone can be told."""


def _zones(brief: Brief, catalogue: Catalogue) -> dict[Zone, ZoneNumbers]:
    prescription = brief.prescription
    novice = brief.lifter.status is Status.NOVICE
    reserve = prescription.reps_in_reserve
    if reserve is None:
        reserve = catalogue.default_int("reps_in_reserve_novice" if novice else "reps_in_reserve")
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
    flagged = set(brief.lifter.cautions)
    others = (
        other
        for name, other in pool.items()
        if other.pattern == row.pattern
        and not other.substitute
        and set(other.equipment) <= set(venue.equipment)
        and name not in brief.exercises.avoided
        and not flagged & set(other.cautions)
    )
    return len(list(islice(others, _ENOUGH_OTHERS))) == _ENOUGH_OTHERS


def _named(brief: Brief) -> frozenset[str]:
    """Exercises that the brief itself names as welcome: of these even substitutes are always offered."""
    pool = brief.exercises
    pinned = (e.exercise for pin in brief.pinned for e in pin.exercises)
    recorded = (e.exercise for r in (*brief.done, *brief.previous) for e in r.exercises)
    return frozenset((*(pool.only or ()), *pool.wanted, *pool.favourites, *pinned, *recorded))


def _offers(
    brief: Brief,
    catalogue: Catalogue,
    pool: Mapping[str, Exercise],
    venues: Mapping[str, Venue],
    zones: Mapping[Zone, ZoneNumbers],
) -> Iterator[tuple[tuple[str, str, Zone], Offer]]:
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
            limits = venue.equipment[row.loaded_by] if row.loaded_by else None
            for zone in fitting:
                load = None
                if lift is not None:
                    numbers = zones[zone]
                    wanted = prescribed_load(lift, numbers.reps_of(row), numbers.reps_in_reserve, formula=formula)
                    if limits is None:
                        load = wanted
                    else:
                        load = round_load(wanted, limits.step, limits.lightest, limits.heaviest)
                        if load is None:
                            continue
                yield (key, venue.key, zone), Offer(load)


def _sessions(brief: Brief, catalogue: Catalogue) -> tuple[CountRange, tuple[str, ...]]:
    """How many sessions in all, and what is to be said where a default gives way to what was asked."""
    if brief.sessions is not None:
        return brief.sessions, ()
    default = catalogue.default_range(f"sessions_{brief.lifter.status}")
    asked = sum(kind.per_week.least for kind in brief.kinds.values())
    could = sum(kind.per_week.most for kind in brief.kinds.values())
    named = f"ACSM 2009 names {default.least} to {default.most} a week for {brief.lifter.status.value} lifters."
    if asked > default.most:
        return CountRange(least=asked, most=asked), (f"{asked} sessions are asked for; {named}",)
    if could < default.least:
        return CountRange(least=asked, most=could), (f"At most {could} sessions are asked for; {named}",)
    return default, ()


def _rough_estimates(brief: Brief, catalogue: Catalogue) -> Iterator[str]:
    """What is to be said of lifts with so many reps that they tell little of a one-repetition maximum."""
    for lift in brief.lifter.lifts:
        reps = lift.reps + lift.reps_in_reserve
        if beyond_range(reps):
            name = catalogue.exercises[lift.exercise].name
            yield (
                f"{name}: its loads are a rough guess, from a set that would fail after {reps} reps; "
                f"{TRUSTED_REPS_TO_FAILURE} or fewer tell more."
            )


def _in_order(records: Iterable[SessionRecord], clock: Clock) -> list[SessionRecord]:
    return sorted(records, key=lambda r: (clock.instant(r.start), r.kind))


def _record(record: SessionRecord, clock: Clock, catalogue: Catalogue, *, done: bool) -> SessionFacts:
    start = clock.floor(record.start)
    end = clock.ceil(clock.instant(record.start) + dt.timedelta(minutes=record.minutes))
    items = []
    for row in record.exercises:
        if row.sets == 0:
            continue
        zone = None if row.reps is None else Zone.of(row.reps)
        load = round(row.load_kg * GRAMS_PER_KG) if row.load_kg else None
        role = Role.ADD_ON if row.add_on else Role.MAIN
        items.append(Item(row.exercise, catalogue.exercises[row.exercise], row.sets, zone, role, load_grams=load))
    return SessionFacts(record.kind, start, end, clock.day(start), record.place, tuple(items), done=done)


def _check_records(instance: Instance) -> None:
    """Done sessions lie in the week and apart, history before it."""
    faults = []
    brief, clock = instance.brief, instance.clock
    # Records are looked at in order of time; faults name them by where they stand in the brief.
    done, history = (
        [(records.index(record), facts) for record, facts in zip(_in_order(records, clock), settled, strict=True)]
        for records, settled in ((brief.done, instance.done), (brief.history, instance.history))
    )
    for number, session in done:
        if not 0 <= session.start < instance.clock.slots:
            faults.append(Fault(f"done[{number}].start", "lies outside the week", "Older sessions belong in history"))
    for (one, earlier), (other, later) in pairwise(done):
        if later.start < earlier.end:
            faults.append(Fault(f"done[{other}]", f"overlaps with done[{one}]", "Correct a start or its minutes"))
    for number, session in history:
        if session.end > 0:
            faults.append(
                Fault(f"history[{number}].start", "does not end before the week starts", "This week's belong in done")
            )
        elif session.start < -14 * 24 * 60 // SLOT_MINUTES:
            faults.append(Fault(f"history[{number}].start", "is more than 14 days before the week", "Leave it out"))
    if instance.brief.week.repeats and instance.history:
        faults.append(
            Fault("history", "a repeating week has no history", "Write repeats: false, or leave the history out")
        )
    if faults:
        raise InputError(faults)
