"""A plan as a calendar file: what another reader of RFC 5545 makes of it."""

from __future__ import annotations

import datetime as dt
import io
import re
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical
from icalendar import Calendar, Event

from scheduler.calendars import read_busy, write_ics
from scheduler.domain.brief import UNNAMED, Brief
from scheduler.domain.plan import Entry, Fingerprint, Plan, PlannedSession, PlanStatus, Role, Zone

STAMP = dt.datetime(2026, 3, 20, 8, 30, 15, 999, tzinfo=dt.UTC)
MONDAY = dt.date(2026, 3, 23)
ROW = Entry(
    exercise="row",
    name="Cable row",
    sets=4,
    reps=8,
    zone=Zone.MODERATE,
    reps_in_reserve=2,
    rest_seconds=150,
    load_kg=62.5,
)
PULL_UPS = ROW.model_copy(
    update={"name": "Pull-up; wide, slow", "role": Role.ADD_ON, "load_kg": None, "rest_seconds": 60, "pair": 1}
)


def session(
    kind: str, start: str, *, name: str = "Back", zone: str = "Europe/Berlin", minutes: int = 60
) -> PlannedSession:
    begin = dt.datetime.fromisoformat(start).replace(tzinfo=ZoneInfo(zone))
    end = (begin.astimezone(dt.UTC) + dt.timedelta(minutes=minutes)).astimezone(begin.tzinfo)
    return PlannedSession(kind=kind, name=name, start=begin, end=end, place="gym", entries=(ROW, PULL_UPS))


WEEK = (
    session("legs", "2026-03-24T18:00", name="Legs"),
    session("back", "2026-03-26T07:30"),
    session("back", "2026-03-29T01:30"),
)


def plan(*sessions: PlannedSession, zone: str = "Europe/Berlin", lifter: str = "client 07", place: str = "Gym") -> Plan:
    brief = Brief.model_validate(
        {
            "week": {"start": MONDAY, "zone": zone},
            "lifter": {"name": lifter},
            "places": {"gym": {"name": place}},
            "openings": [{"day": "mon", "start": "06:00", "end": "22:00", "place": "gym"}],
            "kinds": {"back": {"per_week": 2}, "legs": {"per_week": 1}},
        }
    )
    return Plan(
        status=PlanStatus.OPTIMAL,
        title="Week",
        brief=brief,
        sessions=sessions or WEEK,
        ledger=(),
        rules=(),
        tiers=(),
        cautions=(),
        fingerprint=Fingerprint(version="0", seed=0, brief_sha256="", catalogue_sha256=""),
    )


def events(data: bytes) -> list[Event]:
    return Calendar.from_ical(data).walk("VEVENT")


def test_another_reader_finds_the_sessions() -> None:
    data = write_ics(plan(), stamp=STAMP)
    calendar = Calendar.from_ical(data)
    assert calendar["METHOD"] == "PUBLISH"
    assert calendar["VERSION"] == "2.0"
    assert "Weekwright" in calendar["PRODID"]
    first = events(data)[0]
    assert first["SUMMARY"] == "Legs"
    assert first["LOCATION"] == "Gym"
    assert first["TRANSP"] == "OPAQUE"
    assert first["SEQUENCE"] == 0
    assert first["DTSTART"].dt == dt.datetime(2026, 3, 24, 17, 0, tzinfo=dt.UTC)
    assert first["DTEND"].dt == dt.datetime(2026, 3, 24, 18, 0, tzinfo=dt.UTC)
    assert b"DTSTART;TZID=Europe/Berlin:20260324T180000\r\n" in data
    assert b"DTSTAMP:20260320T083015Z\r\n" in data
    assert first["DESCRIPTION"].split("\n") == [
        "Cable row: 4 x 8, 2 in reserve, rest 2:30, 62.5 kg",
        "Pull-up; wide, slow: 4 x 8, 2 in reserve, rest 1:00, pair 1, add-on",
        "General information, not medical advice.",
    ]


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Asia/Kolkata", "UTC", "Europe/Dublin"])
def test_round_trip(zone: str) -> None:
    whole = plan(*(session(s.kind, f"{s.start:%Y-%m-%dT%H:%M}", zone=zone) for s in WEEK), zone=zone)
    busy = read_busy(write_ics(whole), whole.brief.week, source="plan.ics")
    assert [_instants(b.start, b.end) for b in busy] == [_instants(s.start, s.end) for s in whole.sessions]


def _instants(*moments: dt.datetime) -> list[dt.datetime]:
    return [moment.astimezone(dt.UTC) for moment in moments]


@pytest.mark.parametrize("fold", [0, 1])
def test_both_hours_that_come_twice(fold: int) -> None:
    # Sunday 25 October 2026 has 02:15 twice in Berlin: at 00:15 and at 01:15 UTC.
    twice = session("back", "2026-10-25T02:15", minutes=30)
    start = twice.start.replace(fold=fold)
    end = twice.end.replace(fold=fold)
    (event,) = events(write_ics(plan(twice.model_copy(update={"start": start, "end": end}))))
    assert _instants(event["DTSTART"].dt) == [dt.datetime(2026, 10, 25, fold, 15, tzinfo=dt.UTC)]


def test_a_session_over_the_change_of_clocks_lasts_its_hour() -> None:
    # Clocks go from 02:00 to 03:00 on Sunday 29 March 2026 in Berlin.
    last = events(write_ics(plan()))[-1]
    assert f"{last['DTSTART'].dt:%H:%M} {last['DTEND'].dt:%H:%M}" == "01:30 03:30"


@pytest.mark.parametrize(
    "zone", ["Europe/Berlin", "America/New_York", "Asia/Kolkata", "Europe/Dublin", "Pacific/Auckland"]
)
def test_the_file_carries_the_zone_as_the_tz_database_has_it(zone: str) -> None:
    data = write_ics(plan(session("back", "2026-03-26T07:30", zone=zone), zone=zone))
    (definition,) = re.findall(rb"BEGIN:VTIMEZONE.*?END:VTIMEZONE\r\n", data, re.DOTALL)
    text = definition.replace(b"\r\n ", b"").decode()
    carried = tzical(io.StringIO(text)).get()
    for hours in range(0, 24 * 21, 5):
        wall = dt.datetime.combine(MONDAY - dt.timedelta(days=7), dt.time(0, 30)) + dt.timedelta(hours=hours)
        assert wall.replace(tzinfo=carried).utcoffset() == wall.replace(tzinfo=ZoneInfo(zone)).utcoffset(), wall


def test_a_second_plan_updates_the_first() -> None:
    before = {e["UID"]: e["DTSTART"].dt for e in events(write_ics(plan()))}
    moved = plan(WEEK[0], session("back", "2026-03-27T12:00", name="Pull"), WEEK[2])
    after = events(write_ics(moved, sequence=1))
    assert {e["UID"] for e in after} == set(before)
    assert len(before) == 3
    assert {e["SEQUENCE"] for e in after} == {1}
    assert [before[e["UID"]] == e["DTSTART"].dt for e in after] == [True, False, True]


def test_uids_differ_between_lifters_and_weeks() -> None:
    mine, theirs = ({e["UID"] for e in events(write_ics(plan(lifter=name)))} for name in ("client 07", "client 08"))
    assert mine.isdisjoint(theirs)
    later = plan()
    week = later.brief.week.model_copy(update={"start": MONDAY + dt.timedelta(days=7)})
    later = later.model_copy(update={"brief": later.brief.model_copy(update={"week": week})})
    assert mine.isdisjoint({e["UID"] for e in events(write_ics(later))})


def titled(title: str, lifter: str = UNNAMED) -> Plan:
    found = plan(lifter=lifter)
    return found.model_copy(update={"title": title, "brief": found.brief.model_copy(update={"title": title})})


def uids(found: Plan) -> set[str]:
    return {event["UID"] for event in events(write_ics(found))}


def test_where_nobody_is_named_the_title_tells_whose_week_it_is() -> None:
    assert uids(titled("Nora")).isdisjoint(uids(titled("Omar")))
    assert uids(titled("Nora")) == uids(titled("Nora"))
    assert uids(titled("Nora, week 3")) == uids(titled("Nora"))  # of a block, as by itself
    assert uids(titled("Nora", "client 07")) == uids(titled("Omar", "client 07")) == uids(plan())


def test_the_calendar_is_named_after_title_and_lifter() -> None:
    """By RFC 7986 section 5.1, and as older programs read it."""
    for lifter, name in ((UNNAMED, "Choir, and back"), ("client 07", "Choir, and back (client 07)")):
        calendar = Calendar.from_ical(write_ics(titled("Choir,\r\nand back", lifter)))
        assert (calendar["NAME"], calendar["X-WR-CALNAME"]) == (name, name)


def test_order_of_the_sessions_does_not_matter() -> None:
    assert write_ics(plan(*reversed(WEEK)), stamp=STAMP) == write_ics(plan(), stamp=STAMP)


def test_a_plan_read_back_from_json_gives_the_same_file() -> None:
    again = Plan.model_validate_json(plan().model_dump_json())
    assert write_ics(again, stamp=STAMP) == write_ics(plan(), stamp=STAMP)


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("Legs, heavy; \\n and C:\\new", "Legs, heavy; \\n and C:\\new"),
        ("Beine\r\nBEGIN:VEVENT\r\nSUMMARY:evil", "Beine BEGIN:VEVENT SUMMARY:evil"),
        ("Rücken 背中 🏋 " * 20, ("Rücken 背中 🏋 " * 20).strip()),
        ('say "x": 1', 'say "x": 1'),
        ("bell\x07 null\x00 nel\x85 sep\u2028end", "bell null nel sep end"),
    ],
)
def test_hostile_names(name: str, read: str) -> None:
    data = write_ics(plan(session("back", "2026-03-26T07:30", name=name), place=name, lifter=name))
    (event,) = events(data)
    assert event["SUMMARY"] == read
    assert event["LOCATION"] == read
    # RFC 5545 section 3.1: lines end in CRLF and hold at most 75 octets without it.
    assert data.endswith(b"END:VCALENDAR\r\n")
    lines = data.split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line and b"\r" not in line for line in lines)
    for line in lines:
        line.decode()  # no fold inside a character
    (busy,) = read_busy(data, plan().brief.week, source="plan.ics")
    assert busy.title == read[:80].strip()


def test_escapes_are_those_of_the_standard() -> None:
    # RFC 5545 section 3.3.11: backslash, semicolon and comma take a backslash, a line break is \n.
    data = write_ics(plan(session("back", "2026-03-26T07:30", name="a,b;c\\d")))
    assert rb"SUMMARY:a\,b\;c\\d" in data
    assert rb"kg\nPull-up\; wide\, slow" in data.replace(b"\r\n ", b"")


def test_an_empty_plan_is_an_empty_calendar() -> None:
    empty = plan().model_copy(update={"sessions": ()})
    assert events(write_ics(empty)) == []


def test_stamp_and_sequence_are_checked() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        write_ics(plan(), stamp=STAMP.replace(tzinfo=None))
    with pytest.raises(ValueError, match="negative"):
        write_ics(plan(), sequence=-1)
