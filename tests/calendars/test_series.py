"""Series of events: rules, exceptions and overrides. Expected times are those of RFC 5545 where it gives an example."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduler.domain.brief import WeekFrame
from tests.calendars.test_reading import BERLIN, calendar, event, spans, starts_over

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
