"""Figures in words: the same wording in sentences of rules, reports and errors."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from scheduler.domain.units import DAYS, QUARTERS_PER_SET, SLOT_MINUTES, Day


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """``1 set``, ``2 sets``."""
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def duration(slots: int) -> str:
    """Slots as ``48 h``, ``46 h 30 min`` or ``25 min``."""
    return minutes(slots * SLOT_MINUTES)


def minutes(number: int) -> str:
    """Minutes as ``48 h``, ``46 h 30 min`` or ``25 min``."""
    hours, rest = divmod(number, 60)
    if hours and rest:
        return f"{hours} h {rest} min"
    return f"{hours} h" if hours else f"{rest} min"


def sets(quarters: int) -> str:
    """Quarter sets as ``1 set`` or ``12.5 sets``."""
    number = quarters / QUARTERS_PER_SET
    return f"{number:g} {'set' if number == 1 else 'sets'}"


def between(least: int, most: int, noun: str, plural: str | None = None) -> str:
    """``exactly 2 sessions``, ``2 to 3 sessions``, ``at most 3 sessions``."""
    if least == most:
        return f"exactly {counted(most, noun, plural)}"
    if least == 0:
        return f"at most {counted(most, noun, plural)}"
    return f"{least} to {counted(most, noun, plural)}"


def day_time(moment: dt.datetime) -> str:
    """``Monday 18:00``, on the moment's own clock. Not by strftime, which follows the machine's locale."""
    return f"{DAYS[moment.weekday()].full_name} {moment:%H:%M}"


def short_day_time(moment: dt.datetime) -> str:
    """``Mon 18:00``."""
    return f"{DAYS[moment.weekday()].full_name[:3]} {moment:%H:%M}"


def days(chosen: Iterable[Day]) -> str:
    """``Monday to Thursday``, ``Monday, Wednesday and Friday``."""
    found = sorted(chosen, key=lambda day: day.number)
    if len(found) > 2 and found[-1].number - found[0].number == len(found) - 1:
        return f"{found[0].full_name} to {found[-1].full_name}"
    return listed(day.full_name for day in found)


def listed(names: Iterable[str], joint: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    parts = list(names)
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {joint} {parts[-1]}"
