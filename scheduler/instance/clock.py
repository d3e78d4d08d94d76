"""The week's clock: instants as slots of elapsed time since its Monday 00:00, and back.

Across a change to summer time a day has 23 hours and the week 167: slots count elapsed time, never wall-clock time.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

from scheduler.domain.brief import WeekFrame
from scheduler.domain.units import DAYS, SLOT_MINUTES

_UTC = dt.UTC
_SLOT_SECONDS = SLOT_MINUTES * 60


@dataclass(frozen=True)
class Clock:
    """Turns instants into slots and slots into local times, for one week in one zone."""

    week: WeekFrame

    @cached_property
    def tz(self) -> ZoneInfo:
        return self.week.tz

    @cached_property
    def origin(self) -> dt.datetime:
        """Monday 00:00 as an instant in UTC."""
        return self._midnight(0)

    @cached_property
    def day_starts(self) -> tuple[int, ...]:
        """Slots at which the days begin; the eighth is the end of the week."""
        return tuple(self.floor(self._midnight(d)) for d in range(len(DAYS) + 1))

    @property
    def slots(self) -> int:
        """Slots in the week: 2016, but for the weeks in which the clocks change."""
        return self.day_starts[-1]

    def _midnight(self, day: int) -> dt.datetime:
        local = dt.datetime.combine(self.week.start + dt.timedelta(days=day), dt.time(0), self.tz)
        return local.astimezone(_UTC)

    def instant(self, moment: dt.datetime) -> dt.datetime:
        """The instant of a moment; one without an offset is read on the week's clock."""
        return (moment if moment.tzinfo else moment.replace(tzinfo=self.tz)).astimezone(_UTC)

    def floor(self, moment: dt.datetime) -> int:
        """Slot that a moment falls into (rounded down)."""
        seconds = (self.instant(moment) - self.origin).total_seconds()
        return int(seconds // _SLOT_SECONDS)

    def ceil(self, moment: dt.datetime) -> int:
        """First slot that begins at or after a moment (rounded up)."""
        seconds = (self.instant(moment) - self.origin).total_seconds()
        return int(-(-seconds // _SLOT_SECONDS))

    def at(self, day: int, time: dt.time) -> dt.datetime:
        """The instant of a clock time on a day of the week (0 is Monday)."""
        return self.instant(dt.datetime.combine(self.week.start + dt.timedelta(days=day), time))

    def local(self, slot: int) -> dt.datetime:
        """The local time of a slot, with its offset."""
        return (self.origin + dt.timedelta(seconds=slot * _SLOT_SECONDS)).astimezone(self.tz)

    def day(self, slot: int) -> int:
        """Day of a slot: 0 is this week's Monday, -1 the Sunday before, 7 the Monday after."""
        return (self.local(slot).date() - self.week.start).days
