"""A plan as an iCalendar file (RFC 5545): one event a session."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections import Counter
from collections.abc import Sequence

from icalendar import Calendar, Event

from scheduler.calendars.lines import plain
from scheduler.domain.block import OUTLOOK, Block, BlockWeek, unnumbered
from scheduler.domain.brief import UNNAMED
from scheduler.domain.plan import Entry, Plan, PlannedSession, Role

CAUTION = "General information, not medical advice."
PRODUCT = "-//Weekwright//Weekly strength sessions//EN"
MOST_TEXT = 500
"""Characters of a name: more would burden every calendar that imports it."""
_ROLES = {Role.ACTIVATION: "activation", Role.ADD_ON: "add-on"}


def write_ics(plan: Plan, *, sequence: int = 0, stamp: dt.datetime | None = None) -> bytes:
    """The sessions of a plan as an iCalendar file, UTF-8 with CRLF.

    A session's UID follows from the lifter (from the brief's title where it names none), the week, the kind of session
    and its number among that kind in the week, so importing a re-planned week moves the events instead of doubling
    them. The calendar is named after the title and the lifter.

    Args:
        plan: the plan.
        sequence: revision number of the plan; raise it for each new plan of one week, so that calendars take it.
        stamp: when the file is made, an aware time; now if left out. The same plan and stamp give the same bytes.

    Raises:
        ValueError: the stamp has no zone, or the sequence is negative.
    """
    return _written(plan.title, [(plan, None)], sequence, stamp)


def write_block_ics(block: Block, *, sequence: int = 0, stamp: dt.datetime | None = None) -> bytes:
    """The sessions of all weeks of a block as one iCalendar file; see :func:`write_ics`. An outlook says so."""
    return _written(block.title, [(week.plan, week) for week in block.weeks], sequence, stamp)


def _written(
    title: str, weeks: Sequence[tuple[Plan, BlockWeek | None]], sequence: int, stamp: dt.datetime | None
) -> bytes:
    stamp = dt.datetime.now(dt.UTC) if stamp is None else stamp
    if stamp.tzinfo is None:
        raise ValueError(f"the stamp {stamp} has no time zone; give an aware time such as datetime.now(UTC)")
    if sequence < 0:
        raise ValueError(f"the sequence {sequence} is negative; count from 0")
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    name = weeks[0][0].brief.lifter.name
    shown = plain(title if name == UNNAMED else f"{title} ({name})", MOST_TEXT)
    calendar.add("name", shown)  # RFC 7986 section 5.1
    calendar.add("x-wr-calname", shown)  # what was read before it
    for plan, week in weeks:
        seen: Counter[str] = Counter()
        for session in sorted(plan.sessions, key=lambda s: (_on_clock(plan, s.start).astimezone(dt.UTC), s.kind)):
            seen[session.kind] += 1
            event = _event(plan, session, seen[session.kind], week)
            event.add("dtstamp", stamp.astimezone(dt.UTC).replace(microsecond=0))
            event.add("sequence", sequence)
            calendar.add_component(event)
    # A year on either side holds every change of clocks that matters to these weeks; the whole history would be long.
    mondays = [plan.brief.week.start for plan, _ in weeks]
    year = dt.timedelta(days=366)
    calendar.add_missing_timezones(first_date=min(mondays) - year, last_date=max(mondays) + year)
    data: bytes = calendar.to_ical()
    return data


def _event(plan: Plan, session: PlannedSession, ordinal: int, week: BlockWeek | None) -> Event:
    outlook = week is not None and week.outlook
    left_out = week.left_out if week is not None else ()
    event = Event()
    event.add("uid", _uid(plan, session.kind, ordinal))
    event.add("dtstart", _on_clock(plan, session.start))
    event.add("dtend", _on_clock(plan, session.end))
    event.add("summary", plain(session.name, MOST_TEXT) + (" (outlook)" if outlook else ""))
    if session.place is not None:
        place = plan.brief.places.get(session.place)
        event.add("location", plain(place.name if place and place.name else session.place, MOST_TEXT))
    lines = [
        f"{plain(e.name, MOST_TEXT)}: left out until a log says that it is cleared"
        if e.exercise in left_out
        else _entry_line(e)
        for e in session.entries
    ]
    event.add("description", "\n".join([*lines, *([OUTLOOK] if outlook else []), CAUTION]))
    event.add("transp", "OPAQUE")
    return event


def _uid(plan: Plan, kind: str, ordinal: int) -> str:
    brief = plan.brief
    # Of two people without names a second file would take the place of the first one's events. A week of a block is the
    # same week as by itself.
    whose = [UNNAMED, unnumbered(brief.title)] if brief.lifter.name == UNNAMED else [brief.lifter.name]
    # JSON keeps the parts apart, whatever characters a name holds.
    identity = json.dumps([*whose, brief.week.start.isoformat(), kind, ordinal])
    return f"{uuid.uuid5(uuid.NAMESPACE_URL, f'weekwright:session:{identity}')}@weekwright"


def _on_clock(plan: Plan, moment: dt.datetime) -> dt.datetime:
    """The time in the week's zone; one that was read back from a file carries only an offset."""
    zone = plan.brief.week.tz
    instant = (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(dt.UTC)
    local = instant.astimezone(zone)
    # Where an hour comes twice, a clock time means the first (RFC 5545 section 3.3.5); UTC can say the second.
    return instant if local.fold else local


def _entry_line(entry: Entry) -> str:
    """For instance: 'Back squat: 4 x 6, 2 in reserve, rest 2:30, 102.5 kg'."""
    minutes, seconds = divmod(entry.rest_seconds, 60)
    parts = [
        f"{entry.sets} x {entry.reps}",
        f"{entry.reps_in_reserve} in reserve",
        f"rest {minutes}:{seconds:02d}",
    ]
    if entry.load_kg is not None:
        parts.append(f"{entry.load_kg:g} kg")
    if entry.per_side:
        parts.append("each side")
    if entry.pair is not None:
        parts.append(f"pair {entry.pair}")
    if entry.role in _ROLES:
        parts.append(_ROLES[entry.role])
    return f"{plain(entry.name, MOST_TEXT)}: {', '.join(parts)}"
