"""Files that are damaged or made to harm: refused with words, within seconds, and never with a traceback."""

from __future__ import annotations

import contextlib
import datetime as dt
import random
import time

import pytest

from scheduler.calendars import read_busy, reading
from scheduler.domain.brief import WeekFrame
from scheduler.domain.errors import InputError

WEEK = WeekFrame(start=dt.date(2026, 3, 2), zone="Europe/Berlin")
# Seconds of this process's own work, which no waiting machine adds to. Every file below takes below 4; one that
# were walked through again for each of its parts would take many minutes.
QUADRATIC = 60
TIMED = ["DTSTART:20260303T100000", "DTEND:20260303T110000"]


def calendar(*lines: str) -> bytes:
    return "\r\n".join(["BEGIN:VCALENDAR", "VERSION:2.0", *lines, "END:VCALENDAR", ""]).encode()


def event(*lines: str, uid: str = "a") -> list[str]:
    return ["BEGIN:VEVENT", f"UID:{uid}", "SUMMARY:Rota", *lines, "END:VEVENT"]


def refusal(data: bytes) -> str:
    with pytest.raises(InputError) as caught:
        read_busy(data, WEEK, source="x.ics")
    (fault,) = caught.value.faults
    assert fault.path == "x.ics"
    assert fault.advice
    return fault.problem


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<!DOCTYPE html><html><body>Sign in</body></html>",
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
        b"PK\x03\x04",
        bytes(range(256)) * 40,
        "BEGIN:VCALENDAR\r\n".encode("utf-16"),
    ],
)
def test_what_is_no_calendar(data: bytes) -> None:
    assert "no iCalendar file" in refusal(data)


def test_zero_bytes() -> None:
    assert "zero bytes" in refusal(calendar(*event(*TIMED)).replace(b"Rota", b"Ro\0ta"))


def test_size() -> None:
    assert "5,000,001 bytes" in refusal(b"BEGIN:VCALENDAR\n".ljust(5_000_001, b"x"))


def test_number_of_components() -> None:
    lines = ["BEGIN:VTODO", "END:VTODO"] * 20_000
    assert "20,000 components" in refusal(calendar(*lines))


def test_deep_nesting() -> None:
    assert "nest deeper" in refusal(b"BEGIN:VCALENDAR\r\n" * 5000)


@pytest.mark.parametrize("cut", ["END:VEVENT\r\n", "END:VCALENDAR\r\n"])
def test_a_missing_end(cut: str) -> None:
    data = calendar(*event(*TIMED)).replace(cut.encode(), b"")
    assert refusal(data).startswith(("END:VCALENDAR stands where BEGIN:VEVENT", "the file ends inside BEGIN:VCALENDAR"))


def test_an_end_without_a_beginning() -> None:
    assert "no component is open" in refusal(calendar() + b"END:VCALENDAR\r\n")


def test_another_calendar_system() -> None:
    assert "'HEBREW'" in refusal(calendar("CALSCALE:HEBREW", *event(*TIMED)))


@pytest.mark.parametrize(
    ("rule", "problem"),
    [
        ("FREQ=SECONDLY", "SECONDLY, faster than daily"),
        ("FREQ=MINUTELY;INTERVAL=5", "MINUTELY, faster than daily"),
        ("FREQ=HOURLY;COUNT=3", "HOURLY, faster than daily"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20260401T000000Z", "both COUNT and UNTIL"),
        ("COUNT=3", "no FREQ"),
        ("nonsense", "no FREQ"),
        ("FREQ=SOMETIMES", "RRULE cannot be read"),
        ("FREQ=DAILY;COUNT=0", "COUNT=0"),
        ("FREQ=DAILY;INTERVAL=0", "INTERVAL=0"),
        ("FREQ=DAILY;INTERVAL=-1", "INTERVAL=-1"),
        ("FREQ=DAILY;COUNT=many", "RRULE cannot be read"),
        ("FREQ=WEEKLY;BYMONTHDAY=3", "BYMONTHDAY, which FREQ=WEEKLY does not take"),
        ("FREQ=MONTHLY;BYMONTHDAY=32", "BYMONTHDAY=32, outside"),
        ("FREQ=YEARLY;BYMONTH=13", "BYMONTH"),
        ("FREQ=DAILY;BYHOUR=24", "BYHOUR=24"),
        ("FREQ=DAILY;BYHOUR=9,10,11;BYMINUTE=0,5,10,15,20,25,30,35,40,45", "30 times a day"),
        ("FREQ=DAILY;BYSETPOS=2", "beyond the end of its set"),
        ("FREQ=WEEKLY;BYDAY=XX", "RRULE cannot be read"),
        ("FREQ=DAILY;X-EVERY=3", "unknown part X-EVERY"),
    ],
)
def test_rules_that_are_refused(rule: str, problem: str) -> None:
    said = refusal(calendar(*event(*TIMED, f"RRULE:{rule}")))
    assert "'Rota' of 2026-03-03" in said
    assert problem in said


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        (["DTSTART:20260303T110000", "DTEND:20260303T100000"], "ends before it starts"),
        (["DTSTART:20260303T110000", "DURATION:-PT1H"], "ends before it starts"),
        (["DTSTART;VALUE=DATE:20260305", "DTEND;VALUE=DATE:20260303"], "ends before it starts"),
        (["DTSTART;VALUE=DATE:20260303", "DTEND:20260303T100000"], "is a day and the other a time"),
        (["DTEND:20260303T100000"], "no DTSTART"),
        (["DTSTART:tomorrow", "DURATION:PT1H"], "DTSTART cannot be read"),
        (["DTSTART:20260231T100000", "DURATION:PT1H"], "DTSTART cannot be read"),
        (["DTSTART:20260303T100000", "DTSTART:20260303T110000"], "DTSTART twice"),
        ([*TIMED, "RDATE:later"], "RDATE cannot be read"),
        ([*TIMED, "EXDATE:20260399"], "EXDATE cannot be read"),
        (["DTSTART;VALUE=DURATION:PT1H"], "stands where a day or a time is due"),
        ([*TIMED, *(f"RRULE:FREQ=DAILY;COUNT={n}" for n in range(1, 7))], "6 RRULEs"),
        (["DTSTART:20260303T100000", "DTEND:20280303T100000", "RRULE:FREQ=DAILY"], "lasts longer than a year"),
    ],
)
def test_events_that_are_refused(lines: list[str], problem: str) -> None:
    said = refusal(calendar(*event(*lines)))
    assert "'Rota'" in said
    assert problem in said


def test_a_line_that_matters_must_be_whole() -> None:
    assert "cannot be read" in refusal(calendar(*event(*TIMED, "RRULE")))
    assert "cannot be read" in refusal(calendar(*event('DTSTART;TZID="Europe/Berlin:20260303T100000', "DURATION:PT1H")))


def test_control_characters_stay_out_of_the_refusal() -> None:
    said = refusal(calendar(*event('DTSTART;TZID="Europe/Berlin\x1b[2J":20260303T100000', "DURATION:PT1H")))
    assert said.isprintable()


def test_a_private_title_stays_out_of_the_refusal() -> None:
    assert "Rota" not in refusal(calendar(*event(*TIMED, "CLASS:PRIVATE", "RRULE:FREQ=SECONDLY")))


@pytest.mark.parametrize("tzid", ["../../etc/passwd", "/etc/passwd", "", "Europe", "a" * 5000])
def test_zone_names_that_are_no_zones(tzid: str) -> None:
    data = calendar(*event(f'DTSTART;TZID="{tzid}":20260303T100000', "DURATION:PT1H"))
    if tzid:
        assert "time zone" in refusal(data)
    else:  # no name is no zone: the time floats
        assert f"{read_busy(data, WEEK, source='x.ics')[0].start:%H:%M}" == "10:00"


@pytest.mark.parametrize(
    ("body", "problem"),
    [
        (["DTSTART:20200101T000000", "TZOFFSETFROM:+0100", "TZOFFSETTO:+0100", "RRULE:FREQ=SECONDLY"], "FREQ=SECONDLY"),
        (["DTSTART:20200101T000000", "TZOFFSETFROM:+0100"], "cannot be read"),
        (["DTSTART:rubbish", "TZOFFSETFROM:+0100", "TZOFFSETTO:+0100"], "cannot be read"),
    ],
)
def test_zone_definitions_that_are_refused(body: list[str], problem: str) -> None:
    zone = ["BEGIN:VTIMEZONE", "TZID:Odd", "BEGIN:STANDARD", *body, "END:STANDARD", "END:VTIMEZONE"]
    said = refusal(calendar(*zone, *event("DTSTART;TZID=Odd:20260303T100000", "DURATION:PT1H")))
    assert "'Odd'" in said
    assert problem in said


@pytest.mark.parametrize(
    ("start", "rule", "found"),
    [
        ("19000101T100000", "FREQ=DAILY;COUNT=999999999", 9),
        ("00020101T100000", "FREQ=DAILY;COUNT=999999999", 9),
        ("00020101T100000", "FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR,SA,SU;COUNT=999999999", 9),
        ("00020101T100000", "FREQ=DAILY", 9),
        ("19000101T100000", "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30", 0),
        ("19000101T100000", "FREQ=DAILY;INTERVAL=7;BYDAY=TU", 0),
        ("19000101T100000", "FREQ=MONTHLY;BYMONTHDAY=31;BYMONTH=2,4", 0),
        ("19000101T100000", "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", 0),
    ],
)
def test_long_and_barren_rules_are_quick(start: str, rule: str, found: int) -> None:
    # 300 such series: any that were walked through from the start, or on to the year 9999, would take minutes.
    events = [
        line for n in range(300) for line in event(f"DTSTART:{start}", "DURATION:PT1H", f"RRULE:{rule}", uid=str(n))
    ]
    began = time.process_time()
    busy = read_busy(calendar(*events), WEEK, source="x.ics")
    assert time.process_time() - began < QUADRATIC
    assert len(busy) == 300 * found


def test_many_slow_series_end_in_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "MOST_SECONDS", 0.5)
    rule = "RRULE:FREQ=DAILY;BYMONTH=1,2,3,4,5,6,7,8,9,10,11,12;COUNT=9999999"
    events = [line for n in range(3000) for line in event("DTSTART:00020101T100000", "DURATION:PT1H", rule, uid=str(n))]
    assert "take longer than 0.5 s" in refusal(calendar(*events))


@pytest.mark.parametrize(
    "data",
    [
        calendar(*event(*TIMED, "RDATE:" + ",".join(["20260304T100000"] * 200_000))),
        calendar(*event(*TIMED, "RRULE:FREQ=DAILY", "EXDATE:" + ",".join(["20260304T100000"] * 200_000))),
        calendar(
            *event("DTSTART:20200101T100000", "DURATION:PT1H", "RRULE:FREQ=DAILY"),
            *(
                ln
                for n in range(9_999)
                for ln in event(f"RECURRENCE-ID:202601{n % 28 + 1:02}T{n % 24:02}{n % 60:02}00", *TIMED)
            ),
            *(ln for _ in range(9_999) for ln in event("RECURRENCE-ID;RANGE=THISANDFUTURE:20240101T100000", *TIMED)),
        ),
        calendar(*event(*TIMED, *["EXDATE:20260304T100000"] * 150_000)),
        calendar(*event(*TIMED, "SUMMARY;X=" + '"a:b"' * 900_000)),
        calendar(*event(*TIMED, "DTSTART" + ";" * 4_000_000 + ":")),
        b"BEGIN:VCALENDAR" + b"\r\n" * 2_000_000 + b"END:VCALENDAR",
        b"BEGIN:VCALENDAR" + b"\n \t" * 1_500_000 + b"\nEND:VCALENDAR",
    ],
    ids=["rdate", "exdate", "overrides", "exdates", "quotes", "semicolons", "empty lines", "folds"],
)
def test_large_oddities_end_soon(data: bytes) -> None:
    began = time.process_time()
    with contextlib.suppress(InputError):
        read_busy(data, WEEK, source="x.ics")
    assert time.process_time() - began < QUADRATIC


def test_a_large_honest_file_is_quick() -> None:
    events = [
        line
        for n in range(9_000)
        for line in event(
            f"DTSTART:{2000 + n % 30}0303T100000Z", "DURATION:PT1H", "DESCRIPTION:" + "x" * 300, uid=str(n)
        )
    ]
    began = time.process_time()
    assert len(read_busy(calendar(*events), WEEK, source="x.ics")) == 300
    assert time.process_time() - began < QUADRATIC


def test_damage_at_random_is_read_or_refused() -> None:
    zone = ["BEGIN:VTIMEZONE", "TZID:Odd", "BEGIN:STANDARD", "DTSTART:20200101T000000", "RRULE:FREQ=YEARLY;BYMONTH=1"]
    zone += ["TZOFFSETFROM:+0100", "TZOFFSETTO:+0200", "END:STANDARD", "END:VTIMEZONE"]
    series = event(
        "DTSTART;TZID=Odd:20260203T100000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;BYDAY=TU,FR;COUNT=40", "SEQUENCE:1"
    )
    moved = event("RECURRENCE-ID;TZID=Odd:20260303T100000", "DTSTART:20260304T100000Z", "DTEND:20260304T110000Z")
    extra = event("DTSTART;VALUE=DATE:20260305", "RDATE;VALUE=DATE:20260306", "EXDATE;VALUE=DATE:20260305", uid="b")
    free = ["BEGIN:VFREEBUSY", "FREEBUSY:20260303T100000Z/PT1H", "END:VFREEBUSY"]
    whole = calendar(*zone, *series, *moved, *extra, *free)
    assert len(read_busy(whole, WEEK, source="x.ics")) == 4
    noise, outcomes = random.Random(5545), {"read": 0, "refused": 0}
    for _ in range(1500):
        data = bytearray(whole)
        for _ in range(noise.randint(1, 4)):
            at = noise.randrange(len(data))
            data[at : at + noise.choice((0, 1, 1, 9))] = noise.choice(
                (b"", b"\xff", b"9", b"-", b":", b";", b"\r\n", b"T", b",", bytes([noise.randrange(1, 256)]))
            )
        try:
            read_busy(bytes(data), WEEK, source="x.ics")
            outcomes["read"] += 1
        except InputError:
            outcomes["refused"] += 1
    assert min(outcomes.values()) > 100
