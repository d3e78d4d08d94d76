"""Time zones of one calendar file: IANA names, zones that the file defines, and names of Windows.

Sources: RFC 5545 sections 3.2.19 (TZID) and 3.6.5 (VTIMEZONE).
"""

from __future__ import annotations

import datetime as dt
import functools
import io
import re
import zoneinfo
from collections.abc import Mapping, Sequence

from dateutil.tz import tzical
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from scheduler.calendars.lines import plain
from scheduler.domain.errors import InputError, nearest

MOST_CUSTOM_ZONES = 50
_EARLIEST_YEAR, _LATEST_YEAR = 2, 9998
_SLOW_RULE = re.compile(r"FREQ=(?!YEARLY|MONTHLY)|BY(HOUR|MINUTE|SECOND)=", re.IGNORECASE)


@functools.cache
def _iana_names() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


class Zones:
    """Finds the zone of a TZID; times without one are on the clock of ``home``."""

    def __init__(self, defined: Mapping[str, Sequence[str]], home: dt.tzinfo, source: str) -> None:
        self.home = home
        self._defined = defined
        self._source = source
        self._found: dict[str, dt.tzinfo] = {}
        self._custom = 0

    def aware(self, moment: dt.datetime, tzid: str | None) -> dt.datetime:
        """The moment with its zone: UTC stays, a TZID is looked up, a floating time is home time.

        Raises:
            InputError: nobody knows the TZID.
        """
        # One year of room at both ends of Python's calendar, so that no change of zone can overflow.
        moment = moment.replace(year=min(max(moment.year, _EARLIEST_YEAR), _LATEST_YEAR))
        if moment.tzinfo is not None:
            return moment
        return moment.replace(tzinfo=self._zone(tzid) if tzid else self.home)

    def home_time(self, moment: dt.datetime) -> dt.datetime:
        """The instant on the home clock. By way of UTC, so that an hour skipped in spring becomes a real one."""
        return moment.astimezone(dt.UTC).astimezone(self.home)

    def midnight(self, day: dt.date) -> dt.datetime:
        """When the day begins on the home clock."""
        return self.home_time(self.aware(dt.datetime.combine(day, dt.time()), None))

    def _zone(self, tzid: str) -> dt.tzinfo:
        if tzid not in self._found:
            self._found[tzid] = self._find(tzid)
        return self._found[tzid]

    def _find(self, tzid: str) -> dt.tzinfo:
        if tzid in _iana_names():
            return zoneinfo.ZoneInfo(tzid)
        if tzid in self._defined:
            return self._from_definition(tzid)
        # A globally unique TZID ends in the plain name: /example.org/2026a/Europe/Berlin.
        parts = tzid.strip("/").split("/")
        for name in (WINDOWS_TO_OLSON.get(tzid, ""), *("/".join(parts[cut:]) for cut in range(min(len(parts), 8)))):
            if name in _iana_names():
                return zoneinfo.ZoneInfo(name)
        raise InputError.single(
            self._source,
            f"the time zone {tzid[:60]!r} is neither an IANA zone nor defined in the file (no VTIMEZONE)",
            f"{nearest(tzid[:60], _iana_names())} Correct the TZID, or export with time zones".strip(),
        )

    def _from_definition(self, tzid: str) -> dt.tzinfo:
        self._custom += 1
        lines = self._defined[tzid]
        slow = next((line for line in lines if line.startswith("RRULE:") and _SLOW_RULE.search(line)), None)
        if self._custom > MOST_CUSTOM_ZONES or slow:
            why = f"repeats as {slow[:60]!r}" if slow else f"is one of more than {MOST_CUSTOM_ZONES} in the file"
            raise InputError.single(
                self._source,
                f"the time zone {tzid[:60]!r} {why}",
                "Clocks change once or twice a year; export with IANA time zones such as Europe/Berlin",
            )
        try:
            zone: dt.tzinfo | None = tzical(io.StringIO("\n".join(lines))).get()
            dt.datetime(2026, 1, 1, tzinfo=zone).utcoffset()
        except Exception as error:  # the parser raises whatever a damaged definition makes it trip over
            raise InputError.single(
                self._source,
                f"the definition of the time zone {tzid[:60]!r} cannot be read ({plain(error, 80)})",
                "Give STANDARD and DAYLIGHT with DTSTART, TZOFFSETFROM and TZOFFSETTO, or use an IANA zone",
            ) from error
        if zone is None:
            raise AssertionError("a definition that parses holds one zone")
        return zone
