"""Reading busy times. Expected times come from RFC 5545 where it gives an example, else from a wall calendar."""

from __future__ import annotations

import datetime as dt
from itertools import chain

import pytest

from scheduler.calendars import read_busy
from scheduler.domain.brief import BusyTime, WeekFrame
from scheduler.domain.errors import InputError

BERLIN = WeekFrame(start=dt.date(2026, 3, 23), zone="Europe/Berlin")
"""Clocks go forward on Sunday 29 March 2026 at 02:00 (EU directive 2000/84/EC: last Sunday of March, 01:00 UTC)."""
QUIET = WeekFrame(start=dt.date(2026, 3, 2), zone="Europe/Berlin")


def calendar(*lines: str) -> bytes:
    return "\r\n".join(["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//T//T//EN", *lines, "END:VCALENDAR", ""]).encode()


def event(*lines: str) -> bytes:
    return calendar("BEGIN:VEVENT", "UID:a", "DTSTAMP:20260101T000000Z", *lines, "END:VEVENT")


def read(data: bytes, week: WeekFrame = QUIET) -> tuple[BusyTime, ...]:
    return read_busy(data, week, source="work.ics")


def spans(data: bytes, week: WeekFrame = QUIET) -> list[tuple[str, str]]:
    return [(f"{b.start:%m-%d %H:%M}", f"{b.end:%m-%d %H:%M}") for b in read(data, week)]


def starts_over(data: bytes, first: dt.date, weeks: int, zone: str) -> list[str]:
    """Starts found by asking week by week, each once."""
    found: set[dt.datetime] = set()
    for n in range(weeks):
        frame = WeekFrame(start=first + dt.timedelta(days=7 * n), zone=zone)
        found |= {busy.start for busy in read(data, frame)}
    return [f"{start:%m-%d %H:%M}" for start in sorted(found)]


@pytest.mark.parametrize("line", ["TRANSP:TRANSPARENT", "STATUS:CANCELLED"])
def test_free_events_are_not_busy(line: str) -> None:
    body = ("DTSTART:20260303T100000", "DURATION:PT1H")
    assert len(read(event(*body))) == 1
    assert read(event(*body, line)) == ()


def test_tentative_events_are_busy() -> None:
    assert len(read(event("DTSTART:20260303T100000", "DURATION:PT1H", "STATUS:TENTATIVE"))) == 1


def test_all_day_events_run_from_midnight_to_midnight() -> None:
    assert spans(event("DTSTART;VALUE=DATE:20260303", "DTEND;VALUE=DATE:20260305")) == [("03-03 00:00", "03-05 00:00")]
    # RFC 5545 section 3.6.1: without an end, a DATE lasts one day and a DATE-TIME no time at all.
    assert spans(event("DTSTART;VALUE=DATE:20260303")) == [("03-03 00:00", "03-04 00:00")]
    assert spans(event("DTSTART;VALUE=DATE:20260303", "DURATION:P2D")) == [("03-03 00:00", "03-05 00:00")]
    assert spans(event("DTSTART:20260303T100000")) == []


def test_all_day_series_with_dates_left_out() -> None:
    data = event("DTSTART;VALUE=DATE:20260302", "RRULE:FREQ=DAILY;UNTIL=20260305", "EXDATE;VALUE=DATE:20260303")
    assert [start for start, _ in spans(data)] == ["03-02 00:00", "03-04 00:00", "03-05 00:00"]


def test_all_day_on_the_day_clocks_change_has_23_hours() -> None:
    (busy,) = read(event("DTSTART;VALUE=DATE:20260329"), BERLIN)
    assert busy.end.astimezone(dt.UTC) - busy.start.astimezone(dt.UTC) == dt.timedelta(hours=23)


def test_times_in_utc_floating_and_other_zones() -> None:
    assert spans(event("DTSTART:20260303T100000Z", "DURATION:PT1H")) == [("03-03 11:00", "03-03 12:00")]
    assert spans(event("DTSTART:20260303T100000", "DURATION:PT1H")) == [("03-03 10:00", "03-03 11:00")]
    # New York is at UTC-5 until 8 March 2026, Berlin at UTC+1: six hours.
    new_york = event("DTSTART;TZID=America/New_York:20260303T100000", "DTEND;TZID=Asia/Tokyo:20260304T010000")
    assert spans(new_york) == [("03-03 16:00", "03-03 17:00")]
    windows = event('DTSTART;TZID="Eastern Standard Time":20260303T100000', "DURATION:PT1H")
    assert spans(windows) == [("03-03 16:00", "03-03 17:00")]
    unique = event("DTSTART;TZID=/example.org/20260101/America/New_York:20260303T100000", "DURATION:PT1H")
    assert spans(unique) == [("03-03 16:00", "03-03 17:00")]


def test_a_weekly_event_keeps_its_clock_over_the_change() -> None:
    data = event("DTSTART;TZID=Europe/Berlin:20260320T180000", "DURATION:PT1H", "RRULE:FREQ=DAILY")
    found = read(data, BERLIN)
    assert {f"{b.start:%H:%M}" for b in found} == {"18:00"}
    offsets = {b.start.date().day: b.start.utcoffset() for b in found}
    assert offsets[28] == dt.timedelta(hours=1)
    assert offsets[29] == dt.timedelta(hours=2)


def test_an_event_of_another_country_moves_by_an_hour_between_the_changes() -> None:
    # New York changes on 8 March 2026, Berlin on 29 March: in between they are five hours apart, else six.
    data = event("DTSTART;TZID=America/New_York:20260102T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY")
    assert {start[6:] for start, _ in spans(data, WeekFrame(start=dt.date(2026, 3, 16), zone="Europe/Berlin"))} == {
        "17:00"
    }
    assert [s[6:] for s, _ in spans(data, BERLIN)] == ["17:00"] * 7 + ["18:00"] * 2


def test_lengths_over_the_night_of_the_change() -> None:
    # RFC 5545 section 3.8.5.3: DTEND repeats as an exact duration; section 3.3.6: hours of a DURATION are exact and
    # days nominal. The night to 29 March has one hour less, so eight hours from 22:00 end at 07:00.
    night = ("DTSTART;TZID=Europe/Berlin:20260327T220000", "RRULE:FREQ=DAILY;COUNT=3")
    by_end = event(*night, "DTEND;TZID=Europe/Berlin:20260328T060000")
    expected = [("03-27 22:00", "03-28 06:00"), ("03-28 22:00", "03-29 07:00"), ("03-29 22:00", "03-30 06:00")]
    assert spans(by_end, BERLIN) == expected
    assert spans(event(*night, "DURATION:PT8H"), BERLIN) == expected
    assert spans(event(*night, "DURATION:P1D"), BERLIN)[1] == ("03-28 22:00", "03-29 22:00")
    once = event("DTSTART;TZID=Europe/Berlin:20260328T220000", "DTEND;TZID=Europe/Berlin:20260329T060000")
    assert spans(once, BERLIN) == [("03-28 22:00", "03-29 06:00")]


def test_a_time_the_clock_skips_is_read_with_the_offset_before() -> None:
    # RFC 5545 section 3.3.5: a local time that does not occur is interpreted with the offset before the gap.
    data = event("DTSTART;TZID=Europe/Berlin:20260329T023000", "DURATION:PT1H")
    assert spans(data, BERLIN) == [("03-29 03:30", "03-29 04:30")]


def test_autumn_hour_that_comes_twice_is_in_order() -> None:
    week = WeekFrame(start=dt.date(2026, 10, 19), zone="Europe/Berlin")
    first = ["BEGIN:VEVENT", "UID:1", "SUMMARY:second", "DTSTART:20261025T011500Z", "DURATION:PT15M", "END:VEVENT"]
    other = ["BEGIN:VEVENT", "UID:2", "SUMMARY:first", "DTSTART:20261025T003000Z", "DURATION:PT15M", "END:VEVENT"]
    found = read(calendar(*first, *other), week)
    assert [b.title for b in found] == ["first", "second"]
    assert [f"{b.start:%H:%M}" for b in found] == ["02:30", "02:15"]


CUSTOM = [
    "BEGIN:VTIMEZONE",
    "TZID:Station clock",
    "X-LIC-LOCATION:Nowhere",
    "BEGIN:STANDARD",
    "DTSTART:16010101T000000",
    "TZOFFSETFROM:+0530",
    "TZOFFSETTO:+0530",
    "END:STANDARD",
    "END:VTIMEZONE",
]


def test_a_zone_defined_in_the_file_holds_for_that_file_only() -> None:
    body = ["BEGIN:VEVENT", "UID:1", "DTSTART;TZID=Station clock:20260303T120000", "DURATION:PT1H", "END:VEVENT"]
    assert spans(calendar(*CUSTOM, *body)) == [("03-03 07:30", "03-03 08:30")]
    other = [line.replace("+0530", "+0300") for line in CUSTOM]
    assert spans(calendar(*other, *body)) == [("03-03 10:00", "03-03 11:00")]
    with pytest.raises(InputError, match="Station clock"):
        read(calendar(*body))


def test_rfc_definition_of_new_york() -> None:
    # RFC 5545 section 3.6.5: the second example, the rules of the United States since 2007.
    zone = ["BEGIN:VTIMEZONE", "TZID:Eastern", "BEGIN:STANDARD", "DTSTART:20071104T020000"]
    zone += ["RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU", "TZOFFSETFROM:-0400", "TZOFFSETTO:-0500", "TZNAME:EST"]
    zone += ["END:STANDARD", "BEGIN:DAYLIGHT", "DTSTART:20070311T020000", "RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU"]
    zone += ["TZOFFSETFROM:-0500", "TZOFFSETTO:-0400", "TZNAME:EDT", "END:DAYLIGHT", "END:VTIMEZONE"]
    body = [
        "BEGIN:VEVENT",
        "UID:1",
        "DTSTART;TZID=Eastern:20260306T120000",
        "DURATION:PT1H",
        "RRULE:FREQ=DAILY;COUNT=4",
    ]
    week = WeekFrame(start=dt.date(2026, 3, 2), zone="UTC")
    found = spans(calendar(*zone, *body, "END:VEVENT"), week)
    assert [s for s, _ in found] == ["03-06 17:00", "03-07 17:00", "03-08 16:00", "03-09 16:00"]


def test_unknown_zone_is_named_with_a_near_name() -> None:
    with pytest.raises(InputError) as caught:
        read(event("DTSTART;TZID=Europe/Berln:20260303T100000", "DURATION:PT1H"))
    (fault,) = caught.value.faults
    assert fault.path == "work.ics"
    assert "'Europe/Berln'" in fault.problem
    assert "'Europe/Berlin'" in fault.advice


def test_folds_line_ends_and_byte_order_mark() -> None:
    body = ("SUMMARY:Café", "DTSTART;TZID=Europe/Berlin:20260303T100000", "DURATION:PT1H")
    unix = event(*body).replace(b"\r\n", b"\n")
    # The fold falls between the two bytes of the letter, as RFC 5545 section 3.1 warns.
    folded = unix.replace(b"\xc3\xa9", b"\xc3\n \xa9").replace(b"Berlin", b"Ber\n\tlin")
    for data in (unix, unix.replace(b"\n", b"\r\n"), unix.replace(b"\n", b"\r"), b"\xef\xbb\xbf" + unix, folded):
        assert [(b.title, f"{b.start:%d %H:%M}") for b in read(data)] == [("Café", "03 10:00")]


def test_other_components_are_not_busy() -> None:
    data = calendar(
        *("BEGIN:VTODO", "UID:1", "DTSTART:20260303T100000", "DUE:20260303T120000", "END:VTODO"),
        *("BEGIN:VJOURNAL", "UID:2", "DTSTART:20260303T100000", "END:VJOURNAL"),
        *("BEGIN:X-THING", "DTSTART:rubbish", "BEGIN:VEVENT", "DTSTART:20260303T100000", "DURATION:PT1H", "END:VEVENT"),
        *("END:X-THING", 'X-WR-CALNAME;X="a:b":any', "X-ODD"),
    )
    assert read(data) == ()


def test_an_alarm_does_not_disturb_its_event() -> None:
    alarm = ("BEGIN:VALARM", "TRIGGER:-PT10M", "DURATION:PT5M", "REPEAT:2", "SUMMARY:Beep", "END:VALARM")
    data = event("SUMMARY:Talk", "DTSTART:20260303T100000", "DTEND:20260303T110000", *alarm)
    assert [b.title for b in read(data)] == ["Talk"]
    assert spans(data) == [("03-03 10:00", "03-03 11:00")]


def test_free_busy_periods() -> None:
    # RFC 5545 section 3.8.2.6: both forms of a period; FBTYPE=FREE is free.
    data = calendar(
        "BEGIN:VFREEBUSY",
        "FREEBUSY:20260303T100000Z/PT1H,20260304T100000Z/20260304T113000Z",
        "FREEBUSY;FBTYPE=FREE:20260305T100000Z/PT1H",
        "FREEBUSY;FBTYPE=BUSY-UNAVAILABLE:20260306T100000Z/PT1H",
        "END:VFREEBUSY",
    )
    expected = [("03-03 11:00", "03-03 12:00"), ("03-04 11:00", "03-04 12:30"), ("03-06 11:00", "03-06 12:00")]
    assert spans(data) == expected


@pytest.mark.parametrize(
    ("lines", "title"),
    [
        (["SUMMARY:Lunch\\, then\\; talk\\nroom 4"], "Lunch, then; talk room 4"),
        (['SUMMARY;LANGUAGE=de;X="a:b":Übung 筋'], "Übung 筋"),
        (["SUMMARY:" + "x" * 200], "x" * 80),
        (["SUMMARY:  "], "busy"),
        ([], "busy"),
        (["SUMMARY:Doctor", "CLASS:PRIVATE"], "busy"),
        (["SUMMARY:Doctor", "CLASS:CONFIDENTIAL"], "busy"),
        (["SUMMARY:Doctor", "CLASS:PUBLIC"], "Doctor"),
        (["SUMMARY:a\x1b[31mb\x07"], "a [31mb"),
    ],
)
def test_titles(lines: list[str], title: str) -> None:
    assert [b.title for b in read(event("DTSTART:20260303T100000", "DURATION:PT1H", *lines))] == [title]


def test_the_week_and_a_day_on_both_sides() -> None:
    data = event("DTSTART:20260201T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY")
    assert [s[:5] for s, _ in spans(data)] == [f"03-{day:02}" for day in range(1, 10)]
    assert spans(event("DTSTART;VALUE=DATE:20260101", "DTEND;VALUE=DATE:20270101")) == [("01-01 00:00", "01-01 00:00")]
    assert spans(event("DTSTART:20260228T100000", "DTEND:20260301T000000")) == []


def test_order_is_by_start_end_and_title() -> None:
    def one(uid: str, title: str, length: str) -> list[str]:
        return [
            "BEGIN:VEVENT",
            f"UID:{uid}",
            f"SUMMARY:{title}",
            "DTSTART:20260303T100000",
            f"DURATION:{length}",
            "END:VEVENT",
        ]

    events = [one("1", "b", "PT2H"), one("2", "c", "PT1H"), one("3", "a", "PT2H")]
    forward = read(calendar(*chain.from_iterable(events)))
    assert [b.title for b in forward] == ["c", "a", "b"]
    assert read(calendar(*chain.from_iterable(reversed(events)))) == forward


@pytest.mark.parametrize(
    ("until", "last"),
    [("20260304", "03-04"), ("20260304T180000", "03-04"), ("20260304T170000Z", "03-04"), ("20260304T165959Z", "03-03")],
)
def test_until_as_programs_write_it(until: str, last: str) -> None:
    data = event("DTSTART;TZID=Europe/Berlin:20260225T180000", "DURATION:PT1H", f"RRULE:FREQ=DAILY;UNTIL={until}")
    assert spans(data)[-1][0][:5] == last


def test_a_damaged_event_years_ago_does_no_harm() -> None:
    assert read(event("DTSTART:20030303T100000", "DTEND:20030303T090000")) == ()


@pytest.mark.parametrize("stamp", ["00010101T000000", "99991231T235959"])
def test_events_at_the_ends_of_time(stamp: str) -> None:
    assert read(event(f"DTSTART:{stamp}Z", "DURATION:PT1H")) == ()
    (busy,) = read(event("DTSTART:00010101T000000Z", "DTEND:99991231T235959Z"))
    assert busy.start.year < 10
    assert busy.end.year > 9990


@pytest.mark.parametrize(
    ("start", "end", "monday", "expected"),
    [
        ("20260502T220000", "20260503T080000", dt.date(2026, 11, 9), ("11-14 22:00", "11-15 08:00")),
        ("20260502T220000", "20260503T080000", dt.date(2027, 4, 12), ("04-17 22:00", "04-18 08:00")),
        ("20251025T220000", "20251026T080000", dt.date(2026, 11, 9), ("11-14 22:00", "11-15 09:00")),
    ],
)
def test_nights_months_after_a_change_of_clocks(
    start: str, end: str, monday: dt.date, expected: tuple[str, str]
) -> None:
    """RFC 5545 section 3.8.5.3: an end repeats as an exact duration, here ten hours, and eleven of the last: it begins
    in the night of 26 October 2025, which has an hour more. Weeks later no other night tells."""
    rule = "RRULE:FREQ=WEEKLY;BYDAY=SA"
    data = event(f"DTSTART;TZID=Europe/Berlin:{start}", f"DTEND;TZID=Europe/Berlin:{end}", rule)
    assert expected in spans(data, WeekFrame(start=monday, zone="Europe/Berlin"))
    assert len(spans(data, WeekFrame(start=monday, zone="Europe/Berlin"))) in (1, 2)


@pytest.mark.parametrize("line", ["RRULE=FREQ=WEEKLY", "RRULE FREQ=WEEKLY", "DTEND 20260303T120000"])
def test_a_broken_line_that_no_description_begins_with_is_refused(line: str) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read(event("DTSTART:20260303T100000", "DURATION:PT1H", line))
    assert len(read(event("DTSTART:20260303T100000", "DURATION:PT1H", "Duration of the talk: one hour"))) == 1


def test_events_with_an_empty_name_are_not_one() -> None:
    events = [["BEGIN:VEVENT", "UID:", f"DTSTART:2026030{day}T100000", "DURATION:PT1H", "END:VEVENT"] for day in (3, 4)]
    assert len(read(calendar(*chain(*events)))) == 2


def test_an_override_may_name_its_occurrence_by_the_day() -> None:
    series = ["BEGIN:VEVENT", "UID:a", "DTSTART:20260225T180000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY", "END:VEVENT"]
    moved = ["BEGIN:VEVENT", "UID:a", "RECURRENCE-ID;VALUE=DATE:20260304", "DTSTART:20260304T200000", "DURATION:PT1H"]
    assert spans(calendar(*series, *moved, "END:VEVENT")) == [("03-04 20:00", "03-04 21:00")]
