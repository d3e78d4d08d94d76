"""Comma-separated values: round trip, line ends, no formulas."""

from __future__ import annotations

import csv
import io

import pytest

from scheduler.domain.plan import Plan
from scheduler.reports import render_csv


def rows(plan: Plan) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(render_csv(plan), newline="")))


def test_one_row_an_entry_that_reads_back(plan: Plan) -> None:
    found = rows(plan)
    entries = [(session, n, entry) for session in plan.sessions for n, entry in enumerate(session.entries, start=1)]
    assert len(found) == len(entries)
    for row, (session, n, entry) in zip(found, entries, strict=True):
        assert row["date"] == session.start.date().isoformat()
        assert (row["session"], row["order"], row["exercise"], row["name"]) == (
            session.name,
            str(n),
            entry.exercise,
            entry.name,
        )
        assert (int(row["sets"]), int(row["reps"]), row["zone"]) == (entry.sets, entry.reps, entry.zone)
        assert (float(row["load_kg"]) if row["load_kg"] else None) == entry.load_kg
        assert (int(row["pair"]) if row["pair"] else None) == entry.pair
    first = found[2]
    assert [first[k] for k in ("weekday", "start", "end", "place", "role")] == [
        *("Monday", "18:00", "19:10", "Quarry Lane hall", "main")
    ]


def test_lines_end_as_the_standard_says(plan: Plan) -> None:
    text = render_csv(plan)
    assert text.endswith("\r\n")
    assert text.count("\r\n") == text.count("\n") == len(rows(plan)) + 1


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "＝"])
def test_no_cell_is_a_formula(plan: Plan, start: str) -> None:
    name = f'{start}HYPERLINK("x","y")'
    session = plan.sessions[0]
    entry = session.entries[0].model_copy(update={"name": name})
    place = plan.brief.places["quarry"].model_copy(update={"name": f"{start}1+1"})
    brief = plan.brief.model_copy(update={"places": {"quarry": place}})
    bad = session.model_copy(update={"name": name, "entries": (entry,)})
    (row,) = rows(plan.model_copy(update={"sessions": (bad,), "brief": brief}))
    assert row["name"] == row["session"] == f"'{name}"
    assert not row["place"].startswith(tuple("=+-@\t\r"))


def test_markup_commas_and_quotes_stay_as_they_are(plan: Plan) -> None:
    name = '[bold]Row</b>, "heavy"\nslow'
    session = plan.sessions[0]
    entry = session.entries[0].model_copy(update={"name": name})
    (row,) = rows(plan.model_copy(update={"sessions": (session.model_copy(update={"entries": (entry,)}),)}))
    assert row["name"] == name


def test_a_plan_without_sessions_is_a_header(plan: Plan) -> None:
    assert render_csv(plan.model_copy(update={"sessions": ()})).count("\r\n") == 1
