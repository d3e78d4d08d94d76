"""The commands of the main job: plan, check, export, and looking things up."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from scheduler.cli.shared import EXIT_IMPOSSIBLE, FILE, console, exit_code, guarded, plan_json, progress_line, show
from scheduler.domain.errors import InputError

WHY_SECONDS = 6.0
"""What an impossible plan may spend on saying why."""
DOCUMENTS = ("brief", "plan", "block-request", "block", "log")
"""Those that have a schema; named here so that --help does not load them."""


@click.command()
@click.argument("brief", type=FILE)
@click.option("--calendar", "calendars", type=FILE, multiple=True, help="An iCalendar file of busy times; repeatable.")
@click.option("--json", "as_json", is_flag=True, help="The whole plan as JSON on standard output.")
@click.option("-o", "--out", type=FILE, help="Also write the plan as JSON to this file.")
@click.option(
    "--seconds", type=click.FloatRange(min=0.1), help="Stop after so many seconds; such an end may not repeat."
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=0, show_default=True, help="Seed of the solver.")
@click.option("-v", "--verbose", is_flag=True, help="Every rule, those with nothing to say too.")
@guarded
def plan(
    *,
    brief: Path,
    calendars: tuple[Path, ...],
    as_json: bool,
    out: Path | None,
    seconds: float | None,
    seed: int,
    verbose: bool,
) -> None:
    """Solve the week that BRIEF asks for and show it.

    Ctrl-C stops and shows the best week found so far.
    """
    from scheduler.briefs import read_brief
    from scheduler.planning import solve
    from scheduler.processes import ctrl_c_calls
    from scheduler.week.solver import Cancel, Limits

    asked = read_brief(brief, calendars=calendars)
    cancel = Cancel()
    with ctrl_c_calls(cancel.set), progress_line() as progress:
        found = solve(asked, limits=Limits(wall_seconds=seconds, seed=seed), cancel=cancel, progress=progress)
    text = plan_json(found)
    if out is not None:
        out.write_text(text + "\n", encoding="utf-8")
    if as_json:
        click.echo(text)
    else:
        show(found, verbose=verbose)
        if exit_code(found) == EXIT_IMPOSSIBLE:
            from scheduler.answers.conflicts import explain
            from scheduler.cli.why import explanation_text

            click.echo(explanation_text(explain(asked, budget_seconds=WHY_SECONDS, most_conflicts=1)))
    sys.exit(exit_code(found))


@click.command()
@click.argument("plan_file", metavar="PLAN", type=FILE)
@click.option("--brief", type=FILE, help="Check against this brief, not the plan's own.")
@click.option(
    "--against",
    "guidelines",
    multiple=True,
    help="Also hold it against a published guideline: acsm-2026, acsm-2009, who-2020, nsca or all; repeatable.",
)
@click.option("--json", "as_json", is_flag=True, help="The checked plan as JSON; with --against: plan and audit.")
@click.option("-v", "--verbose", is_flag=True, help="Every rule, those with nothing to say too.")
@guarded
def check(plan_file: Path, brief: Path | None, guidelines: tuple[str, ...], as_json: bool, verbose: bool) -> None:
    """Referee PLAN, one written by hand too: every rule, every figure, without a solver.

    A hand-written plan is YAML with brief: (a file or the brief itself) and sessions:, each with kind, start, end,
    place and entries: of exercise and sets. Exit code 3 when a must is broken.
    """
    from scheduler.briefs import read_brief, read_plan
    from scheduler.planning import check as referee_check

    own = read_brief(brief) if brief is not None else None
    asked, sessions = read_plan(plan_file, brief=own)
    report = referee_check(asked, sessions)
    if guidelines:
        from scheduler.answers.audit import audit
        from scheduler.reports.answers import render_audit

        found = audit(report.plan, guidelines)
    if as_json and guidelines:
        both = {"plan": report.plan.model_dump(mode="json"), "audit": found.model_dump(mode="json")}
        click.echo(json.dumps(both, indent=2, ensure_ascii=False))
    elif as_json:
        click.echo(plan_json(report.plan))
    else:
        show(report.plan, verbose=verbose)
        if guidelines:
            render_audit(found, console())
    sys.exit(0 if report.holds else EXIT_IMPOSSIBLE)


@click.command()
@click.argument("plan_file", metavar="PLAN", type=FILE)
@click.option("--format", "form", type=click.Choice(["ics", "html", "csv"]), help="Left out: by the name of --out.")
@click.option("-o", "--out", type=FILE, help="Write to this file; left out: standard output.")
@guarded
def export(plan_file: Path, form: str | None, out: Path | None) -> None:
    """Write PLAN (made with plan --json) as a calendar, a printable page or a table.

    A second import of the calendar updates its events instead of doubling them.
    """
    from scheduler.briefs import read_whole_plan

    form = form or (out.suffix.lstrip(".").lower() if out is not None else None)
    if form not in ("ics", "html", "csv"):
        raise InputError.single("--format", "no format given", "Write --format ics, html or csv")
    found = read_whole_plan(plan_file)
    if form != "html" and not found.sessions:
        raise InputError.single("sessions", f"the plan holds no session: {found.status.value}", "Export one that does")
    if form == "ics":
        from scheduler.calendars import write_ics

        data = write_ics(found)
    else:
        from scheduler.reports import render_csv, render_html

        data = (render_html(found) if form == "html" else render_csv(found)).encode()
    if out is None:
        sys.stdout.buffer.write(data)
    else:
        out.write_bytes(data)
        click.echo(f"wrote {out}", err=True)


@click.command()
@click.argument("part", required=False)
@click.argument("words", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="The rows as JSON.")
@guarded
def catalogue(part: str | None, words: tuple[str, ...], as_json: bool) -> None:
    """List what the program knows: muscles, groups, patterns, equipment, exercises, kinds, places, evidence, cautions.

    WORDS narrow it down: weekwright catalogue exercises row dumbbells
    """
    from scheduler.catalogue_search import rows, summary

    if part is None:
        click.echo(summary())
        return
    found = rows(part, words)
    if as_json:
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    for key, row in found.items():
        click.echo(key)
        for field, value in row.items():
            if value not in (None, "", [], False):
                click.echo(f"    {field.replace('_', ' ')}: {in_words(value)}")
    if not found:
        click.echo(f"No row of {part} has all of: {' '.join(words)}", err=True)


def in_words(value: Any) -> str:
    """A value of a catalogue row as a person reads it."""
    if isinstance(value, dict):
        return f"{value['least']} to {value['most']}" if set(value) == {"least", "most"} else str(value)
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "yes" if value is True else str(value)


@click.command()
@click.argument("what", type=click.Choice(DOCUMENTS))
def schema(what: str) -> None:
    """Print the JSON Schema of a document, for completion in an editor."""
    from scheduler.schemas import SCHEMAS

    click.echo(json.dumps(SCHEMAS[what](), indent=2))


@click.command()
@click.argument("path", type=FILE, default=Path("brief.yaml"))
@click.option("--monday", help="Monday of the week, as 2026-11-30; left out: the next one.")
@guarded
def new(path: Path, monday: str | None) -> None:
    """Write a commented starter brief to PATH (brief.yaml)."""
    from scheduler.starter import starter_brief

    text = starter_brief(monday)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InputError.single(str(path), "the file is there already", "Name another, or move it away") from None
    click.echo(f"wrote {path}; edit it, then: weekwright plan {path}")
