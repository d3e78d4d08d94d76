"""A session leaves time for sleep after a night of work."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, slots_from_hours
from scheduler.facts import WeekFacts
from scheduler.instance import Busy, Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst
from scheduler.rules.busy import named_events

if TYPE_CHECKING:
    from scheduler.week.model import Week

_LONGEST_SHIFT_HOURS = 16


class SleepRule(Rule[Setting]):
    """For every session s and busy time b that takes a night: start(s) < end(b) or start(s) >= end(b) + sleep.

    One switch a night. Breach: the sleep that the earliest such session leaves too little of.
    """

    key = "sleep"
    title = "Sleep after a night of work"
    meaning = "After a busy time that takes the night no session begins before there was time to sleep."
    formula = "for all s, nights b: start(s) >= end(b) => start(s) - end(b) >= sleep_hours"
    default_mode = Mode.WISH
    tier = 3
    evidence = ("sleep_hours",)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        hours = instance.catalogue.default_int("sleep_hours")
        for name, busy in _nights(instance):
            end = instance.clock.local(busy.end)
            yield self.switch(
                instance,
                name,
                f"After “{busy.title}”, which takes the night to {DAYS[end.weekday()].full_name} {end:%H:%M}, "
                f"{wording.duration(slots_from_hours(hours))} are left for sleep.",
                f"after “{busy.title}” {{}} of sleep are missing",
                TIME,
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        sleep = _sleep(facts.instance)
        return worst(
            (self.id(name), busy.end + sleep - s.start)
            for name, busy in _nights(facts.instance)
            for s in facts.planned
            if s.start >= busy.end
        )

    def post(self, week: Week) -> None:
        sleep = _sleep(week.instance)
        starts = week.instance.clock.day_starts
        for name, busy in _nights(week.instance):
            for session in week.open_sessions:
                # A session starts on the day of its opening, however far a wish stretches that opening.
                near = [
                    chosen
                    for spot, chosen in session.spots.items()
                    if starts[spot.day] < busy.end + sleep and starts[spot.day + 1] > busy.end
                ]
                if not near:
                    continue
                after = week.bool_var(f"{session.label} after the night of {name}")
                slack = week.slack(self.id(name), sleep)
                for chosen in near:
                    week.model.add(session.start + slack >= busy.end + sleep).only_enforce_if(chosen, after)
                    week.model.add(session.start < busy.end).only_enforce_if(chosen, ~after)


def _sleep(instance: Instance) -> int:
    return slots_from_hours(instance.catalogue.default_int("sleep_hours"))


def _nights(instance: Instance) -> Iterator[tuple[str, Busy]]:
    """Events that take the hours around three in the morning, as a shift does; a holiday of days is none."""
    for name, busy in named_events(instance):
        if "sleep" in busy.title.casefold() or busy.end - busy.start > slots_from_hours(_LONGEST_SHIFT_HOURS):
            continue
        three = instance.clock.local(busy.end).replace(hour=3, minute=0)
        small = (instance.clock.floor(three), instance.clock.floor(three - dt.timedelta(days=1)))
        if any(busy.start <= slot < busy.end for slot in small):
            yield name, busy
