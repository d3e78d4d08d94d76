"""The command ``weekwright``.

Exit codes: 0 a plan (or a plan that holds), 2 bad input, 3 impossible (or a plan that breaks a must), 4 stopped without
a plan, 1 a fault of this program. Heavy imports happen inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import click

from scheduler.cli import questions, week
from scheduler.cli.batch import batch
from scheduler.cli.block import block, log
from scheduler.cli.why import why


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="weekwright")
def main() -> None:
    """Turns training intent into a real week of strength sessions, proved best, and defends every choice in it.

    General information, not medical advice: screen first, stop on sharp pain; a clinician's or a qualified coach's
    word comes before any plan.
    """


for command in (week.plan, week.check, week.export, week.catalogue, week.schema, week.new):
    main.add_command(command)
for command in (
    batch,
    block,
    log,
    why,
    questions.replan,
    questions.what_if,
    questions.why_not,
    questions.alternatives,
    questions.tradeoff,
):
    main.add_command(command)

__all__ = ["main"]
