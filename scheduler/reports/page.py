"""The plan as one self-contained page for the screen, the phone and a sheet of A4: no script, no network.

The same plan gives the same page: timings, the only part that differs between two runs, stay out.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scheduler.domain.plan import LedgerRow, Plan, PlannedSession
from scheduler.domain.units import DAYS
from scheduler.domain.wording import minutes
from scheduler.reports import wording

if TYPE_CHECKING:
    from jinja2 import Template


def render_html(plan: Plan) -> str:
    """The page as HTML. All text of the plan is escaped."""
    asked, others = wording.ledger_parts(plan)
    top = wording.ledger_top(plan.ledger)
    return _template().render(
        title=wording.plain(plan.title),
        lifter=wording.plain(plan.brief.lifter.name),
        story=wording.plain(plan.brief.story or ""),
        week_line=wording.week_line(plan),
        week_total=wording.week_total(plan),
        status=plan.status.value,
        status_line=wording.status_line(plan),
        days=_days(plan),
        sessions=[_session(plan, session) for session in plan.sessions],
        how_to_read=" ".join(wording.how_to_read(plan)),
        ledger=[_ledger_row(row) for row in (*asked, *others)],
        top=wording.number(top),
        breaches=_breaches(plan),
        rules_line=wording.rules_line(plan),
        tiers=[(tier, *wording.tier_proof(plan, tier)) for tier in plan.tiers],
        measures_line=wording.measures_line(plan),
        cautions=wording.cautions(plan),
        notes=plan.notes,
        fingerprint=wording.fingerprint_line(plan),
    )


@cache
def _template() -> Template:
    # Imported here: the import is slow, and most runs of the command line draw no page.
    import jinja2

    loader = jinja2.FileSystemLoader(Path(__file__).parent)
    env = jinja2.Environment(loader=loader, autoescape=True, undefined=jinja2.StrictUndefined)
    env.trim_blocks = env.lstrip_blocks = True
    return env.get_template("plan.html")


def _days(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "name": DAYS[date.weekday()].full_name,
            "number": date.day,
            "iso": date.isoformat(),
            "sessions": [(wording.plain(s.name), wording.clock_span(plan, s)) for s in sessions],
        }
        for date, sessions in wording.by_day(plan)
    ]


def _session(plan: Plan, session: PlannedSession) -> dict[str, Any]:
    start = wording.local(plan, session.start)
    return {
        "name": wording.plain(session.name),
        "weekday": DAYS[start.weekday()].full_name,
        "date": wording.date(start.date()),
        "start": start.isoformat(timespec="minutes"),
        "clock": wording.clock_span(plan, session),
        "place": wording.place(plan, session),
        "minutes": session.minutes,
        "state": session.state,
        "entries": [
            {
                "name": wording.plain(entry.name),
                "note": wording.entry_note(session, n),
                "sets": entry.sets,
                "reps": entry.reps,
                "reserve": entry.reps_in_reserve,
                "rest": wording.rest_clock(entry.rest_seconds),
                "load": wording.load(entry.load_kg),
            }
            for n, entry in enumerate(session.entries)
        ],
    }


def _ledger_row(row: LedgerRow) -> dict[str, Any]:
    notes = [f"priority {row.priority}"] if row.priority else []
    return {
        "name": wording.muscle(row),
        "note": ", ".join(["group", *notes] if row.is_group else notes),
        "direct": wording.number(row.direct),
        "counted": wording.number(row.counted),
        "direct_length": wording.number(min(row.direct, row.counted)),
        "indirect_length": wording.number(max(0.0, row.counted - row.direct)),
        "aim": "" if row.aim is None else wording.number(row.aim),
        "goals": wording.goals(row),
        "hits": row.hits,
        "hours": [minutes(round(h * 60)) for h in row.hours_between_hits],
        "asked": row.aim is not None,
        "mark": wording.ledger_mark(row),
    }


def _breaches(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "heading": heading,
            "items": [
                {
                    "sentence": wording.plain(f.sentence),
                    "breach": wording.plain(f.breach_text),
                    "sessions": wording.sessions_of(plan, f),
                    "rule": wording.plain(rule.title),
                }
                for rule, f in findings
            ],
        }
        for heading, findings in wording.not_kept(plan)
    ]
