"""Figures in words, and clock times on the brief's clock."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from scheduler.domain.plan import Plan
from scheduler.domain.wording import counted, day_time, minutes, short_day_time
from scheduler.reports import wording


@pytest.mark.parametrize(("value", "text"), [(2880, "48 h"), (2790, "46 h 30 min"), (15, "15 min"), (0, "0 min")])
def test_minutes(value: int, text: str) -> None:
    assert minutes(value) == text


@pytest.mark.parametrize(("value", "text"), [(1, "1 set"), (2, "2 sets"), (0, "0 sets"), (12, "12 sets")])
def test_counted(value: int, text: str) -> None:
    assert counted(value, "set") == text


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("Lats (latissimus dorsi)", "Lats"),
        ("Middle and lower chest (pectoralis major, sternal part)", "Middle and lower chest"),
        ("Rhomboids", "Rhomboids"),
        ("(unnamed)", "(unnamed)"),
    ],
)
def test_muscles_are_named_shortly(plan: Plan, name: str, text: str) -> None:
    assert wording.muscle(plan.ledger[0].model_copy(update={"name": name})) == text


@pytest.mark.parametrize(("seconds", "text"), [(0, "0:00"), (45, "0:45"), (150, "2:30"), (1800, "30:00")])
def test_rest_clock(seconds: int, text: str) -> None:
    assert wording.rest_clock(seconds) == text


def test_times_are_those_of_the_briefs_zone(plan: Plan) -> None:
    start = dt.datetime(2026, 5, 4, 21, 30, tzinfo=dt.UTC)
    session = plan.sessions[0].model_copy(update={"start": start, "end": start + dt.timedelta(minutes=60)})
    assert wording.clock_span(plan, session) == "23:30–00:30 next day"
    assert wording.by_day(plan.model_copy(update={"sessions": (session,)}))[0][1] == [session]


def test_light_sets_stand_apart_from_the_working_sets_that_all_else_counts(plan: Plan) -> None:
    assert wording.week_total(plan).endswith("81 working sets and 4 activation sets")
    legs = next(session for session in plan.sessions if session.kind == "legs")
    assert wording.work(legs) == "20 working sets", "the add-on's are working sets"


def test_ledger_marks(plan: Plan) -> None:
    row = plan.ledger[0].model_copy(update={"least": 10, "aim": 12, "most": 14})
    marks = [wording.ledger_mark(row.model_copy(update={"counted": sets})) for sets in (9.5, 10, 12, 14.5)]
    assert marks == ["short 0.5", "2 to aim", "", "over 0.5"]


def test_a_pair_with_itself_alone_shares_nothing(plan: Plan) -> None:
    session = plan.sessions[0]
    alone = session.model_copy(update={"entries": (session.entries[4],)})
    assert wording.entry_note(alone, 0) == ""


def test_days_and_dates_are_spelled_here() -> None:
    day = dt.date(2026, 12, 7)
    assert wording.short_date(day) == "7 Dec"
    moment = dt.datetime(2026, 12, 7, 8, 5)
    assert (day_time(moment), short_day_time(moment)) == ("Monday 08:05", "Mon 08:05")


def test_no_text_follows_the_machine() -> None:
    """Names by strftime follow the locale, and ``%-d`` is not known everywhere."""
    root = Path(__file__).resolve().parents[2]
    sources = [path for folder in ("scheduler", "api") for path in (root / folder).rglob("*.py")]
    assert len(sources) > 100
    assert [path.name for path in sources if re.search(r"%(-|[aAbBpcxX]\b)", path.read_text(encoding="utf-8"))] == []
