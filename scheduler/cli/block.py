"""The commands of a block: plan one, and log what was done."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from scheduler.cli.questions import patch_file_of, set_patches
from scheduler.cli.shared import EXIT_IMPOSSIBLE, EXIT_NO_PLAN, FILE, console, guarded
from scheduler.domain.errors import InputError

if TYPE_CHECKING:
    from scheduler.blocks.build import BlockProgress
    from scheduler.domain.block import Block

OUTS = (".json", ".ics", ".html", ".csv", ".svg", ".png")
WHY_SECONDS = 6.0


@click.command()
@click.argument("brief", type=FILE)
@click.option("--weeks", type=click.IntRange(1, 26), help="Weeks that build; left out: 8, or what BRIEF says.")
@click.option("--easy-weeks", type=click.IntRange(0, 26), help="Easy weeks on top, each after a run; left out: 1.")
@click.option(
    "--patch",
    "patch_files",
    multiple=True,
    metavar="WEEKS=FILE",
    help="A JSON merge patch of the brief for some weeks: 3=f.yaml, 3-4=f.yaml, 5-=f.yaml; repeatable.",
)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="WEEKS:PATH=VALUE",
    help="The same for one value: '5-: sessions=3'; repeatable.",
)
@click.option("--calendar", "calendars", type=FILE, multiple=True, help="An iCalendar file of busy times; repeatable.")
@click.option(
    "-o", "--out", "outs", type=FILE, multiple=True, help=f"Write to this file; ends in {', '.join(OUTS)}; repeatable."
)
@click.option("--beside", type=FILE, help="A block that was planned before (.json): say what is different.")
@click.option("--json", "as_json", is_flag=True, help="The whole block as JSON on standard output.")
@click.option("--seconds", type=click.FloatRange(min=0.1), help="Seconds for each week; such an end may not repeat.")
@click.option("-v", "--verbose", is_flag=True, help="Every muscle and every finding.")
@guarded
def block(
    *,
    brief: Path,
    weeks: int | None,
    easy_weeks: int | None,
    patch_files: tuple[str, ...],
    changes: tuple[str, ...],
    calendars: tuple[Path, ...],
    outs: tuple[Path, ...],
    beside: Path | None,
    as_json: bool,
    seconds: float | None,
    verbose: bool,
) -> None:
    """Plan a block of weeks for BRIEF: weeks that build, easy ones, each planned from the one before.

    BRIEF is the brief of a week, or a block: brief, changes, block. Exit code 3 when a week is impossible.
    """
    from scheduler.answers.merge_patch import merge_patch
    from scheduler.blocks.build import plan_block
    from scheduler.briefs import read_block, read_whole_block
    from scheduler.processes import ctrl_c_calls
    from scheduler.week.solver import Cancel, Limits

    _check_outs(outs)
    before = None if beside is None else read_whole_block(beside)
    settings: dict[str, Any] = {}
    if weeks is not None:
        settings["weeks"] = weeks
    if easy_weeks is not None:
        settings["easy_weeks"] = easy_weeks
    asked, own = read_block(brief, calendars=calendars, settings=settings)
    patches: Mapping[str, Any] = {key: dict(value) for key, value in own.patches.items()}
    for text in patch_files:
        key, equals, name = text.partition("=")
        if not equals:
            raise InputError.single("--patch", f"{text!r} names no weeks", "Write 3-4=travel.yaml")
        patches = merge_patch(patches, {key.strip(): patch_file_of(Path(name))})
    patches = merge_patch(patches, set_patches(asked, changes))
    own = own.model_copy(update={"patches": patches})
    cancel = Cancel()
    with ctrl_c_calls(cancel.set), _progress() as progress:
        found = plan_block(asked, own, limits=Limits(wall_seconds=seconds), cancel=cancel, progress=progress)
    write_block(found, outs)
    if as_json:
        click.echo(found.model_dump_json(indent=2))
    else:
        from scheduler.reports.block import render_block

        render_block(found, console(), verbose=verbose)
        if before is not None:
            _beside(before, found)
        _why(found)
    sys.exit(block_exit_code(found))


@click.command("log")
@click.argument("block_file", metavar="BLOCK", type=FILE)
@click.argument("log_file", metavar="LOG", type=FILE)
@click.option(
    "--easy/--not-easy",
    default=None,
    help="Make the next week an easy one, the paths then wait for a week; left out: as chosen before.",
)
@click.option(
    "-o",
    "--out",
    "outs",
    type=FILE,
    multiple=True,
    help=f"Write the block anew; ends in {', '.join(OUTS)}; repeatable.",
)
@click.option("--json", "as_json", is_flag=True, help="Report and block as JSON on standard output.")
@click.option("--seconds", type=click.FloatRange(min=0.1), help="Seconds for the week; such an end may not repeat.")
@click.option("-v", "--verbose", is_flag=True, help="Every muscle and every finding.")
@guarded
def log(
    *,
    block_file: Path,
    log_file: Path,
    easy: bool | None,
    outs: tuple[Path, ...],
    as_json: bool,
    seconds: float | None,
    verbose: bool,
) -> None:
    """Log what was done in the next week of BLOCK and plan the week after it.

    BLOCK is made with: weekwright block BRIEF -o block.json. LOG is YAML or JSON (week, sessions), or .csv with the
    columns date, kind, exercise, sets, reps, load_kg, reps_in_reserve, pain, start, minutes, place, state. A session
    that is not listed counts as missed; one that is not planned, or an exercise that is not, counts as extra work.

    An exercise that hurt is left out of the weeks after it until a log says that it was looked at: cleared: [EXERCISE],
    or a row of a .csv with the state cleared.

    To correct a week, log it again: what is entered for a kind of session on a day takes the place of what was logged
    for it on that day, the rest stays. So a week may also be logged session by session.
    """
    import json

    from scheduler.answers.variants import Stopped
    from scheduler.blocks.log import log_week
    from scheduler.briefs import read_whole_block
    from scheduler.log_files import read_log
    from scheduler.processes import ctrl_c_calls
    from scheduler.reports.block import render_block, render_log
    from scheduler.week.solver import Cancel, Limits

    _check_outs(outs)
    before = read_whole_block(block_file)
    cancel = Cancel()
    try:
        with ctrl_c_calls(cancel.set):
            found, report = log_week(
                before, read_log(log_file), easy=easy, limits=Limits(wall_seconds=seconds), cancel=cancel
            )
    except Stopped:
        click.echo("Stopped before the next week was planned: nothing is written; log it again.", err=True)
        sys.exit(EXIT_NO_PLAN)
    write_block(found, outs)
    if as_json:
        both = {"report": report.model_dump(mode="json"), "block": found.model_dump(mode="json")}
        click.echo(json.dumps(both, indent=2, ensure_ascii=False))
    else:
        render_log(report, found, console())
        if verbose:
            render_block(found, console(), verbose=True)
        _why(found)
    sys.exit(block_exit_code(found))


def _beside(before: Block, found: Block) -> None:
    """What is different in a block beside the one before."""
    from scheduler.blocks.figures import beside

    console().print(f"\nBeside the block before: {before.title}", markup=False)
    for text in [*beside(before, found)] or ["nothing is different"]:
        console().print(f"  {text}", markup=False)


def _why(found: Block) -> None:
    """What clashes in a week that is impossible."""
    week = found.impossible
    if week is not None:
        from scheduler.answers.conflicts import explain
        from scheduler.blocks.weeks import kept_from
        from scheduler.cli.why import explanation_text

        click.echo(f"\nWeek {week.number} is impossible after the weeks before it:")
        reasons = explain(
            week.plan.brief, budget_seconds=WHY_SECONDS, most_conflicts=1, protected=kept_from(found, week)
        )
        click.echo(explanation_text(reasons, week=None if found.logs else week.number))


def block_exit_code(found: Block) -> int:
    from scheduler.domain.plan import PlanStatus

    statuses = {week.plan.status for week in found.weeks if not week.plan.tiers}
    if PlanStatus.IMPOSSIBLE in statuses:
        return EXIT_IMPOSSIBLE
    return EXIT_NO_PLAN if statuses else 0


def _check_outs(outs: tuple[Path, ...]) -> None:
    strange = [out for out in outs if out.suffix not in OUTS]
    if strange:
        raise InputError.single("-o", f"{strange[0].name} is no {', '.join(OUTS)}", "End the name with one of these")


def write_block(found: Block, outs: tuple[Path, ...]) -> None:
    """Write a block to files, each by the end of its name."""
    from scheduler.calendars import write_block_ics
    from scheduler.reports.block import asked_rows, block_csv, render_block_html
    from scheduler.reports.picture import draw_block

    for out in outs:
        if out.suffix == ".json":
            out.write_text(found.model_dump_json(indent=2) + "\n", encoding="utf-8")
        elif out.suffix == ".ics":
            out.write_bytes(write_block_ics(found))
        elif out.suffix == ".html":
            out.write_text(render_block_html(found), encoding="utf-8")
        elif out.suffix == ".csv":
            out.write_text(block_csv(found), encoding="utf-8")
        else:
            draw_block(asked_rows(found), found.weeks, out)
        click.echo(f"wrote {out}", err=True)


@contextmanager
def _progress() -> Iterator[BlockProgress | None]:
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.status import Status

    with Status("the usual week", console=Console(stderr=True)) as status:

        def tell(week: int, of: int, answer: str) -> None:
            if week:
                status.console.print(f"week {week} of {of}: {answer}")
            status.update(f"week {week + 1} of {of}" if week < of else "the block's referee")

        yield tell
