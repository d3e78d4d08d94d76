"""What the commands share: exit codes, errors in plain words, showing a plan, the progress line."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from scheduler.domain.errors import InputError, RefereeDisagreement

if TYPE_CHECKING:
    from rich.console import Console

    from scheduler.domain.brief import Brief
    from scheduler.domain.plan import Plan

EXIT_FAULT, EXIT_BAD_INPUT, EXIT_IMPOSSIBLE, EXIT_NO_PLAN = 1, 2, 3, 4

FILE = click.Path(path_type=Path)
F = TypeVar("F", bound=Callable[..., Any])


def guarded(command: F) -> F:
    """Turn the errors that a user can mend into clear messages and exit codes; never a traceback."""

    @wraps(command)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except InputError as error:
            click.echo("This cannot be used as it is:", err=True)
            for fault in error.faults:
                click.echo(f"  {fault}", err=True)
            sys.exit(EXIT_BAD_INPUT)
        except RefereeDisagreement as error:
            click.echo(f"A fault of this program, please report it with the brief: {error}", err=True)
            sys.exit(EXIT_FAULT)
        except BrokenPipeError:
            sys.exit(0)

    return run  # type: ignore[return-value]


def plan_json(found: Plan) -> str:
    return found.model_dump_json(indent=2)


def exit_code(found: Plan) -> int:
    from scheduler.domain.plan import PlanStatus

    if found.status is PlanStatus.IMPOSSIBLE:
        return EXIT_IMPOSSIBLE
    return EXIT_NO_PLAN if found.status is PlanStatus.STOPPED and not found.tiers else 0


def subject(path: Path) -> tuple[Brief, Plan | None]:
    """A brief; or a plan that the program wrote, and then its brief with it."""
    from scheduler.briefs import read_brief, read_whole_plan
    from scheduler.domain.plan import PLAN_FORMAT

    try:
        with path.open("rb") as file:
            is_plan = PLAN_FORMAT.encode() in file.read(200)
    except OSError:
        is_plan = False
    if is_plan:
        plan = read_whole_plan(path)
        return plan.brief, plan
    return read_brief(path), None


def console() -> Console:
    from rich.console import Console

    return Console(highlight=False)


def show(found: Plan, *, verbose: bool) -> None:
    from scheduler.reports import render_plan

    render_plan(found, console(), verbose=verbose)


@contextmanager
def progress_line() -> Iterator[Callable[[int, str, int, int, float], None] | None]:
    """One line on standard error that tells tier, best value and bound while the solver works; none when piped."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.status import Status

    with Status("building the week", console=Console(stderr=True)) as status:

        def tell(tier: int, name: str, value: int, bound: int, seconds: float) -> None:
            status.update(f"tier {tier} ({name}): best {value}, bound {bound}, {seconds:.1f} s. Ctrl-C keeps the best")

        yield tell
