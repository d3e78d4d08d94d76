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


# RFC 5545 section 3.8.5.3, the examples on WKST and on an invalid date that is ignored.


@pytest.mark.parametrize(
    ("week_start", "days"), [("MO", ["08-05", "08-10", "08-19", "08-24"]), ("SU", ["08-05", "08-17", "08-19", "08-31"])]
)
def test_rfc_example_of_week_start(week_start: str, days: list[str]) -> None:
    data = event(
        "DTSTART;TZID=America/New_York:19970805T090000",
        "DURATION:PT1H",
        f"RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST={week_start}",
    )
    assert starts_over(data, dt.date(1997, 7, 28), 8, "America/New_York") == [f"{day} 09:00" for day in days]


def test_rfc_example_of_days_that_months_lack() -> None:
    data = event(
        "DTSTART;TZID=America/New_York:20070115T090000",
        "DURATION:PT1H",
        "RRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
    )
    found = starts_over(data, dt.date(2007, 1, 8), 20, "America/New_York")
    assert found == [f"{day} 09:00" for day in ("01-15", "01-30", "02-15", "03-15", "03-30")]


def test_rfc_example_of_every_other_week_until() -> None:
    # RFC 5545 section 3.8.5.3: "Every other week on Monday, Wednesday, and Friday until December 24, 1997,
    # starting on Monday, September 1, 1997".
    data = event(
        "DTSTART;TZID=America/New_York:19970901T090000",
        "DURATION:PT1H",
        "RRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
    )
    days = "09-01 09-03 09-05 09-15 09-17 09-19 09-29 10-01 10-03 10-13 10-15 10-17 10-27 10-29 10-31 11-10 11-12 11-14"
    days += " 11-24 11-26 11-28 12-08 12-10 12-12 12-22"
    found = starts_over(data, dt.date(1997, 8, 25), 20, "America/New_York")
    assert found == [f"{day} 09:00" for day in days.split()]


def test_weekly_rule_keeps_its_step_over_decades() -> None:
    # From Tuesday 4 January 2000 every third week: 2026-03-03 is 1365 weeks = 455 x 3 later.
    data = event("DTSTART:20000104T180000", "DTEND:20000104T190000", "RRULE:FREQ=WEEKLY;INTERVAL=3")
    assert spans(data) == [("03-03 18:00", "03-03 19:00")]
    assert spans(data, BERLIN) == [("03-24 18:00", "03-24 19:00")]
    assert spans(data, WeekFrame(start=dt.date(2026, 3, 9), zone="Europe/Berlin")) == []


@pytest.mark.parametrize(("count", "days"), [(9556, []), (9557, ["03-01"]), (9559, ["03-01", "03-02", "03-03"])])
def test_count_ends_a_long_daily_rule_on_its_day(count: int, days: list[str]) -> None:
    # From 2000-01-01 (occurrence 1) to 2026-03-01 are 26 x 365 + 7 leap days + 59 = 9556 days: occurrence 9557.
    data = event("DTSTART:20000101T070000", "DURATION:PT30M", f"RRULE:FREQ=DAILY;COUNT={count}")
    assert [start[:5] for start, _ in spans(data)] == days


@pytest.mark.parametrize(
    ("count", "days"),
    [(4094, []), (4095, ["03-02"]), (4096, ["03-02", "03-04"]), (9999, ["03-02", "03-04", "03-06", "03-09"])],
)
def test_count_ends_a_long_weekly_rule_on_its_day(count: int, days: list[str]) -> None:
    # From Wednesday 2000-01-05 to Wednesday 2026-03-04 are 1365 weeks, 3 x 1365 = 4095 occurrences before that day.
    data = event("DTSTART:20000105T070000", "DURATION:PT30M", f"RRULE:FREQ=WEEKLY;BYDAY=MO,WE,FR;COUNT={count}")
    assert [start[:5] for start, _ in spans(data)] == days


def test_rdate_exdate_and_rdate_with_a_period() -> None:
    data = event(
        "DTSTART;TZID=Europe/Berlin:20260302T180000",
        "DTEND;TZID=Europe/Berlin:20260302T190000",
        "RRULE:FREQ=DAILY;COUNT=4",
        "EXDATE;TZID=Europe/Berlin:20260303T180000,20260305T180000",
        "RDATE;TZID=Europe/Berlin:20260306T120000",
        "RDATE;VALUE=PERIOD:20260307T080000Z/PT3H",
    )
    assert spans(data) == [
        ("03-02 18:00", "03-02 19:00"),
        ("03-04 18:00", "03-04 19:00"),
        ("03-06 12:00", "03-06 13:00"),
        ("03-07 09:00", "03-07 12:00"),
    ]


def test_exdate_in_utc_meets_an_occurrence_in_a_zone() -> None:
    data = event(
        "DTSTART;TZID=Europe/Berlin:20260302T180000",
        "DURATION:PT1H",
        "RRULE:FREQ=DAILY;COUNT=2",
        "EXDATE:20260303T170000Z",
    )
    assert spans(data) == [("03-02 18:00", "03-02 19:00")]


def override(*lines: str) -> bytes:
    series = ["BEGIN:VEVENT", "UID:a", "SUMMARY:Rota", "DTSTART;TZID=Europe/Berlin:20260105T180000", "DURATION:PT1H"]
    series += ["RRULE:FREQ=WEEKLY;BYDAY=MO,WE;UNTIL=20260306T000000Z", "END:VEVENT"]
    return calendar(*series, "BEGIN:VEVENT", "UID:a", *lines, "END:VEVENT")


def test_an_override_moves_one_occurrence() -> None:
    data = override(
        "RECURRENCE-ID;TZID=Europe/Berlin:20260302T180000",
        "DTSTART;TZID=Europe/Berlin:20260303T070000",
        "DTEND;TZID=Europe/Berlin:20260303T090000",
    )
    assert spans(data) == [("03-03 07:00", "03-03 09:00"), ("03-04 18:00", "03-04 19:00")]


def test_an_override_from_another_week_comes_in_and_one_goes_out() -> None:
    come = override("RECURRENCE-ID:20260112T170000Z", "DTSTART:20260305T100000", "DURATION:PT1H")
    assert ("03-05 10:00", "03-05 11:00") in spans(come)
    gone = override("RECURRENCE-ID:20260302T170000Z", "DTSTART:20260512T100000", "DURATION:PT1H")
    assert spans(gone) == [("03-04 18:00", "03-04 19:00")]


@pytest.mark.parametrize("line", ["STATUS:CANCELLED", "TRANSP:TRANSPARENT", "status:cancelled"])
def test_a_cancelled_override_frees_only_its_occurrence(line: str) -> None:
    data = override(
        "RECURRENCE-ID:20260302T170000Z", "DTSTART;TZID=Europe/Berlin:20260302T180000", "DURATION:PT1H", line
    )
    assert spans(data) == [("03-04 18:00", "03-04 19:00")]


def test_this_and_future_moves_the_rest_of_the_series() -> None:
    # RFC 5545 section 3.8.4.4: rescheduled two hours later, all that follow are two hours later too.
    data = override(
        "RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=Europe/Berlin:20260216T180000",
        "DTSTART;TZID=Europe/Berlin:20260216T200000",
        "DURATION:PT2H",
    )
    assert spans(data) == [("03-02 20:00", "03-02 22:00"), ("03-04 20:00", "03-04 22:00")]


def test_an_override_without_its_series_counts() -> None:
    data = event("RECURRENCE-ID:20260302T170000Z", "DTSTART:20260302T100000", "DURATION:PT1H")
    assert spans(data) == [("03-02 10:00", "03-02 11:00")]


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
