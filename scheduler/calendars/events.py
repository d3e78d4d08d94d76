"""One VEVENT made ready for expansion: times with zones, an explicit end, rules checked.

Source of meaning: RFC 5545 sections 3.6.1 (VEVENT), 3.8.2 (times), 3.8.5 (recurrence).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from icalendar import vDDDTypes

from scheduler.calendars.lines import ZONE_PARAMETER, plain
from scheduler.calendars.recurrence import fault_of
from scheduler.calendars.zones import Zones
from scheduler.domain.errors import InputError

Moment = dt.date | dt.datetime
Event = Any
"""An icalendar Event. Its properties are typed as any of thirty classes; what they are is checked here instead."""

EXTENT = "X-EXTENT"
"""Under this key an event carries its :class:`Extent` through the expansion."""
LONGEST_REPEATED = dt.timedelta(days=366)
MOST_RULES = 5
MOST_TITLE = 80
_ONCE = ("UID", "DTSTART", "DTEND", "DURATION", "RECURRENCE-ID", "SEQUENCE")
_MOVED_SERIES = "THISANDFUTURE"


@dataclass(frozen=True)
class Extent:
    """How long an event lasts: nominal days, then exact time. Only days follow the clock over a change of summer time.

    RFC 5545 section 3.8.5.3: an end repeats as an exact duration, a DURATION as a nominal one.
    """

    days: int
    exact: dt.timedelta
    wall: dt.timedelta
    """End minus start as the clock shows them."""

    def end_of(self, start: Moment) -> Moment:
        if not isinstance(start, dt.datetime):
            return start + dt.timedelta(days=self.days)
        nominal = start + dt.timedelta(days=self.days)
        return (nominal.astimezone(dt.UTC) + self.exact).astimezone(start.tzinfo)


def title_of(event: Event) -> str:
    """SUMMARY in one line of at most 80 characters; 'busy' if there is none or the event is private."""
    if text_of(event, "CLASS") in {"PRIVATE", "CONFIDENTIAL"}:
        return "busy"
    return plain(_values(event, "SUMMARY", "")[0], MOST_TITLE) or "busy"


def text_of(event: Event, name: str) -> str:
    """A keyword such as STATUS, in capitals; empty if it is not there."""
    return str(_values(event, name, "")[0]).strip().upper()


def repeats(event: Event) -> bool:
    return "RRULE" in event or "RDATE" in event


def wall_span(event: Event) -> tuple[dt.datetime, dt.datetime] | None:
    """Start and end without zones: enough to see that an event is weeks away. None if they cannot be read."""
    start, end, duration = (_read(event.get(name)) for name in ("DTSTART", "DTEND", "DURATION"))
    if not isinstance(start, dt.date):
        return None
    first = _wall(start)
    try:
        if isinstance(end, dt.date):
            return first, _wall(end)
        return first, first + (duration if isinstance(duration, dt.timedelta) else dt.timedelta(days=1))
    except OverflowError:
        return None


def prepare(event: Event, zones: Zones, source: str) -> None:
    """Give every time of the event its zone, its end, its :class:`Extent`; check its rules.

    Raises:
        InputError: a property cannot be read, comes twice, or contradicts another; the problem names the event.
    """
    _Preparation(event, zones, source).run()


class _Preparation:
    def __init__(self, event: Event, zones: Zones, source: str) -> None:
        self._event = event
        self._zones = zones
        self._source = source

    def run(self) -> None:
        event = self._event
        if event.errors:
            name, why = event.errors[0]
            raise self.fault(
                f"{name or 'a line'} cannot be read ({plain(why, 100)})", "Correct it, or delete the event"
            )
        if twice := next((name for name in _ONCE if isinstance(event.get(name), list)), None):
            raise self.fault(f"it says {twice} twice", "Leave one")
        if "DTSTART" not in event:
            raise self.fault("it has no DTSTART", "Give it a start, or delete the event")
        start = self._localised(event["DTSTART"])
        event["DTSTART"].dt = start
        event[EXTENT] = extent = self._extent(start)
        event.pop("DURATION", None)
        # As the clock shows it, for so the library repeats it; what it is over a change of clocks the extent says.
        event["DTEND"] = vDDDTypes(start + extent.wall)
        if "RECURRENCE-ID" in event:
            event["RECURRENCE-ID"].dt = self._localised(event["RECURRENCE-ID"])
        for name in ("RDATE", "EXDATE"):
            self._localise_list(name, start)
        rules = _values(event, "RRULE")
        if len(rules) > MOST_RULES:
            raise self.fault(f"it has {len(rules)} RRULEs, more than {MOST_RULES}", "Keep one; RFC 5545 advises it")
        for rule in rules:
            self._check_rule(rule, start)
        if repeats(event) and extent.wall > LONGEST_REPEATED:
            raise self.fault("it repeats and lasts longer than a year", "Correct its end, or delete the event")

    def _localised(self, prop: Any) -> Moment:
        if not isinstance(prop.dt, dt.date):
            raise self.fault(f"{prop.dt} stands where a day or a time is due", "Correct it, or delete the event")
        return self._aware(prop.dt, prop.params)

    def _aware(self, moment: Moment, params: Any) -> Moment:
        if not isinstance(moment, dt.datetime):
            return moment.replace(year=min(max(moment.year, 2), 9998))
        tzid = params.get(ZONE_PARAMETER)
        return self._zones.aware(moment, str(tzid) if tzid else None)

    def _extent(self, start: Moment) -> Extent:
        event = self._event
        timed = isinstance(start, dt.datetime)
        if "DTEND" in event:
            extent = self._extent_to(start, self._localised(event["DTEND"]))
        elif "DURATION" in event:
            length = event["DURATION"].dt
            if not isinstance(length, dt.timedelta):
                raise self.fault("its DURATION is no duration", "Write one like PT1H30M")
            exact = dt.timedelta(seconds=length.seconds)
            # A day has no clock to take hours from: hours begun on a day take up the day.
            extent = Extent(length.days, exact, length) if timed else _days(-(-length // dt.timedelta(days=1)))
        else:
            extent = Extent(0, dt.timedelta(), dt.timedelta()) if timed else _days(1)
        if extent.wall < dt.timedelta() or extent.exact < dt.timedelta():
            raise self.fault("it ends before it starts", "Swap DTSTART and DTEND, or delete the event")
        if not timed and extent.days == 0:
            return _days(1)  # some programs write the same day twice and mean all of it
        return extent

    def _extent_to(self, start: Moment, end: Moment) -> Extent:
        if isinstance(start, dt.datetime) and isinstance(end, dt.datetime):
            exact = end.astimezone(dt.UTC) - start.astimezone(dt.UTC)
            wall = end.astimezone(start.tzinfo).replace(tzinfo=None) - start.replace(tzinfo=None)
            return Extent(0, exact, max(wall, dt.timedelta()) if exact > dt.timedelta() else exact)
        if isinstance(start, dt.datetime) or isinstance(end, dt.datetime):
            raise self.fault("one of DTSTART and DTEND is a day and the other a time", "Make both days or both times")
        return _days((end - start).days)

    def _localise_list(self, name: str, start: Moment) -> None:
        for group in _values(self._event, name):
            for item in group.dts:
                value = item.dt
                if isinstance(value, tuple):
                    item.dt = self._period(value, group.params, start)
                elif isinstance(value, dt.date):
                    item.dt = _like(start, self._aware(value, group.params))
                else:
                    raise self.fault(f"{name} holds a time without a day", "Write days or times like 20260323T180000")

    def _period(self, period: tuple[Any, Any], params: Any, start: Moment) -> Any:
        begin = self._aware(period[0], params)
        if not isinstance(start, dt.datetime):
            return _like(start, begin)
        if isinstance(period[1], dt.timedelta):
            return (begin, period[1])
        end = self._aware(period[1], params)
        if not isinstance(begin, dt.datetime) or not isinstance(end, dt.datetime):
            raise self.fault("RDATE holds a period of days", "Write its times like 20260323T180000/PT1H")
        return (begin, end.astimezone(dt.UTC) - begin.astimezone(dt.UTC))

    def _check_rule(self, rule: Any, start: Moment) -> None:
        if why := fault_of(rule):
            raise self.fault(
                f"its RRULE {why}", "Write a rule of RFC 5545 such as FREQ=WEEKLY;BYDAY=MO,WE, or delete the event"
            )
        for until in _values(rule, "UNTIL"):
            if isinstance(start, dt.datetime):
                rule["UNTIL"] = [self._last_instant(until, start)]
            elif isinstance(until, dt.datetime):
                rule["UNTIL"] = [until.date()]

    def _last_instant(self, until: Moment, start: dt.datetime) -> dt.datetime:
        # RFC 5545 wants UTC here. Programs also write a bare day, by which they mean all of it, or the event's clock.
        if not isinstance(until, dt.datetime):
            until = dt.datetime.combine(until, dt.time(23, 59, 59))
        until = until.replace(year=min(max(until.year, 2), 9998))
        return (until if until.tzinfo else until.replace(tzinfo=start.tzinfo)).astimezone(dt.UTC)

    def fault(self, problem: str, advice: str) -> InputError:
        return fault_in(self._event, self._source, problem, advice)


def fault_in(event: Event, source: str, problem: str, advice: str) -> InputError:
    """The refusal that names the event by title and start."""
    start = _read(event.get("DTSTART"))
    when = f" of {start:%Y-%m-%d}" if isinstance(start, dt.date) else ""
    return InputError.single(source, f"event {title_of(event)!r}{when}: {problem}", advice)


def moved_by(event: Event) -> dt.timedelta:
    """How far an override moves its series from here on (RANGE=THISANDFUTURE); else zero."""
    origin = event.get("RECURRENCE-ID")
    if origin is None or str(origin.params.get("RANGE", "")).upper() != _MOVED_SERIES:
        return dt.timedelta()
    return abs(_wall(event["DTSTART"].dt) - _wall(origin.dt))


def _days(days: int) -> Extent:
    return Extent(days, dt.timedelta(), dt.timedelta(days=days))


def _read(prop: Any) -> Any:
    """The value of a time or duration; None if it is missing, comes twice or could not be read."""
    return prop.dt if isinstance(prop, vDDDTypes) else None


def _like(start: Moment, value: Moment) -> Moment:
    """A day for an event of days: the expansion compares like with like."""
    return value.date() if isinstance(value, dt.datetime) and not isinstance(start, dt.datetime) else value


def _values(event: Any, name: str, *default: Any) -> list[Any]:
    """All values of a property that may come several times."""
    value = event.get(name)
    if value is None:
        return list(default)
    return value if isinstance(value, list) else [value]


def _wall(moment: Moment) -> dt.datetime:
    if isinstance(moment, dt.datetime):
        return moment.replace(tzinfo=None)
    return dt.datetime.combine(moment, dt.time())
