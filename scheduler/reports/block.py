"""A block on the terminal, as comma-separated values, and as one sheet to print."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table

from scheduler.domain.block import OUTLOOK, Block, BlockRow, BlockWeek, MuscleWeek, WeekRole
from scheduler.domain.log import LogReport
from scheduler.domain.plan import Entry, PlannedSession, Role
from scheduler.domain.wording import listed, short_day_time
from scheduler.reports import wording
from scheduler.reports.console import Ink, Page
from scheduler.reports.terminal import render_plan

if TYPE_CHECKING:
    from jinja2 import Template

_FEW_ROWS = 12


def render_block(block: Block, console: Console, *, verbose: bool = False) -> None:
    """The weeks, the muscles over them, what the block's referee says, cautions."""
    page = Page(console)
    page.say(block.title, "bold")
    page.say(f"{_count(block)}, for {block.brief.lifter.name}: {block.status}.")
    for line in block.method:
        page.say(line)
    console.print()
    console.print(_weeks_table(block, page.ink))
    for weeks, text in remarks(block):
        page.say(f"{weeks}: {text}", indent=2)
    page.heading("Counted sets by week")
    console.print(_muscles_table(block, page.ink, verbose=verbose))
    page.say(
        "Hits: sessions a week that hit the muscle. Exerc.: distinct exercises over the block, and how many are asked."
    )
    page.say(f"{block.distinct_exercises} distinct exercises in all.")
    _findings(block, page, verbose=verbose)
    page.cautions(block.cautions)


def _count(block: Block) -> str:
    monday = block.monday(1)
    easy = sum(w.role is WeekRole.EASY for w in block.weeks)
    of_each = f"{len(block.weeks) - easy} building and {easy} easy" if easy else f"{len(block.weeks)} building"
    weeks = "week" if (easy or len(block.weeks)) == 1 else "weeks"
    return f"{of_each} {weeks} from {wording.date(monday)} {monday.year}"


def _weeks_table(block: Block, ink: Ink) -> Table:
    table = Table(box=None, pad_edge=False)
    words = ("Monday", "Answer")
    for head in ("Week", "Monday", "Path", "In reserve", "Sessions", "Min", "Sets", "Wishes", "Answer"):
        table.add_column(head, justify="left" if head in words else "right")
    for week in block.weeks:
        sessions = week.plan.sessions
        wishes = str(week.plan.tiers[0].value) if week.plan.tiers else "-"
        cells = (
            str(week.number),
            f"{wording.short_date(week.plan.brief.week.start)} {week.role}",
            "" if week.path_percent is None else f"{week.path_percent} %",
            str(week.reps_in_reserve),
            str(len(sessions)),
            str(sum(s.minutes for s in sessions)),
            str(week_sets(week)),
            wishes,
            ", ".join(
                [
                    week.plan.status.value,
                    *(["an outlook"] if week.outlook else []),
                    *([f"patch {week.patch}"] if week.patch else []),
                ]
            ),
        )
        table.add_row(*map(ink, cells))
    return table


def remarks(block: Block) -> list[tuple[str, str]]:
    """What is to be said of single weeks, each once: the weeks in words, and the text."""
    found: dict[str, list[int]] = {}
    for week in block.weeks:
        for text in (*week.moved, *week.notes, *([OUTLOOK] if week.outlook else [])):
            found.setdefault(text, []).append(week.number)
    return [(_weeks_in_words(numbers), text) for text, numbers in found.items()]


def _weeks_in_words(numbers: Sequence[int]) -> str:
    """``week 2``, ``weeks 2 to 5``, ``weeks 2, 4 and 6 to 8``."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    parts = [f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs]
    return f"{'week' if len(numbers) == 1 else 'weeks'} {listed(parts)}"


def week_sets(week: BlockWeek) -> int:
    """Working sets of a week."""
    return sum(s.working_sets for s in week.plan.sessions)


def _muscles_table(block: Block, ink: Ink, *, verbose: bool) -> Table:
    """Cells stay whole also on 80 columns with nine weeks; names give way."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("Muscle", no_wrap=True, max_width=14)
    for week in block.weeks:
        table.add_column(str(week.number), justify="right", no_wrap=True)
    table.add_column("Hits", justify="right", no_wrap=True)
    table.add_column("Exerc.", justify="right", no_wrap=True)
    for row in asked_rows(block, verbose=verbose):
        asked = f"/{row.distinct_asked}" if row.distinct_asked is not None else ""
        cells = (f"{m.counted:g}" for m in row.weeks)
        hits = sorted({m.hits for m in row.weeks})
        span = f"{hits[0]}-{hits[-1]}" if len(hits) > 1 else str(hits[0])
        table.add_row(*map(ink, (row.name.split(" (")[0], *cells, span, f"{len(row.exercises)}{asked}")))
        if verbose and len(hits) > 1:
            table.add_row("  hits", *(str(m.hits) for m in row.weeks), "", "")
        if verbose and any(m.load_kg is not None for m in row.weeks):
            table.add_row("  kg moved", *("" if m.load_kg is None else f"{m.load_kg:.0f}" for m in row.weeks), "", "")
    table.add_row("in reserve", *(str(w.reps_in_reserve) for w in block.weeks), "", "")
    return table


def asked_rows(block: Block, *, verbose: bool = False) -> Sequence[BlockRow]:
    """Muscles with a goal; verbose: all."""
    found = [r for r in block.rows if verbose or any(m.aim is not None for m in r.weeks)]
    return found or block.rows[:_FEW_ROWS]


def _findings(block: Block, page: Page, *, verbose: bool) -> None:
    page.heading("Over the block")
    for finding in block.findings:
        word = "kept" if finding.kept else "broken" if finding.must else "gives way"
        page.say(f"{word}: {finding.sentence}", indent=2)
        for text in finding.found if verbose else () if finding.kept else finding.found[:3]:
            page.say(text, indent=6)
        if not verbose and not finding.kept and len(finding.found) > 3:
            page.say(f"and {len(finding.found) - 3} more", indent=6)


def render_log(report: LogReport, block: Block, console: Console) -> None:
    """What was done beside what was planned, what follows, and the next week."""
    page = Page(console)
    zone = block.brief.week.tz
    page.say(f"Week {report.week}: done beside planned", "bold")
    for session in report.sessions:
        when = session.planned or session.done
        state = "missed" if session.done is None else "done"
        if session.planned and session.done and session.planned != session.done:
            state = f"done {short_day_time(session.done.astimezone(zone))}"
        planned = "" if session.planned else ", not planned"
        page.say(f"{short_day_time(when.astimezone(zone))} {session.name}: {state}{planned}" if when else "", indent=2)
        for e in session.exercises if session.done is not None else ():
            if e.sentence == "as planned":
                continue
            estimate = ""
            if e.estimate_after_kg is not None and e.estimate_after_kg != e.estimate_before_kg:
                was = "" if e.estimate_before_kg is None else f"{e.estimate_before_kg:g} to "
                estimate = f"; estimated 1RM {was}{e.estimate_after_kg:g} kg"
            page.say(f"{e.name}: {e.sentence}{estimate}", indent=6)
    for text in (report.formula, *report.behind, *report.notes):
        page.say(text, indent=2)
    if report.easy_week:
        page.heading("Make the next week an easy one (--easy)?")
        for text in report.easy_week:
            page.say(text, indent=2)
    console.print()
    following = next((w for w in block.weeks if w.number == report.week + 1), None)
    if following is None:
        page.say("The block is at its end.")
        return
    page.say(f"Next: week {following.number}, {following.role}")
    console.print()
    render_plan(following.plan, console)


def block_csv(block: Block) -> str:
    """One row a muscle and week."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(
        ["week", "monday", "role", "muscle", "aim (sets)", "direct (sets)", "counted (sets)", "hits", "load (kg)",
         "reps in reserve", "outlook"]
    )  # fmt: skip
    for n, week in enumerate(block.weeks):
        for row in block.rows:
            m = row.weeks[n]
            rows.writerow(
                [week.number, week.plan.brief.week.start, week.role, row.target, _number(m.aim), _number(m.direct),
                 _number(m.counted), m.hits, _number(m.load_kg), m.reps_in_reserve, "outlook" if week.outlook else ""]
            )  # fmt: skip
    return text.getvalue()


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


# --- the sheet ----------------------------------------------------------------------------------------------------


def render_block_html(block: Block) -> str:
    """One sheet: for each session of the week a table of its exercises by weeks. All text is escaped."""
    return _template().render(
        title=wording.plain(block.title),
        lifter=wording.plain(block.brief.lifter.name),
        story=wording.plain(block.brief.story or ""),
        line=_count(block),
        status=block.status,
        weeks=[
            {
                "number": w.number,
                "date": wording.short_date(w.plan.brief.week.start),
                "role": w.role.value,
                "reserve": w.reps_in_reserve,
                "outlook": w.outlook,
            }
            for w in block.weeks
        ],
        sessions=_sheet(block),
        remarks=[(weeks.capitalize(), wording.plain(text)) for weeks, text in remarks(block)],
        muscles=[{"name": row.name, "cells": [_muscle_cell(m) for m in row.weeks]} for row in asked_rows(block)],
        findings=[f for f in block.findings if not f.kept],
        cautions=block.cautions,
        method=block.method,
    )


@cache
def _template() -> Template:
    import jinja2

    loader = jinja2.FileSystemLoader(Path(__file__).parent)
    env = jinja2.Environment(loader=loader, autoescape=True, undefined=jinja2.StrictUndefined)
    env.trim_blocks = env.lstrip_blocks = True
    return env.get_template("block.html")


def _muscle_cell(m: MuscleWeek) -> str:
    load = "" if m.load_kg is None else f", {m.load_kg:.0f} kg"
    return f"{m.counted:g} ({m.hits}){load}"


def _sheet(block: Block) -> list[dict[str, Any]]:
    """By kind and number of the session in its week: its exercises, and what each week asks of them."""
    columns: dict[tuple[str, int], dict[int, PlannedSession]] = {}
    for week in block.weeks:
        count: dict[str, int] = {}
        for session in week.plan.sessions:
            count[session.kind] = count.get(session.kind, 0) + 1
            columns.setdefault((session.kind, count[session.kind]), {})[week.number] = session
    zone = block.brief.week.tz
    left_out = {week.number: week.left_out for week in block.weeks}

    def usual_time(by_week: dict[int, PlannedSession]) -> tuple[int, dt.time]:
        """The day and time in the middle of those that the weeks have."""
        times = sorted((s.start.astimezone(zone).weekday(), s.start.astimezone(zone).time()) for s in by_week.values())
        return times[len(times) // 2]

    found = []
    for by_week in sorted(columns.values(), key=usual_time):
        rows: dict[str, dict[str, Any]] = {}
        for number, session in by_week.items():
            for entry in session.entries:
                key = f"{entry.role} {entry.exercise}"
                row = rows.setdefault(key, {"name": wording.plain(entry.name), "role": entry.role, "weeks": {}})
                row["weeks"][number] = "if cleared" if entry.exercise in left_out[number] else sheet_cell(entry)
        first = next(iter(by_week.values()))
        found.append(
            {
                "name": wording.plain(first.name),
                "when": [
                    short_day_time(by_week[w.number].start.astimezone(zone)) if w.number in by_week else ""
                    for w in block.weeks
                ],
                "rows": [
                    {
                        "name": row["name"],
                        "note": "" if row["role"] is Role.MAIN else row["role"].value.replace("_", "-"),
                        "cells": [row["weeks"].get(w.number, "") for w in block.weeks],
                    }
                    for row in rows.values()
                ],
            }
        )
    return found


def sheet_cell(entry: Entry) -> str:
    load = "" if entry.load_kg is None else f", {entry.load_kg:g} kg"
    return f"{entry.sets} × {entry.reps}{load}"
