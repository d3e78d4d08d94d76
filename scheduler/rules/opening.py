"""Sessions lie inside the openings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, LONGEST_SLOTS, SLOT_MINUTES, SLOTS_PER_HOUR, Day
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts, Spot
from scheduler.rules.base import TIME, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


_MOST_SLACK = 30 * SLOTS_PER_HOUR
"""More than any session of a day can lie outside an opening of that day, be the day 25 h long."""
_MIDNIGHT_TO_MIDNIGHT = 24 * SLOTS_PER_HOUR
_EARLIEST, _LATEST = 6 * SLOTS_PER_HOUR, 22 * SLOTS_PER_HOUR
"""Usual hours where there is no opening at all, by the clock."""


class OpeningRule(Rule[Setting]):
    """For every session s there is an opening o at its place: start(o) <= start(s) and end(s) <= end(o).

    One switch a day. Breach: by how much the nearest opening of that day and place would have to be longer at either
    end; where there is none, the length of the session, and by how much it lies outside the usual hours of the place.
    """

    key = "opening"
    title = "Openings"
    meaning = "A session lies inside an opening, at its place."
    formula = "for all s exists o: place(o) = place(s), start(o) <= start(s), end(s) <= end(o)"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for number, day in enumerate(DAYS):
            spots = [s for s in instance.spots if s.day == number]
            if spots:
                times = wording.listed(
                    f"{instance.clock.local(s.start):%H:%M} to {instance.clock.local(s.end):%H:%M} "
                    f"({instance.venues[s.place].name})"
                    for s in spots
                )
                sentence = f"On {day.full_name} sessions lie within {times}."
            else:
                sentence = f"{day.full_name} has no opening."
            breach = f"{day.full_name}'s opening is {{}} too short"
            yield self.switch(instance, day.value, sentence, breach, TIME, mend=_mend(day, len(spots)))

    def told(self, switches: Sequence[Switch], instance: Instance) -> Iterable[str]:
        """Closed days in one sentence: which days are left, or which are closed where others are too."""
        opened = {s.day for s in instance.spots}
        closed = [day for day in DAYS if day.number not in opened]
        named = [day for day in closed if any(s.id == self.id(day.value) for s in switches)]
        yield from (s.sentence for s in switches if s.id not in [self.id(day.value) for day in named])
        if len(named) > 1 and named == closed and opened:
            left = wording.days(DAYS[n] for n in opened)
            yield f"You can only train {left if ' to ' in left else f'on {left}'}."
        elif len(named) > 1:
            yield f"{wording.days(named)} have no opening."
        else:
            yield from (s.sentence for s in switches if s.id in [self.id(day.value) for day in named])

    def mend_rows(self, switch: str, instance: Instance) -> tuple[str, ...]:
        """To open a day that has no opening costs more than to stretch one."""
        closed = not any(self.id(DAYS[s.day].value) == switch for s in instance.spots)
        rows = super().mend_rows(switch, instance)
        return ("opening_day", *rows) if closed else rows

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        return worst(
            (self.id(DAYS[s.day].value), _too_short(facts.instance, s)) for s in facts.planned if 0 <= s.day < len(DAYS)
        )

    def notes(self, facts: WeekFacts) -> Iterable[str]:
        if self.mode(facts.instance) is Mode.OFF:
            yield "Openings are off: a session may lie on any day at any hour. As a wish they keep a meaning."

    def post(self, week: Week) -> None:
        day_starts = week.instance.clock.day_starts
        for session in week.open_sessions:
            for spot, chosen in session.spots.items():
                slack = week.slack(self.id(DAYS[spot.day].value), _MOST_SLACK)
                if spot.closed:
                    for outside in (0, spot.start - session.start, session.end - spot.end):
                        week.model.add(session.length + outside <= slack).only_enforce_if(chosen)
                    continue
                week.model.add(session.start + slack >= spot.start).only_enforce_if(chosen)
                week.model.add(session.end <= spot.end + slack).only_enforce_if(chosen)
                if not isinstance(slack, int):
                    # However far an opening is stretched, the session stays on its day.
                    week.model.add(session.start >= day_starts[spot.day]).only_enforce_if(chosen)
                    week.model.add(session.start < day_starts[spot.day + 1]).only_enforce_if(chosen)


def _mend(day: Day, openings: int) -> Mend:
    def words(amount: int, facts: WeekFacts | None) -> str:
        if not openings:
            return f"{day.full_name} opened for at least {wording.duration(amount)}"
        place = _opened(facts, day) if facts is not None else None
        if place is not None:
            return f"{place} opened on {day.full_name} for at least {wording.duration(amount)}"
        which = f"{day.full_name}'s opening" if openings == 1 else f"one of {day.full_name}'s openings"
        return f"{which} {wording.duration(amount)} longer"

    return words


def _opened(facts: WeekFacts, day: Day) -> str | None:
    """Name of the place of the session that is farthest from an opening of a day, where the place has none that day."""
    session = max(
        (s for s in facts.planned if s.day == day.number), key=partial(_too_short, facts.instance), default=None
    )
    if session is None or session.place is None or lacks(facts.instance, session):
        return None
    return facts.instance.venues[session.place].name


def usual_hours(instance: Instance, place: str | None, day: int) -> tuple[int, int]:
    """Where an opening would lie on a day that has none, in slots: from the earliest start to the latest end of the
    others at the place, else of all, by the clock; no less than the longest session takes."""
    others = [s for s in instance.spots if place in (None, s.place)] or instance.spots
    first = _at(instance, day, min((_by_the_clock(instance, s.day, s.start) for s in others), default=_EARLIEST))
    last = _at(instance, day, max((_by_the_clock(instance, s.day, s.end) for s in others), default=_LATEST))
    return first, max(last, first + LONGEST_SLOTS)


def _by_the_clock(instance: Instance, day: int, slot: int) -> int:
    """Slots that a clock shows since the midnight that began a day, however long that day is."""
    local = instance.clock.local(slot)
    days = instance.clock.day(slot) - day
    return days * _MIDNIGHT_TO_MIDNIGHT + (local.hour * 60 + local.minute) // SLOT_MINUTES


def _at(instance: Instance, day: int, shown: int) -> int:
    """The slot of a day at which a clock shows so many slots since midnight."""
    days, slots = divmod(shown, _MIDNIGHT_TO_MIDNIGHT)
    hours, rest = divmod(slots, SLOTS_PER_HOUR)
    return instance.clock.floor(instance.clock.at(day + days, dt.time(hours, rest * SLOT_MINUTES)))


def _too_short(instance: Instance, session: SessionFacts) -> int:
    """By how much the nearest opening is, or how long one would have to be where there is none."""
    found = lacks(instance, session)
    if found:
        return min(lack for _, lack in found)
    first, last = usual_hours(instance, session.place, session.day)
    return session.end - session.start + max(0, first - session.start, session.end - last)


def lacks(instance: Instance, session: SessionFacts) -> list[tuple[Spot, int]]:
    """The openings of a session's day and place, each with the slots by which it is too short for the session."""
    return [
        (spot, max(spot.start - session.start, session.end - spot.end, 0))
        for spot in instance.spots
        if spot.day == session.day and session.place in (None, spot.place)
    ]
