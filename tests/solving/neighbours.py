"""Small changes of a plan, in plain Python: none of them may beat a plan that is called proved best.

Some limits hold whatever a brief's rules say, as the planner never looks beyond them: a kind's own days, places and
patterns, sets of an exercise in their range, four hours; and equipment that is there, where that is a must. Neighbours
keep to these as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import ceil

from scheduler.domain.plan import Mode, Role, Zone
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, SessionFacts
from tests.solving.enumeration import SLOT_SECONDS, in_order, seconds

LONGEST_SLOTS = 48


def neighbours(facts: WeekFacts) -> Iterator[WeekFacts]:
    """Weeks that differ by one step: a session moved or dropped, an exercise dropped, added, exchanged, its sets or
    zone changed. Lengths and order follow from what a session then holds."""
    for n, session in enumerate(facts.sessions):
        if session.done:
            continue
        others = (*facts.sessions[:n], *facts.sessions[n + 1 :])
        yield _week(facts.instance, others)
        for changed in (*_moved(facts.instance, session), *_refilled(facts.instance, session)):
            if _is_in_reach(facts.instance, changed):
                yield _week(facts.instance, (*others, changed))


def _is_in_reach(instance: Instance, session: SessionFacts) -> bool:
    kind, asked = instance.kinds[session.kind], instance.sets_per_exercise
    if kind.days is not None and session.day not in kind.days:
        return False
    if kind.places is not None and session.place not in kind.places:
        return False
    if session.end - session.start > LONGEST_SLOTS:
        return False
    for item in session.items:
        if item.role is Role.ACTIVATION:
            continue
        if not _can_be_done(instance, session, item):
            return False
        if item.role is Role.MAIN:
            sets, patterns = asked, kind.patterns
        else:
            assert kind.add_on is not None
            sets, patterns = kind.add_on.sets, (kind.add_on.pattern,)
            if item.zone is Zone.HEAVY:
                return False
        if not sets.least <= item.sets <= sets.most or item.exercise.pattern not in patterns:
            return False
    return True


def _can_be_done(instance: Instance, session: SessionFacts, item: Item) -> bool:
    """Offered at the place; or all that stands against it is equipment, and that is no must."""
    assert session.place is not None
    assert item.zone is not None
    if (item.key, session.place, item.zone) in instance.offers:
        return True
    reps = item.exercise.reps
    fits = reps.least <= instance.zones[item.zone].reps <= reps.most
    must = instance.settings["equipment"].mode in (None, Mode.MUST)
    return fits and not must and not instance.served(item.key, session.place)


def _week(instance: Instance, sessions: tuple[SessionFacts, ...]) -> WeekFacts:
    return WeekFacts(instance, tuple(sorted(sessions, key=lambda s: (s.start, s.end, s.kind))))


def _moved(instance: Instance, session: SessionFacts) -> Iterator[SessionFacts]:
    length = session.end - session.start
    for spot in instance.spots:
        for start in (spot.start, spot.end - length, session.start - 1, session.start + 1):
            if start >= 0 and start + length <= instance.clock.slots:
                day = instance.clock.day(start)
                yield replace(session, start=start, end=start + length, day=day, place=spot.place)


def _refilled(instance: Instance, session: SessionFacts) -> Iterator[SessionFacts]:
    main = [i for i in session.items if i.role is not Role.ACTIVATION]
    light = tuple(i for i in session.items if i.role is Role.ACTIVATION)
    held = {i.key for i in main}
    contents: list[list[Item]] = []
    for n, item in enumerate(main):
        rest = [*main[:n], *main[n + 1 :]]
        contents.append(rest)
        contents += [[*rest, replace(item, sets=item.sets + step)] for step in (-1, 1) if item.sets + step > 0]
        zones = (z for z in Zone if z is not item.zone)
        contents += [[*rest, _loaded(instance, session, replace(item, zone=zone))] for zone in zones]
        for key, row in instance.pool.items():
            if row.pattern == item.exercise.pattern and key not in held:
                contents.append([*rest, _loaded(instance, session, replace(item, key=key, exercise=row))])
    least = max(1, instance.sets_per_exercise.least)
    patterns = instance.kinds[session.kind].patterns
    for key, row in instance.pool.items():
        if row.pattern in patterns and key not in held:
            for zone in Zone:
                contents.append([*main, _loaded(instance, session, Item(key, row, least, zone, Role.MAIN))])
    for items in contents:
        pairs = [i.pair for i in items if i.pair is not None]
        alone = {p for p in pairs if pairs.count(p) == 1}
        whole = [replace(i, pair=None) if i.pair in alone else i for i in items]
        ordered = in_order(instance, (*light, *whole))
        length = ceil(seconds(instance, ordered) / SLOT_SECONDS)
        if length and session.start + length <= instance.clock.slots:
            yield replace(session, end=session.start + length, items=ordered)


def _loaded(instance: Instance, session: SessionFacts, item: Item) -> Item:
    """With the load that the place offers for it."""
    assert session.place is not None
    assert item.zone is not None
    offer = instance.offers.get((item.key, session.place, item.zone))
    return replace(item, load_grams=offer.load_grams if offer else None)
