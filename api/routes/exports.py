"""A plan or a block in other forms: calendar, page, table, picture."""

from __future__ import annotations

import datetime as dt
import io
from importlib.util import find_spec
from urllib.parse import quote

from starlette.responses import Response

from api.documents import CALENDAR
from api.problems import Problem
from api.store import Job
from scheduler.calendars import write_block_ics, write_ics
from scheduler.domain.block import Block
from scheduler.domain.plan import Plan
from scheduler.reports import render_csv, render_html
from scheduler.reports.block import asked_rows, block_csv, render_block_html
from scheduler.reports.picture import draw_block

HTML, CSV, SVG = "text/html", "text/csv", "image/svg+xml"
FORMS = (CALENDAR, HTML, CSV)
BLOCK_FORMS = (*FORMS, *((SVG,) if find_spec("matplotlib") else ()))
"""Pictures are drawn where the library for it is installed."""
_ENDINGS = {CALENDAR: "ics", HTML: "html", CSV: "csv", SVG: "svg"}
_PAGE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"
_MOST_NAME = 80
_EPOCH_2020 = 1_577_836_800


def exported(job: Job, form: str, headers: dict[str, str]) -> Response:
    """A finished plan as a calendar, a page to print, or a table."""
    plan = Plan.model_validate_json(job.answer or "")
    every = headers | {"Content-Disposition": _named(plan.title, _ENDINGS[form])}
    if form != HTML and not plan.sessions:
        raise Problem("no-answer", f"The week holds no session: {plan.status.value}.")
    if form == HTML:
        return Response(render_html(plan), media_type=HTML, headers=every | {"Content-Security-Policy": _PAGE_POLICY})
    if form == CSV:
        return Response(render_csv(plan), media_type=CSV, headers=every)
    stamp, sequence = _revision(job)
    return Response(write_ics(plan, sequence=sequence, stamp=stamp), media_type=CALENDAR, headers=every)


def exported_block(job: Job, form: str, headers: dict[str, str]) -> Response:
    """A finished block as one calendar, one sheet to print, a table, or a picture."""
    block = Block.model_validate_json(job.answer or "")
    every = headers | {"Content-Disposition": _named(block.title, _ENDINGS[form])}
    if form == HTML:
        return Response(
            render_block_html(block), media_type=HTML, headers=every | {"Content-Security-Policy": _PAGE_POLICY}
        )
    if form == CSV:
        return Response(block_csv(block), media_type=CSV, headers=every)
    if form == SVG:
        drawn = io.BytesIO()
        draw_block(asked_rows(block), block.weeks, drawn)
        return Response(drawn.getvalue(), media_type=SVG, headers=every | {"Content-Security-Policy": _PAGE_POLICY})
    stamp, sequence = _revision(job)
    return Response(write_block_ics(block, sequence=sequence, stamp=stamp), media_type=CALENDAR, headers=every)


def _named(title: str, ending: str) -> str:
    """The Content-Disposition of a file named after a title (RFC 6266): plain, and with every letter it has."""
    # What no file system takes in a name, and what would steer a terminal.
    words = "".join(c if c.isprintable() and c not in '\\/:*?"<>|' else " " for c in title).split()
    name = " ".join(words)[:_MOST_NAME].strip(" .") or "week"
    plain = "".join(c if c.isascii() else "_" for c in name)
    return f"inline; filename=\"{plain}.{ending}\"; filename*=UTF-8''{quote(f'{name}.{ending}', safe='')}"


def _revision(job: Job) -> tuple[dt.datetime, int]:
    """When it was made, and a number that is higher for later plans of one week, so that calendars take their times."""
    stamp = job.ended_at or job.created_at
    return stamp, max(0, int(stamp.timestamp()) - _EPOCH_2020)
