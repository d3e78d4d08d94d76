"""A plan in other forms: calendar, page, table."""

from __future__ import annotations

from starlette.responses import Response

from api.documents import CALENDAR
from api.store import Job
from scheduler.calendars import write_ics
from scheduler.domain.plan import Plan
from scheduler.reports import render_csv, render_html

HTML, CSV = "text/html", "text/csv"
FORMS = (CALENDAR, HTML, CSV)
_ENDINGS = {CALENDAR: "ics", HTML: "html", CSV: "csv"}
_PAGE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"
_EPOCH_2020 = 1_577_836_800


def exported(job: Job, form: str, headers: dict[str, str]) -> Response:
    """A finished plan as a calendar, a page to print, or a table."""
    plan = Plan.model_validate_json(job.answer or "")
    every = headers | {"Content-Disposition": f'inline; filename="week.{_ENDINGS[form]}"'}
    if form == HTML:
        return Response(render_html(plan), media_type=HTML, headers=every | {"Content-Security-Policy": _PAGE_POLICY})
    if form == CSV:
        return Response(render_csv(plan), media_type=CSV, headers=every)
    stamp = job.ended_at or job.created_at
    # Later plans of one week have a higher revision number, so that calendars take their times.
    sequence = max(0, int(stamp.timestamp()) - _EPOCH_2020)
    return Response(write_ics(plan, sequence=sequence, stamp=stamp), media_type=CALENDAR, headers=every)
