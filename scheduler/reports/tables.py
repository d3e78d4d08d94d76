"""The plan as comma-separated values: one row an exercise, for a spreadsheet."""

from __future__ import annotations

import csv
import io

from scheduler.domain.plan import Plan
from scheduler.domain.units import DAYS
from scheduler.reports import wording

COLUMNS = (
    *("date", "weekday", "start", "end", "place", "session", "order", "exercise", "name", "role", "sets", "reps"),
    *("zone", "reps_in_reserve", "rest_seconds", "load_kg", "pair", "per_side"),
)

_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")
"""Some spreadsheets run a cell that begins so, the full-width forms included."""


def render_csv(plan: Plan) -> str:
    """The plan as RFC 4180 text with CRLF line ends; clock times are those of the brief's zone."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for session in plan.sessions:
        start, end = wording.local(plan, session.start), wording.local(plan, session.end)
        shared = (
            start.date().isoformat(),
            DAYS[start.weekday()].full_name,
            f"{start:%H:%M}",
            f"{end:%H:%M}",
            wording.place(plan, session),
            session.name,
        )
        for order, entry in enumerate(session.entries, start=1):
            own = (order, entry.exercise, entry.name, entry.role.value, entry.sets, entry.reps, entry.zone.value)
            dose = (entry.reps_in_reserve, entry.rest_seconds, _number_or_blank(entry.load_kg), entry.pair)
            side = "yes" if entry.per_side else ""
            writer.writerow([_harmless(cell) for cell in (*shared, *own, *dose, side)])
    return out.getvalue()


def _number_or_blank(value: float | None) -> str:
    return "" if value is None else wording.number(value)


def _harmless(cell: str | int | None) -> str:
    """The cell as text that no spreadsheet takes for a formula."""
    text = "" if cell is None else str(cell)
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
