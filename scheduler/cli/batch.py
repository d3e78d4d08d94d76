"""The command for many briefs at once."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.shared import EXIT_BAD_INPUT, EXIT_FAULT, EXIT_IMPOSSIBLE, EXIT_NO_PLAN, FILE, guarded
from scheduler.domain.errors import InputError

if TYPE_CHECKING:
    from scheduler.batch import Summary


@click.command()
@click.argument("briefs", nargs=-1, required=True, type=FILE)
@click.option("-o", "--out", required=True, type=FILE, help="A file that ends with .ndjson, or a folder.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Processes; left out: one for each core.")
@click.option("--cluster", metavar="ADDRESS", help="Solve on the Dask cluster at tcp://host:8786 instead.")
@click.option(
    "--seconds", type=click.FloatRange(min=0.1), help="Stop each brief after so many seconds; may not repeat."
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=0, show_default=True, help="Seed of the solver.")
@guarded
def batch(
    *, briefs: tuple[Path, ...], out: Path, workers: int | None, cluster: str | None, seconds: float | None, seed: int
) -> None:
    """Solve many BRIEFS: files, folders of them, or .ndjson files with a brief a line.

    Every answer goes to OUT as it comes: brief, number (its place among those asked for), status, and plan or faults.
    Run the same command again to go on after a stop: what has its answer is not solved again, faults are tried again,
    and a brief that has changed is solved anew.

    Exit code: the first that fits of 1 a fault of this program, 2 a bad brief, 4 one stopped without a plan, or Ctrl-C,
    3 an impossible week, 0 a plan for each.
    """
    from scheduler.batch import runners, solve_batch
    from scheduler.week.solver import Limits

    if cluster is not None and workers is not None:
        raise InputError.single("--workers", "a cluster has workers of its own", "Leave out --workers or --cluster")
    started = time.perf_counter()
    runner = runners.cluster(cluster) if cluster is not None else runners.local(workers)
    try:
        with _bar() as tell:
            found = solve_batch(briefs, out, runner=runner, limits=Limits(wall_seconds=seconds, seed=seed), tell=tell)
    except KeyboardInterrupt:
        click.echo(f"Stopped. The answers so far are in {out}; the same command goes on from there.", err=True)
        sys.exit(EXIT_NO_PLAN)
    click.echo(summary_line(found, out, time.perf_counter() - started), err=True)
    sys.exit(batch_exit_code(found))


def summary_line(found: Summary, out: Path, seconds: float) -> str:
    parts = [f"{number} {status}" for status, number in sorted(found.statuses.items())]
    parts += [f"{found.before} answered before"] if found.before else []
    fresh = found.statuses.total()
    pace = f"; {seconds:.1f} s, {fresh / seconds:.2f} weeks a second" if fresh else ""
    return f"{found.asked} briefs: {', '.join(parts)}{pace}. Answers: {out}"


def batch_exit_code(found: Summary) -> int:
    from scheduler.batch.solving import BAD_BRIEF, PROGRAM_FAULT
    from scheduler.domain.plan import PlanStatus

    for status, code in (
        (PROGRAM_FAULT, EXIT_FAULT),
        (BAD_BRIEF, EXIT_BAD_INPUT),
        (PlanStatus.STOPPED.value, EXIT_NO_PLAN),
        (PlanStatus.IMPOSSIBLE.value, EXIT_IMPOSSIBLE),
    ):
        if found.statuses[status]:
            return code
    return 0


@contextmanager
def _bar() -> Iterator[Callable[[int, int], None] | None]:
    """A bar on standard error; none when piped."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("weeks"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True)) as progress:
        task = progress.add_task("weeks", total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)
