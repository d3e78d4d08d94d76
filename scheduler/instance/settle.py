"""From brief to instance: every default filled in, every name looked up, every time put on the week's clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from scheduler.domain.brief import AgeBand, Brief, MuscleGoal, Opening, SessionKind
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, InputError
from scheduler.domain.units import (
    DAYS,
    LONGEST_SLOTS,
    SLOT_MINUTES,
    TICK_SECONDS,
    CountRange,
    quarter_sets,
    slots_from_hours,
)
from scheduler.domain.wording import counted
from scheduler.instance.clock import Clock
from scheduler.instance.model import AddOnSpec, Busy, Instance, Kind, Spot, Target
from scheduler.instance.names import check_names
from scheduler.instance.offers import (
    loads_of_no_place,
    more_sets,
    offers_of,
    pool_of,
    rough_estimates,
    usual_sets,
    venue_of,
    zones_of,
)
from scheduler.instance.records import check_records, in_order_of_time

_ORDINARY_FACTOR = 1


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
    venues = {key: venue_of(key, brief, catalogue) for key in brief.places}
    kinds = {key: _kind(key, kind, catalogue) for key, kind in brief.kinds.items()}
    pool = pool_of(brief, catalogue)
    notes = (*notes, *rough_estimates(brief, catalogue, pool), *_off_the_grid(brief, kinds))
    zones = zones_of(brief, catalogue)
    offers = dict(offers_of(brief, catalogue, pool, venues, zones))
    notes = (*notes, *loads_of_no_place(brief, pool, venues, zones, offers))
    prescription = brief.prescription
    hit_sets = prescription.hit_sets
    indirect = prescription.indirect_share
    warm_up = prescription.warm_up_minutes
    build_up = prescription.build_up_minutes
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
        offers=offers,
        zones=zones,
        hit_quarters=quarter_sets(hit_sets if hit_sets is not None else catalogue.default_int("hit_sets")),
        indirect_quarters=(
            quarter_sets(indirect) if indirect is not None else catalogue.default_int("indirect_share_quarters")
        ),
        warm_up_ticks=(warm_up if warm_up is not None else catalogue.default_int("warm_up_minutes"))
        * 60
        // TICK_SECONDS,
        build_up_ticks=(build_up if build_up is not None else catalogue.default_int("build_up_minutes"))
        * 60
        // TICK_SECONDS,
        sets_per_exercise=prescription.sets_per_exercise or usual_sets(brief, catalogue),
        more_sets=more_sets(brief, catalogue),
        sessions=sessions,
        history=in_order_of_time(brief.history, clock, catalogue, done=True),
        done=in_order_of_time(brief.done, clock, catalogue, done=True),
        previous=in_order_of_time(brief.previous, clock, catalogue, done=False),
        pins=brief.pinned,
        settings=settings,
        notes=notes,
    )
    check_records(instance)
    return instance


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
    if minutes.least > LONGEST_SLOTS * SLOT_MINUTES:
        # The week model knows no longer sessions: there it would only be "impossible".
        raise InputError.single(
            f"kinds.{key}.minutes",
            f"no session can last {minutes.least} minutes",
            f"Write a least of {LONGEST_SLOTS * SLOT_MINUTES} or fewer",
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
        return CountRange(least=asked, most=could), (f"At most {counted(could, 'session')} a week may come; {named}",)
    return default, ()


def _off_the_grid(brief: Brief, kinds: Mapping[str, Kind]) -> Iterator[str]:
    """What is to be said of pinned starts between two slots."""
    for pin in brief.pinned:
        if pin.start is not None and (pin.start.minute % SLOT_MINUTES or pin.start.second):
            at = pin.start.replace(minute=pin.start.minute - pin.start.minute % SLOT_MINUTES, second=0)
            yield (
                f"{kinds[pin.kind].name} is pinned at {pin.start:%H:%M}: "
                f"sessions start every {SLOT_MINUTES} minutes, so at {at:%H:%M}."
            )
