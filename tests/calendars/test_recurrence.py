"""Rules made quick give what the plain expansion gives. The other reckoner is python-dateutil on naive times."""

from __future__ import annotations

import datetime as dt
import random

import pytest
from dateutil.rrule import rrulestr

from scheduler.calendars import read_busy
from scheduler.domain.brief import WeekFrame


def some_rule(chance: random.Random) -> str:
    frequency = chance.choice(["DAILY", "WEEKLY", "MONTHLY", "YEARLY"])
    parts = [f"FREQ={frequency}"]
    if chance.random() < 0.6:
        parts.append(f"INTERVAL={chance.choice([1, 2, 3, 5])}")
    if chance.random() < 0.5:
        days = chance.sample(["MO", "TU", "WE", "TH", "FR", "SA", "SU"], chance.randint(1, 4))
        ordinal = chance.choice(["", "1", "-1"]) if frequency == "MONTHLY" else ""
        parts.append("BYDAY=" + ",".join(ordinal + day for day in days))
    if chance.random() < 0.3:
        parts.append("BYMONTH=" + ",".join(str(month) for month in chance.sample(range(1, 13), 4)))
    if chance.random() < 0.3 and frequency != "WEEKLY":
        parts.append("BYMONTHDAY=" + ",".join(str(day) for day in chance.sample([*range(1, 32), -1, -2, -3], 6)))
    if chance.random() < 0.3 and frequency == "YEARLY" and len(parts) < 3:
        parts.append(chance.choice(["BYYEARDAY=1,60,-1,-300,75", "BYWEEKNO=1,10,20,-1"]))
    if chance.random() < 0.2 and "BYDAY" in "".join(parts) and frequency in {"MONTHLY", "WEEKLY"}:
        parts.append(f"BYSETPOS={chance.choice([1, -1])}")
    if chance.random() < 0.3:
        parts.append(f"WKST={chance.choice(['MO', 'SU', 'WE'])}")
    if (ending := chance.random()) < 0.3:
        parts.append(f"COUNT={chance.randint(1, 1500)}")
    elif ending < 0.5:
        parts.append(f"UNTIL={chance.randint(2018, 2027)}0315T000000Z")
    return ";".join(parts)


@pytest.mark.parametrize("seed", range(4))
def test_rules_at_random(seed: int) -> None:
    chance = random.Random(seed)
    found = 0
    for _ in range(150):
        rule = some_rule(chance)
        start = dt.datetime(2016, 1, 1, 9) + dt.timedelta(days=chance.randrange(3500))
        monday = dt.date(2025, 1, 6) + dt.timedelta(weeks=chance.randrange(80))
        days = chance.choice([0, 0, 0, 2, 40])
        text = f"BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nDTSTART:{start:%Y%m%dT%H%M%S}Z\nDURATION:P{days}DT1H\n"
        text += f"RRULE:{rule}\nEND:VEVENT\nEND:VCALENDAR\n"
        busy = read_busy(text.encode(), WeekFrame(start=monday, zone="UTC"), source="x.ics")
        length = dt.timedelta(days=days, hours=1)
        first = dt.datetime.combine(monday, dt.time()) - dt.timedelta(days=1)
        last = first + dt.timedelta(days=9)
        plain = rrulestr(rule.replace("T000000Z", "T000000"), dtstart=start)
        expected = {when for when in plain.between(first - length, last) if when < last}
        # RFC 5545 section 3.8.5.3: the start is an occurrence whatever the rule says.
        until = plain._until
        if first < start + length and start < last and (until is None or start <= until):
            expected.add(start)
        assert sorted(b.start.replace(tzinfo=None) for b in busy) == sorted(expected), (rule, start, monday)
        found += len(busy)
    assert found > 100
