"""Recurrence rules, checked and made quick before a library expands them.

Two things make a rule slow: a start long ago, and a pattern that never comes (30 February), after which the library
searches on to the year 9999. Both are settled here by plain calendar arithmetic.
Source of meaning and limits: RFC 5545 section 3.3.10.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from icalendar import vRecur

CYCLE_DAYS = {"DAILY": 1, "WEEKLY": 7}
_FREQUENCIES = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
_WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_RANGES = {
    "BYMONTH": (1, 12),
    "BYMONTHDAY": (1, 31),
    "BYYEARDAY": (1, 366),
    "BYWEEKNO": (1, 53),
    "BYSETPOS": (1, 366),
    "BYHOUR": (0, 23),
    "BYMINUTE": (0, 59),
    "BYSECOND": (0, 59),
}
_MAY_BE_NEGATIVE = {"BYMONTHDAY", "BYYEARDAY", "BYWEEKNO", "BYSETPOS"}
_PARTS = {*_RANGES, "FREQ", "UNTIL", "COUNT", "INTERVAL", "BYDAY", "WKST"}
_NOT_WITH = {
    "DAILY": {"BYWEEKNO", "BYYEARDAY"},
    "WEEKLY": {"BYWEEKNO", "BYYEARDAY", "BYMONTHDAY"},
    "MONTHLY": {"BYWEEKNO", "BYYEARDAY"},
    "YEARLY": set[str](),
}
"""The cells of the table in RFC 5545 section 3.3.10 that say N/A."""
_MOST_TIMES_A_DAY = 24


def fault_of(rule: vRecur) -> str | None:
    """What is wrong with a rule, or None: RFC 5545 section 3.3.10, and no rule faster than daily."""
    frequency = str(_first(rule, "FREQ", "")).upper()
    if not frequency:
        return "has no FREQ"
    if frequency not in _FREQUENCIES:
        return f"repeats {frequency}, faster than daily"
    if unknown := sorted(set(rule.keys()) - _PARTS):
        return f"has the unknown part {unknown[0][:30]}"
    if "COUNT" in rule and "UNTIL" in rule:
        return "has both COUNT and UNTIL"
    for name in ("COUNT", "INTERVAL"):
        if _first(rule, name, 1) < 1:
            return f"has {name}={_first(rule, name, 1)}, less than 1"
    if clash := sorted(_NOT_WITH[frequency] & set(rule.keys())):
        return f"has {clash[0]}, which FREQ={frequency} does not take"
    return _range_fault(rule) or _set_fault(rule, frequency)


def _range_fault(rule: vRecur) -> str | None:
    for name, (low, high) in _RANGES.items():
        for value in _numbers(rule, name):
            size = abs(value) if name in _MAY_BE_NEGATIVE else value
            if not low <= size <= high:
                return f"has {name}={value}, outside {low} to {high}"
    return None


def _set_fault(rule: vRecur, frequency: str) -> str | None:
    times = math.prod(max(1, len(rule.get(name, ()))) for name in ("BYHOUR", "BYMINUTE", "BYSECOND"))
    if times > _MOST_TIMES_A_DAY:
        return f"repeats {times} times a day"
    days = {"DAILY": 1, "WEEKLY": max(1, len(rule.get("BYDAY", ()))), "MONTHLY": 31, "YEARLY": 366}[frequency]
    if any(abs(position) > times * days for position in _numbers(rule, "BYSETPOS")):
        return "has a BYSETPOS beyond the end of its set"
    return None


def falls_in(rule: vRecur, start: dt.date, first: dt.date, last: dt.date) -> bool:
    """Whether the rule can fall on a day from first to last. False is certain, True is not (COUNT, BYSETPOS)."""
    days = (first + dt.timedelta(days=n) for n in range((last - first).days + 1))
    wanted = _implied_days(rule, start)
    return any(day >= start and _in_interval(rule, start, day) and _passes(wanted, day) for day in days)


def _implied_days(rule: vRecur, start: dt.date) -> dict[str, set[Any]]:
    """The day filters of the rule; without any, the start says which day of the week, month or year."""
    frequency = str(_first(rule, "FREQ", "")).upper()
    wanted: dict[str, set[Any]] = {
        n: set(_numbers(rule, n)) for n in ("BYMONTH", "BYMONTHDAY", "BYYEARDAY") if n in rule
    }
    if "BYDAY" in rule:
        wanted["BYDAY"] = {str(day)[-2:].upper() for day in rule["BYDAY"]}
    if not {"BYMONTHDAY", "BYYEARDAY", "BYDAY", "BYWEEKNO"} & set(rule.keys()):
        if frequency == "WEEKLY":
            wanted["BYDAY"] = {_WEEKDAYS[start.weekday()]}
        elif frequency in {"MONTHLY", "YEARLY"}:
            wanted["BYMONTHDAY"] = {start.day}
            if frequency == "YEARLY":
                wanted.setdefault("BYMONTH", {start.month})
    return wanted


def _passes(wanted: dict[str, set[Any]], day: dt.date) -> bool:
    next_month = (day.replace(day=1) + dt.timedelta(days=31)).replace(day=1)
    days_left = (dt.date(day.year, 12, 31) - day).days
    values: dict[str, set[Any]] = {
        "BYMONTH": {day.month},
        "BYMONTHDAY": {day.day, -(next_month - day).days},
        "BYYEARDAY": {day.timetuple().tm_yday, -days_left - 1},
        "BYDAY": {_WEEKDAYS[day.weekday()]},
    }
    return all(values[name] & allowed for name, allowed in wanted.items())


def _in_interval(rule: vRecur, start: dt.date, day: dt.date) -> bool:
    interval = _first(rule, "INTERVAL", 1)
    match str(_first(rule, "FREQ", "")).upper():
        case "DAILY":
            periods = (day - start).days
        case "WEEKLY":
            week_start = _WEEKDAYS.index(str(_first(rule, "WKST", "MO")).upper())
            periods = (_week_of(day, week_start) - _week_of(start, week_start)).days // 7
        case "MONTHLY":
            periods = (day.year - start.year) * 12 + day.month - start.month
        case _:
            if "BYWEEKNO" in rule:  # week 1 may begin in the year before
                return True
            periods = day.year - start.year
    return bool(periods % interval == 0)


def _week_of(day: dt.date, week_start: int) -> dt.date:
    return day - dt.timedelta(days=(day.weekday() - week_start) % 7)


def days_to_skip(rule: vRecur, start: dt.date, first: dt.date) -> int:
    """Days by which the start may move on, still before ``first``, and leave every later occurrence as it is.

    Whole cycles only, so interval and weekdays keep step. A COUNT is lowered by the occurrences passed over where
    each cycle holds the same number; else the start stays.
    """
    frequency = str(_first(rule, "FREQ", "")).upper()
    cycle = CYCLE_DAYS.get(frequency, 0) * _first(rule, "INTERVAL", 1)
    if not cycle:
        return 0
    cycles = ((first - start).days - 1) // cycle - 1
    if cycles <= 0:
        return 0
    if "COUNT" in rule:
        filters = {name for name in rule if name.startswith("BY")}
        if filters - ({"BYDAY"} if frequency == "WEEKLY" else set()):
            return 0
        each = len({str(day).upper() for day in rule.get("BYDAY", ())}) or 1
        # One occurrence is always left: a COUNT of 0 would be no rule.
        cycles = min(cycles, (_first(rule, "COUNT", 1) - 1) // each)
        rule["COUNT"] = [_first(rule, "COUNT", 1) - cycles * each]
    return int(cycles * cycle)


def _first(rule: vRecur, name: str, default: Any) -> Any:
    values = rule.get(name)
    if values is None:
        return default
    return values[0] if isinstance(values, (list, tuple)) else values


def _numbers(rule: vRecur, name: str) -> list[int]:
    return [int(value) for value in rule.get(name, ())]
