"""The commands that ask about a week: re-plan, what if, why not, what else, what does it cost."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from scheduler.cli.shared import EXIT_IMPOSSIBLE, EXIT_NO_PLAN, FILE, console, exit_code, guarded, plan_json, subject
from scheduler.domain.errors import InputError

if TYPE_CHECKING:
    from scheduler.answers.alternatives import Loss
    from scheduler.domain.brief import Brief
    from scheduler.week.solver import Limits

F = TypeVar("F", bound=Callable[..., Any])
NO_NAME = "changes"
EXPLAIN_SECONDS = 20.0
"""What an answer may spend on saying why something is impossible, where no budget is given."""


def _asked(command: F) -> F:
    """The options that all questions have."""
    for option in (
        click.option("--json", "as_json", is_flag=True, help="The whole answer as JSON on standard output."),
        click.option(
            "--seconds", type=click.FloatRange(min=0.1), help="Seconds for each search; such an end may not repeat."
        ),
    ):
        command = option(command)
    return command


_settings = click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="PATH=VALUE",
    help="Set a value of the brief: goals.lats.aim=12; a list grows with busy+={...}; repeatable.",
)


@click.command()
@click.argument("plan_file", metavar="PLAN", type=FILE)
@click.option("--done", multiple=True, help="A session done as planned: mon, or 'mon back'; repeatable.")
@click.option("--missed", multiple=True, help="A session that was missed; repeatable.")
@click.option("--now", "now_text", help="Nothing starts before, as 2026-12-02T12:00; left out: after what is past.")
@_settings
@click.option("--patch", "patch_file", type=FILE, help="A JSON merge patch of the brief, as JSON or YAML.")
@click.option("--calendar", "calendars", type=FILE, multiple=True, help="An iCalendar file of new busy times.")
@click.option("-o", "--out", type=FILE, help="Also write the new plan as JSON to this file.")
@_asked
@guarded
def replan(
    *,
    plan_file: Path,
    done: tuple[str, ...],
    missed: tuple[str, ...],
    now_text: str | None,
    settings: tuple[str, ...],
    patch_file: Path | None,
    calendars: tuple[Path, ...],
    out: Path | None,
    seconds: float | None,
    as_json: bool,
) -> None:
    """Plan the rest of PLAN's week anew: what is done is fixed, the rest moves as little as possible.

    PLAN is made with: weekwright plan BRIEF --json. Each change comes with the rule that forces it.
    """
    from scheduler.answers.merge_patch import merge_patch
    from scheduler.answers.replan import replan as answer_of
    from scheduler.briefs import read_whole_plan, with_calendars
    from scheduler.reports.answers import render_replanned

    old = read_whole_plan(plan_file)
    changes: dict[str, Any] = patch_file_of(patch_file) if patch_file is not None else {}
    if calendars:
        busy = with_calendars(old.brief, [(str(path), path) for path in calendars]).model_dump(mode="json")["busy"]
        changes = merge_patch(changes, {"busy": busy})
    for patch in set_patches(old.brief, settings).values():
        changes = merge_patch(changes, patch)
    answer = answer_of(
        old,
        done=done,
        missed=missed,
        now=_moment(now_text),
        changes=changes or None,
        limits=_limits(seconds),
        explain_seconds=seconds or EXPLAIN_SECONDS,
    )
    if out is not None:
        out.write_text(plan_json(answer.plan) + "\n", encoding="utf-8")
    if as_json:
        click.echo(answer.model_dump_json(indent=2))
    else:
        render_replanned(answer, console())
    sys.exit(exit_code(answer.plan))


@click.command("what-if")
@click.argument("brief_file", metavar="BRIEF", type=FILE)
@click.argument("patch_files", metavar="[PATCH]...", nargs=-1, type=FILE)
@_settings
@_asked
@guarded
def what_if(
    *, brief_file: Path, patch_files: tuple[Path, ...], settings: tuple[str, ...], seconds: float | None, as_json: bool
) -> None:
    """The week of BRIEF with changes, beside the week as it is. BRIEF may also be a plan made with --json.

    Each PATCH is a JSON merge patch (JSON or YAML), one variant a file, or several under variants:. All --set
    together are one more variant; give several by name: --set 'more lats: goals.lats.aim=16'.
    """
    from scheduler.answers.variants import what_if as answer_of
    from scheduler.reports.answers import render_what_if

    brief, base = subject(brief_file)
    patches: dict[str, Any] = {}
    for path in patch_files:
        patch = patch_file_of(path)
        named = patch.get("variants")
        patches |= named if isinstance(named, dict) else {path.stem: patch}
    patches |= set_patches(brief, settings)
    if not patches:
        raise InputError.single("what-if", "no change is given", "Add a patch file, or --set goals.lats.aim=12")
    answer = answer_of(brief, patches, base=base, limits=_limits(seconds), explain_seconds=seconds or EXPLAIN_SECONDS)
    if as_json:
        click.echo(answer.model_dump_json(indent=2))
    else:
        render_what_if(answer, console())
    sys.exit(0 if any(v.plan.tiers for v in answer.variants) else EXIT_IMPOSSIBLE)


@click.command("why-not")
@click.argument("brief_file", metavar="BRIEF", type=FILE)
@click.argument("demand", nargs=-1, required=True)
@_asked
@guarded
def why_not(*, brief_file: Path, demand: tuple[str, ...], seconds: float | None, as_json: bool) -> None:
    """Force DEMAND into the week of BRIEF: what it costs tier by tier, or what it breaks.

    DEMAND is a few words, "back on thu at 18:00", "squat tue 18", "barbell_back_squat 4 sets in legs", "legs at home",
    or JSON: {"kind": "back", "day": "thu", "start": "18:00"}. BRIEF may also be a plan made with --json. Exit code 3
    when it is impossible, 4 when the time did not suffice to tell.
    """
    from scheduler.answers.demands import read_demand
    from scheduler.answers.why_not import why_not as answer_of
    from scheduler.documents import parse_text, validate
    from scheduler.domain.variants import Demand, Possibility
    from scheduler.planning import instance_of
    from scheduler.reports.answers import render_why_not

    brief, base = subject(brief_file)
    text = " ".join(demand)
    if text.lstrip().startswith("{"):
        asked = validate(Demand, parse_text(text.encode(), source="demand.json"))
    else:
        asked = read_demand(text, instance_of(brief))
    answer = answer_of(brief, asked, base=base, limits=_limits(seconds), explain_seconds=seconds or EXPLAIN_SECONDS)
    if as_json:
        click.echo(answer.model_dump_json(indent=2))
    else:
        render_why_not(answer, console())
    codes = {Possibility.IMPOSSIBLE: EXIT_IMPOSSIBLE, Possibility.UNKNOWN: EXIT_NO_PLAN}
    sys.exit(codes.get(answer.possibility, 0))


@click.command()
@click.argument("brief_file", metavar="BRIEF", type=FILE)
@click.option("-k", "count", type=click.IntRange(1, 50), default=5, show_default=True, help="How many.")
@click.option("--apart", type=click.IntRange(1, 100), default=2, show_default=True, help="Least moves between any two.")
@click.option(
    "--loss",
    "losses",
    multiple=True,
    metavar="LOSS",
    help="What each may lose: 10 (per cent, in all tiers but wishes and change), 3=20% or 1=4 in one tier; repeatable.",
)
@_asked
@guarded
def alternatives(
    *, brief_file: Path, count: int, apart: int, losses: tuple[str, ...], seconds: float | None, as_json: bool
) -> None:
    """Weeks nearly as good as the best of BRIEF, but different, and what each trades.

    A move is a session an hour away or more, or on another day, one more or fewer, or an exercise that comes into the
    week or leaves it. BRIEF may also be a plan made with --json.
    """
    from scheduler.answers.alternatives import Loss
    from scheduler.answers.alternatives import alternatives as answer_of
    from scheduler.reports.answers import render_alternatives

    brief, best = subject(brief_file)
    later, by_tier = Loss(10), {}
    for text in losses:
        tier, loss = _loss(text)
        if tier is None:
            later = loss
        else:
            by_tier[tier] = loss
    answer = answer_of(brief, count=count, apart=apart, loss=later, losses=by_tier, best=best, limits=_limits(seconds))
    if as_json:
        click.echo(answer.model_dump_json(indent=2))
    elif answer.best.tiers:
        render_alternatives(answer, console())
    else:
        click.echo(f"There is no week to be near to: {answer.best.status.value}.")
    sys.exit(exit_code(answer.best))


def _loss(text: str) -> tuple[int | None, Loss]:
    """``10`` and ``10%`` are per cent in every tier; ``3=20%`` per cent and ``1=4`` an amount in one."""
    from scheduler.answers.alternatives import Loss
    from scheduler.rules import SAME_WORK_FROM

    tier, equals, amount = text.rpartition("=")
    try:
        number = float(amount.removesuffix("%"))
        found = int(tier) if equals else None
    except ValueError:
        number, found = -1.0, None
    if found is not None and not 1 <= found < SAME_WORK_FROM:
        last = SAME_WORK_FROM - 1
        advice = f"Name one of tiers 1 to {last}; later ones compare like weeks only"
        raise InputError.single("--loss", f"{text!r}: no week loses anything in tier {found}", advice)
    if not 0 <= number < float("inf"):
        raise InputError.single("--loss", f"{text!r} is no loss", "Write 10, 3=20% or 1=4")
    return found, Loss(number, percent=found is None or amount.endswith("%"))


@click.command()
@click.argument("brief_file", metavar="BRIEF", type=FILE)
@click.option(
    "--vary", "paths", multiple=True, required=True, metavar="PATH", help="A number of the brief; once or twice."
)
@click.option(
    "--over", "ranges", multiple=True, required=True, metavar="RANGE", help="Its values: 1..3, 36..48/4, 2,3,5."
)
@click.option("--show", help="The figure to draw; left out: the first that changes.")
@click.option("-o", "--out", "outs", type=FILE, multiple=True, help="Write .csv, .svg or .png; repeatable.")
@_asked
@guarded
def tradeoff(
    *,
    brief_file: Path,
    paths: tuple[str, ...],
    ranges: tuple[str, ...],
    show: str | None,
    outs: tuple[Path, ...],
    seconds: float | None,
    as_json: bool,
) -> None:
    """Sweep one or two numbers of BRIEF and say what each value costs: a table, CSV and a picture.

    Each --vary has its --over: --vary kinds.back.per_week.most --over 1..3
    """
    from scheduler.answers.tradeoff import Vary, read_values, sweep, varying
    from scheduler.reports.answers import render_sweep
    from scheduler.reports.picture import draw_sweep, sweep_csv

    if len(paths) != len(ranges) or len(paths) > 2:
        raise InputError.single("--vary", "each number needs its range, and there are at most two", "Add --over 1..3")
    strange = [out for out in outs if out.suffix not in (".csv", ".svg", ".png")]
    if strange:
        raise InputError.single("-o", f"{strange[0].name} is no .csv, .svg or .png", "End the name with one of these")
    brief, _ = subject(brief_file)
    varied = [Vary(path=path, values=read_values(text)) for path, text in zip(paths, ranges, strict=True)]
    found = sweep(brief, varied, limits=_limits(seconds))
    for out in outs:
        if out.suffix == ".csv":
            out.write_text(sweep_csv(found), encoding="utf-8")
        else:
            draw_sweep(found, out, show=show or next(iter([*varying(found), *found.units]), ""))
        click.echo(f"wrote {out}", err=True)
    if as_json:
        click.echo(found.model_dump_json(indent=2))
    else:
        render_sweep(found, console())
    sys.exit(0 if any(point.figures for point in found.points) else EXIT_IMPOSSIBLE)


# --- reading ------------------------------------------------------------------------------------------------------


def _limits(seconds: float | None) -> Limits:
    from scheduler.week.solver import Limits

    return Limits(wall_seconds=seconds)


def _moment(text: str | None) -> dt.datetime | None:
    if text is None:
        return None
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise InputError.single("--now", f"{text!r} is no moment", "Write it like 2026-12-02T12:00") from None


def patch_file_of(path: Path) -> dict[str, Any]:
    from scheduler.documents import parse_text

    try:
        return parse_text(path.read_bytes(), source=path.name)
    except OSError as error:
        raise InputError.single(str(path), f"the file cannot be read ({error.strerror})", "Check the path") from None


def set_patches(brief: Brief, settings: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Merge patches of ``[name:] path=value`` settings, by name."""
    from scheduler.answers.merge_patch import merge_patch, patch_of

    found: dict[str, dict[str, Any]] = {}
    for text in settings:
        left, equals, value = text.partition("=")
        name, _, path = left.rpartition(":")
        name, path = name.strip() or NO_NAME, path.strip()
        if not equals or not path.strip("+"):
            raise InputError.single("--set", f"{text!r} sets nothing", "Write path=value: goals.lats.aim=12")
        read = _value(value)
        if path.endswith("+"):
            path = path[:-1]
            before = _at(merge_patch(brief.model_dump(mode="json"), found.get(name, {})), path)
            read = [*before, *(read if isinstance(read, list) else [read])]
        found[name] = merge_patch(found.get(name, {}), patch_of(path, read))
    return found


def _value(text: str) -> Any:
    """A YAML scalar or flow collection."""
    from scheduler.documents import parse_text

    return parse_text(f"value: {text}".encode(), source="--set")["value"]


def _at(data: Mapping[str, Any], path: str) -> list[Any]:
    found: Any = data
    for name in path.split("."):
        found = found.get(name) if isinstance(found, dict) else None
    if found is not None and not isinstance(found, list):
        raise InputError.single("--set", f"{path} is no list", f"Write {path}=value")
    return found or []
