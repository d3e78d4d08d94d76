"""iCalendar in and out: busy times from a calendar file, a plan as a calendar file (RFC 5545)."""

from scheduler.calendars.reading import read_busy
from scheduler.calendars.writing import write_block_ics, write_ics

__all__ = ["read_busy", "write_block_ics", "write_ics"]
