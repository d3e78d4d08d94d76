"""The sessions that a week may have: where each may lie, and the exercises that it may hold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from scheduler.domain.brief import Preference
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import DAYS, LONGEST_SLOTS, TICKS_PER_SLOT
from scheduler.instance import Kind, SessionFacts, Spot
from scheduler.rules.opening import usual_hours
from scheduler.rules.sessions_a_day import SessionsADayRule
from scheduler.week.classes import StimulusClass
from scheduler.week.expressions import Linear, Literal, Variable
from scheduler.week.variables import OptionVars, SessionVars

if TYPE_CHECKING:
    from scheduler.week.model import Week

_ZONES = {Role.MAIN: tuple(Zone), Role.ADD_ON: (Zone.MODERATE, Zone.LIGHT)}


class _Room(NamedTuple):
    """How much of a class a session may hold: sets of one exercise, exercises, and sets of all of them."""

    least: int
    most: int
    times: int
    most_sets: int


def closed_spots(week: Week) -> Iterable[Spot]:
    """Stretches of days without an opening at a place, where the opening rule may give way."""
    for number, day in enumerate(DAYS):
        if not week.may_be_broken(f"opening:{day.value}"):
            continue
        for place in week.instance.venues:
            if not any(s.day == number and s.place == place for s in week.instance.spots):
                first, last = usual_hours(week.instance, place, number)
                yield Spot(number, first, last, place, Preference.RELUCTANT, closed=True)


def held_session(week: Week, facts: SessionFacts, label: str) -> SessionVars:
    """A session that is past: every variable is a constant."""
    const = week.model.new_constant
    return SessionVars(
        label=label,
        kind=facts.kind,
        facts=facts,
        pin=None,
        active=week.one,
        start=const(facts.start),
        end=const(facts.end),
        length=const(facts.end - facts.start),
        ticks=const((facts.end - facts.start) * TICKS_PER_SLOT),
        day=tuple(week.one if facts.day == d else week.zero for d in range(len(DAYS))),
        at={p: week.one if facts.place == p else week.zero for p in week.instance.venues},
    )


def sessions_of(week: Week, kind: Kind) -> list[SessionVars]:
    """The sessions a kind may have besides those that are done: pinned ones, then free ones in order of time."""
    done = sum(s.kind == kind.key for s in week.instance.done)
    pins = [n for n, pin in enumerate(week.instance.pins) if pin.kind == kind.key]
    pinned = [_session(week, kind, f"{kind.key} pin {n}", n) for n in pins]
    number = kind.per_week.most + _beyond(week, kind, done) - done - len(pins)
    free = [_session(week, kind, f"{kind.key} {n}", None) for n in range(number)]
    # Free sessions of one kind are alike: the earlier ones are used first, and lie earlier.
    for one, other in pairwise(free):
        week.model.add_implication(other.active, one.active)
        week.put_before(one, other)
    return [*pinned, *free]


def _beyond(week: Week, kind: Kind, done: int) -> int:
    """Sessions of a kind beyond its most, where the count may give way: then more sessions can be an answer.

    A concession is taken at its word, and a wish may be broken by any number, as far as the week has room. Questions
    look at one more at least, or at as many as the kinds together lack: each further one makes the model larger.
    """
    most = kind.per_week.most
    room = max(0, done + _room_of_days(week) - most)
    in_all = max(0, week.instance.sessions.most - most) + _may_exceed(week, "session_count:all", room)
    found = min(room, in_all, _may_exceed(week, f"session_count:kind:{kind.key}", room))
    if not week.posing:
        return found
    lacking = week.instance.sessions.least - sum(k.per_week.most for k in week.instance.kinds.values())
    return max(1, lacking, found)


def _room_of_days(week: Week) -> int:
    """How many sessions the days have room for: so many a day, and one more an opening where that may give way."""
    openings = Counter(spot.day for spot in week.spots)
    a_day = SessionsADayRule().most(week.instance)
    return sum(a_day + min(_may_exceed(week, "sessions_a_day:most", number), number) for number in openings.values())


def _may_exceed(week: Week, switch: str, any_number: int) -> int:
    """By how much a number may be exceeded: what its must concedes, or any number."""
    row = week.switches.get(switch)
    return row.concession if row is not None and row.mode is Mode.MUST else any_number


def _session(week: Week, kind: Kind, label: str, pin: int | None) -> SessionVars:
    model = week.model
    active = model.new_bool_var(f"{label} active")
    horizon = week.instance.clock.slots
    start = model.new_int_var(0, horizon, f"{label} start")
    length = model.new_int_var(0, LONGEST_SLOTS, f"{label} length")
    ticks = model.new_int_var(0, LONGEST_SLOTS * TICKS_PER_SLOT, f"{label} ticks")
    end = model.new_int_var(0, horizon, f"{label} end")
    model.add(start + length == end)
    spots = {
        spot: model.new_bool_var(f"{label} in {spot.place} {DAYS[spot.day]} {spot.start}")
        for spot in week.spots
        if kind.allows(spot.day, spot.place) or week.may_be_broken(f"kind_days:{kind.key}")
    }
    model.add(sum(spots.values()) == active)
    model.add(start == 0).only_enforce_if(~active)
    model.add(length == 0).only_enforce_if(~active)
    model.add(length >= 1).only_enforce_if(active)
    day = tuple(_any(week, [v for s, v in spots.items() if s.day == d], f"{label} on {DAYS[d]}") for d in range(7))
    at = {p: _any(week, [v for s, v in spots.items() if s.place == p], f"{label} at {p}") for p in week.instance.venues}
    # A session starts on the day of its opening, however far a wish stretches that opening.
    for number, literal in enumerate(day):
        if literal is not week.zero:
            model.add(start >= week.instance.clock.day_starts[number]).only_enforce_if(literal)
            model.add(start < week.instance.clock.day_starts[number + 1]).only_enforce_if(literal)
    session = SessionVars(label, kind.key, None, pin, active, start, end, length, ticks, day, at, spots)
    for stimulus in week.classes:
        session.options += _options(week, session, kind, stimulus)
    return session


def _any(week: Week, among: Sequence[Literal], name: str) -> Literal:
    """A literal that equals a sum of exclusive literals."""
    if not among:
        return week.zero
    if len(among) == 1:
        return among[0]
    literal = week.model.new_bool_var(name)
    week.model.add(sum(among) == literal)
    return literal


def _options(week: Week, session: SessionVars, kind: Kind, stimulus: StimulusClass) -> list[OptionVars]:
    """The ways in which a session of a kind may hold exercises of a class: as main work, as a quick add-on."""
    if not week.posing and any(week.forbids(s) for s in stimulus.exclusions[kind.key]):
        return []
    found: list[OptionVars] = []
    if stimulus.row.pattern in kind.patterns:
        found += _in_zones(week, session, stimulus, Role.MAIN, _main_room(week, kind, stimulus))
    if kind.add_on is not None and kind.add_on.sets.most and stimulus.row.pattern == kind.add_on.pattern:
        least, most = max(1, kind.add_on.sets.least), kind.add_on.sets.most
        times = 1 if not week.posing and week.forbids(f"add_on:{kind.key}") else stimulus.size
        found += _in_zones(week, session, stimulus, Role.ADD_ON, _Room(least, most, times, times * most))
    # An exercise comes once a session.
    if len(found) > 1 and stimulus.size == 1:
        week.model.add_at_most_one(o.use for o in found)
    elif len(found) > 1:
        week.model.add(sum(o.uses for o in found) <= stimulus.size)
    return found


def _main_room(week: Week, kind: Kind, stimulus: StimulusClass) -> _Room:
    sets = week.instance.sets_of(stimulus.key)
    least, most, times = max(1, sets.least), sets.most, stimulus.size
    if times == 1 or week.posing or not week.forbids(f"session_size:sets_most:{kind.key}"):
        return _Room(least, most, times, times * most)
    # No more than a session of the kind has room for.
    times = max(1, min(times, kind.sets.most // least))
    return _Room(least, most, times, max(most, min(times * most, kind.sets.most)))


def _in_zones(
    week: Week, session: SessionVars, stimulus: StimulusClass, role: Role, room: _Room
) -> Iterable[OptionVars]:
    """One option for each group of zones that nothing tells apart."""
    model = week.model
    places = {spot.place for spot in session.spots}
    offered = [zone for zone in _ZONES[role] if not places.isdisjoint(stimulus.places(zone))]
    for alike in _alike_zones(week, stimulus, offered):
        zone = Zone.MODERATE if Zone.MODERATE in alike else alike[0]
        name = f"{session.label} {stimulus.key} {zone}"
        use = model.new_bool_var(f"{name} used")
        uses = use if room.times == 1 else model.new_int_var(0, room.times, f"{name} uses")
        held = _sets(week, name, uses, room)
        if room.times > 1:
            model.add(uses >= use)
            model.add(uses <= room.times * use)
        model.add_implication(use, session.active)
        for switch in stimulus.exclusions[session.kind]:
            week.shut_out.setdefault(switch, []).append(uses)
        yield OptionVars(stimulus, zone, alike, role, use, uses, held, room.times, room.least, room.most)


def _alike_zones(week: Week, stimulus: StimulusClass, zones: Sequence[Zone]) -> Iterable[tuple[Zone, ...]]:
    """Zones in groups that nothing tells apart: no rule, no minutes, no place. One option stands for a group.

    That loses nothing, and spares the solver weeks that differ in name only.
    """
    groups: dict[tuple[int, tuple[str, ...], tuple[str, ...], Zone | None], list[Zone]] = {}
    for zone in zones:
        ticks = 0 if week.outline else week.instance.set_ticks(stimulus.row, zone)
        told = zone if zone in stimulus.told else None
        # A place that offers a zone is not one that lacks the equipment for it.
        groups.setdefault((ticks, stimulus.offers[zone], stimulus.short[zone], told), []).append(zone)
    return map(tuple, groups.values())


def _sets(week: Week, name: str, uses: Variable, room: _Room) -> Linear:
    """The sets of so many exercises.

    What is above the least has a range without the hole that "none or two to four" has: the relaxation then needs
    0.8 of the time. Questions are asked without a relaxation, and there one variable is far quicker.
    """
    if week.posing:
        return _sets_as_one(week, name, uses, room)
    above = week.model.new_int_var(0, room.most_sets - room.least, f"{name} sets above the least")
    week.model.add(above <= (room.most - room.least) * uses)
    return room.least * uses + above


def _sets_as_one(week: Week, name: str, uses: Variable, room: _Room) -> Variable:
    sets = week.model.new_int_var(0, room.most_sets, f"{name} sets")
    week.model.add(sets >= room.least * uses)
    week.model.add(sets <= room.most * uses)
    return sets
