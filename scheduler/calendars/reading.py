"""Busy times from an iCalendar file (RFC 5545)."""

from __future__ import annotations

import datetime as dt
import time
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from icalendar import Calendar
from recurring_ical_events import CalendarQuery

from scheduler.calendars.events import (
    EXTENT,
    LONGEST_REPEATED,
    Event,
    Moment,
    fault_in,
    moved_by,
    prepare,
    repeats,
    text_of,
    title_of,
    wall_span,
)
from scheduler.calendars.lines import plain, sieve
from scheduler.calendars.recurrence import days_to_skip, falls_in
from scheduler.calendars.zones import Zones
from scheduler.domain.brief import BusyTime, WeekFrame
from scheduler.domain.errors import InputError

MARGIN = dt.timedelta(days=1)
"""Kept on both sides of the week: travel reaches over its border."""
MOST_SECONDS = 10.0
"""Expanding stops here. Real calendars take well under a second; only a file made to be slow comes near."""
_SLACK = dt.timedelta(days=2)
"""Clocks differ by up to 26 hours; days compared without zones allow for it."""


def read_busy(data: bytes, week: WeekFrame, *, source: str) -> tuple[BusyTime, ...]:
    """Busy times that overlap the week or the day on either side of it, on the week's clock, in order of time.

    Args:
        data: the bytes of an .ics file.
        week: Monday and zone. Floating times and all-day events are on this zone's clock.
        source: the name of the file, for error messages.

    Transparent and cancelled events and events of no length are not busy. Private events are titled 'busy'.
    Events that cannot touch the week are not judged: a damaged one from years ago does no harm.

    Raises:
        InputError: the file, an event or a zone cannot be used; says which and what to try.
    """
    sieved = sieve(data, source)
    try:
        calendar = Calendar.from_ical(sieved.text)
        reader = _Reader(week, Zones(sieved.zones, week.tz, source), source)
        found = [*reader.events(calendar), *reader.free_busy(calendar)]
    except InputError:
        raise
    except Exception as error:  # the parser meets hostile bytes here and raises whatever they make it trip over
        raise InputError.single(
            source, f"the file cannot be read as iCalendar ({plain(error, 120)})", "Export the calendar again"
        ) from error
    return tuple(sorted(found, key=_order))


def _order(busy: BusyTime) -> tuple[dt.datetime, dt.datetime, str]:
    # In UTC: times of one zone compare by clock, which errs in the hour that comes twice in autumn.
    return busy.start.astimezone(dt.UTC), busy.end.astimezone(dt.UTC), busy.title


class _Reader:
    def __init__(self, week: WeekFrame, zones: Zones, source: str) -> None:
        self._zones = zones
        self._source = source
        self._first = zones.midnight(week.start) - MARGIN
        self._last = zones.midnight(week.start + dt.timedelta(days=7)) + MARGIN
        self._deadline = time.monotonic() + MOST_SECONDS

    def events(self, calendar: Calendar) -> Iterator[BusyTime]:
        groups: dict[str, list[Event]] = defaultdict(list)
        for number, event in enumerate(calendar.walk("VEVENT")):
            groups[str(event.get("UID", "")).strip() or f"#{number}"].append(event)
        for group in groups.values():
            if len(group) > 1 or repeats(group[0]):
                yield from self._expanded(group)
            elif not self._is_far(group[0]) and not _is_free(group[0]):
                yield from self._single(group[0])

    def free_busy(self, calendar: Calendar) -> Iterator[BusyTime]:
        for component in calendar.walk("VFREEBUSY"):
            values: Any = component.get("FREEBUSY", [])
            for period in values if isinstance(values, list) else [values]:
                if str(period.params.get("FBTYPE", "BUSY")).upper() == "FREE":
                    continue
                start = self._zones.aware(period.start, None)
                end = self._zones.aware(period.end, None)
                if start > end:
                    raise InputError.single(
                        self._source, f"a FREEBUSY period from {start} ends before it starts", "Swap"
                    )
                yield from self._busy("busy", start, end)

    def _is_far(self, event: Event) -> bool:
        span = wall_span(event)
        if span is None:
            return False
        first, last = self._first.replace(tzinfo=None) - _SLACK, self._last.replace(tzinfo=None) + _SLACK
        return max(span) < first or min(span) > last

    def _single(self, event: Event) -> Iterator[BusyTime]:
        prepare(event, self._zones, self._source)
        start = event["DTSTART"].dt
        yield from self._busy(title_of(event), start, event[EXTENT].end_of(start))

    def _expanded(self, group: list[Event]) -> Iterator[BusyTime]:
        if time.monotonic() > self._deadline:
            raise InputError.single(
                self._source,
                f"the recurrences of the file take longer than {MOST_SECONDS:g} s to work out",
                "Export only the weeks around the one to plan",
            )
        for event in group:
            prepare(event, self._zones, self._source)
        _match_days(group)
        self._tame(group)
        lone = Calendar()
        for event in group:
            event["UID"] = "series"  # one group is one series, whether or not the file gave it a UID
            lone.add_component(event)
        try:
            occurrences = CalendarQuery(lone, components=["VEVENT"]).between(self._first - MARGIN, self._last + MARGIN)
        except Exception as error:  # as above: a rule that passed every check may still trip the library
            raise fault_in(
                group[0], self._source, f"it cannot be worked out ({plain(error, 100)})", "Correct its dates and rules"
            ) from error
        for occurrence in occurrences:
            if not _is_free(occurrence):
                yield from self._busy(title_of(occurrence), *_span_of(occurrence))

    def _tame(self, group: list[Event]) -> None:
        """Drop rules that cannot fall near the week and move old starts up to it: same answer, less work."""
        reach = max(max(event[EXTENT].wall, dt.timedelta()) + moved_by(event) for event in group)
        if reach > 2 * LONGEST_REPEATED:
            return
        first = (self._first - MARGIN - _SLACK - reach).date()
        last = (self._last + MARGIN + _SLACK + reach).date()
        for event in group:
            rules = event.get("RRULE", [])
            start = _day(event["DTSTART"].dt)
            rules = rules if isinstance(rules, list) else [rules]
            rules = [rule for rule in rules if falls_in(rule, start, first, last)]
            event.pop("RRULE", None)
            if len(rules) == 1:
                event["RRULE"] = rules[0]
                skip = dt.timedelta(days=days_to_skip(rules[0], start, first))
                event["DTSTART"].dt += skip
                event["DTEND"].dt = event["DTSTART"].dt + event[EXTENT].wall
            elif rules:
                event["RRULE"] = rules

    def _busy(self, title: str, start: Moment, end: Moment) -> Iterator[BusyTime]:
        begin, finish = self._on_clock(start), self._on_clock(end)
        first, last = (moment.astimezone(dt.UTC) for moment in (begin, finish))
        if first < last and first < self._last.astimezone(dt.UTC) and last > self._first.astimezone(dt.UTC):
            yield BusyTime(title=title, start=begin, end=finish)

    def _on_clock(self, moment: Moment) -> dt.datetime:
        if isinstance(moment, dt.datetime):
            return self._zones.home_time(moment)
        return self._zones.midnight(moment)


def _match_days(group: list[Event]) -> None:
    """An override that names its occurrence by the day alone means the one of a series with times on that day."""
    start = next((event["DTSTART"].dt for event in group if "RECURRENCE-ID" not in event), None)
    for event in group:
        origin = event["RECURRENCE-ID"].dt if "RECURRENCE-ID" in event else None
        if isinstance(start, dt.datetime) and origin is not None and not isinstance(origin, dt.datetime):
            event["RECURRENCE-ID"].dt = dt.datetime.combine(origin, start.timetz())


def _is_free(event: Event) -> bool:
    return text_of(event, "STATUS") == "CANCELLED" or text_of(event, "TRANSP") == "TRANSPARENT"


def _span_of(occurrence: Any) -> tuple[Moment, Moment]:
    """Start and end. The library adds lengths on the clock; the extent knows what is exact over a change of clocks."""
    start, end = occurrence["DTSTART"].dt, occurrence["DTEND"].dt
    extent = occurrence[EXTENT]
    if end - start != extent.wall:  # an RDATE with a length of its own
        return start, end
    return start, extent.end_of(start)


def _day(moment: Moment) -> dt.date:
    return moment.date() if isinstance(moment, dt.datetime) else moment
