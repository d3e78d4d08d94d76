"""The command that says why: which musts clash, what mends it, and why a wish falls short."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.shared import EXIT_IMPOSSIBLE, EXIT_NO_PLAN, FILE, guarded, subject
from scheduler.domain.errors import InputError

if TYPE_CHECKING:
    from scheduler.domain.answers import Explanation, Shortfall
    from scheduler.domain.brief import Brief
    from scheduler.domain.plan import Plan

CAUTION = "General information, not medical advice; a clinician's or a qualified coach's word comes first."


@click.command()
@click.argument("brief", type=FILE)
@click.option("--wish", help="A wish by the name of its switch: weekly_sets:aim:lats.")
@click.option("--calendar", "calendars", type=FILE, multiple=True, help="An iCalendar file of busy times; repeatable.")
@click.option("--seconds", type=click.FloatRange(min=0), default=20.0, show_default=True, help="Budget of the answer.")
@click.option("--mends", type=click.IntRange(0, 20), default=3, show_default=True, help="How many mends.")
@click.option("--cost", "costs", multiple=True, metavar="RULE=N", help="What a mend costs a unit; repeatable.")
@click.option("--keep", multiple=True, metavar="SWITCH", help="A demand that no mend may touch; repeatable.")
@click.option("--json", "as_json", is_flag=True, help="The whole answer as JSON on standard output.")
@guarded
def why(
    brief: Path,
    *,
    wish: str | None,
    calendars: tuple[Path, ...],
    seconds: float,
    mends: int,
    costs: tuple[str, ...],
    keep: tuple[str, ...],
    as_json: bool,
) -> None:
    """Say why the week of BRIEF is impossible and what would mend it, or which wishes fall short.

    BRIEF may also be a plan made with --json.
    With --wish: why that wish falls short, and the cheapest way to it. Exit code 3 when the week, or the wish beside
    the musts, is impossible; 4 when the time did not suffice to tell.
    """
    from scheduler.answers.conflicts import explain, explain_short
    from scheduler.briefs import with_calendars

    asked, before = subject(brief)
    if calendars:
        asked, before = with_calendars(asked, [(str(path), path) for path in calendars]), None
    own = dict(_cost(text) for text in costs)
    if wish is not None:
        short = explain_short(
            asked, wish, budget_seconds=seconds, costs=own, most_mends=mends, protected=keep, before=before
        )
        click.echo(short.model_dump_json(indent=2) if as_json else shortfall_text(short))
        sys.exit(_exit_code(short.can_be_met))
    found = explain(asked, budget_seconds=seconds, costs=own, most_mends=mends, protected=keep)
    if as_json:
        click.echo(found.model_dump_json(indent=2))
    elif found.possible:
        click.echo(_short_text(asked, before, seconds))
    else:
        click.echo(explanation_text(found))
    sys.exit(_exit_code(found.possible))


def _exit_code(possible: bool | None) -> int:
    return EXIT_NO_PLAN if possible is None else 0 if possible else EXIT_IMPOSSIBLE


def _cost(text: str) -> tuple[str, int]:
    name, sign, number = text.partition("=")
    if not sign or not number.isdecimal():
        raise InputError.single("--cost", f"{text!r} is no cost", "Write a rule and a whole number: opening=8")
    return name, int(number)


def _short_text(brief: Brief, before: Plan | None, seconds: float) -> str:
    """The wishes that fall short in the best week."""
    from scheduler.answers.conflicts import short_wishes
    from scheduler.planning import solve
    from scheduler.week.solver import Limits

    plan = before if before is not None else solve(brief, limits=Limits(wall_seconds=max(0.1, seconds)))
    short = short_wishes(plan)
    if not short:
        return f"{brief.title}: the week is possible, and no wish falls short.\n{CAUTION}"
    lines = [f"{brief.title}: the week is possible. In the {plan.status.value} week these wishes fall short:"]
    for finding in short:
        lines += [f"  {finding.sentence}", f"    {finding.breach_text}; ask: --wish {finding.switch}"]
    return "\n".join([*lines, CAUTION])


def explanation_text(found: Explanation, *, week: int | None = None) -> str:
    """Conflicts and mends in sentences.

    Args:
        week: the week of a block that is explained: a mend is for it alone.
    """
    if found.possible is None:
        return f"{found.title}: not found out in time; allow more with --seconds."
    lines = [f"{found.title}: no week keeps every must."] if not found.possible else []
    for number, conflict in enumerate(found.conflicts, start=1):
        how = "each is needed, shown by a solve" if conflict.verified else "not shown to be the smallest"
        count = f" {number}" if len(found.conflicts) > 1 else ""
        lines += ["", f"Conflict{count} ({how}): {conflict.told}."]
        lines += [f"  - {sentence}" for sentence in conflict.sentences]
        if not conflict.members:
            lines.append("  What is fixed (done, or in the history) clashes by itself.")
    if found.mends:
        # What was not shown in time may not be the cheapest either.
        all_shown = all(mend.verified and mend.minimal for mend in found.mends)
        lines += ["", "Ways out, the cheapest first:" if all_shown else "Ways out that were found in time:"]
    for number, mend in enumerate(found.mends, start=1):
        shown = "proved to work" if mend.verified else "not proved in time"
        smallest = ", no smaller change does" if mend.minimal else ""
        lines.append(f"  {number}. (cost {mend.cost}; {shown}{smallest})")
        lines += [f"     {change.sentence}" for change in mend.changes]
        taken = ", ".join(f'"{name}": {n}' for name, n in mend.patch["concessions"].items())
        if week is None:
            lines.append(f"     in the brief: concessions: {{{taken}}}")
        else:
            lines.append(f"     for that week: --set '{week}: concessions={{{taken}}}'")
    if found.truncated:
        lines += ["", "The time was over before everything was shown; allow more with --seconds."]
    return "\n".join([*lines, "", CAUTION])


def shortfall_text(short: Shortfall) -> str:
    """Why a wish falls short, or what meeting it costs."""
    lines = [short.sentence]
    if short.can_be_met is None:
        return "\n".join([*lines, "Not found out in time; allow more with --seconds."])
    if not short.can_be_met:
        reasons = explanation_text(short.explanation).partition("\n")[2]
        return "\n".join([*lines, "It cannot be met beside the musts.", reasons])
    lines.append("It can be met. What that costs, tier by tier (less is better):")
    for price in short.prices:
        proved = "" if price.proved else "  not proved"
        lines.append(f"  {price.tier} {price.name:<12}{price.before:>7} -> {price.after}{proved}")
    for loss in short.gives_way:
        lines += [f"  {loss.sentence}", f"    {loss.after} (before: {loss.before or 'kept'})"]
    return "\n".join([*lines, CAUTION])
