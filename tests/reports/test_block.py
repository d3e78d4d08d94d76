"""What the terminal shows of a block and of a log, whatever is in it."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from rich.cells import cell_len
from rich.console import Console

from scheduler.blocks.build import plan_block
from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.log import ExerciseOutcome, LogReport, SessionOutcome
from scheduler.reports.block import render_block, render_log
from tests.blocks.small import small


@pytest.fixture(scope="module")
def block() -> Block:
    """One week, so that no search takes long; its names read like markup and no code page has them all."""
    brief = small({"title": "A [/foo] week – [red]schön[/red]", "lifter": {"name": "Ł. [bold]"}})
    return plan_block(brief, BlockSettings(weeks=1, easy_weeks=0))


def console(encoding: str = "utf-8", width: int = 120) -> Console:
    return Console(file=io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="\n"), width=width, _environ={})


def shown(console: Console) -> str:
    console.file.flush()
    raw = console.file.buffer
    assert isinstance(raw, io.BytesIO)
    return raw.getvalue().decode(console.encoding)


def report(name: str) -> LogReport:
    monday = small().week.start
    start = dt.datetime.combine(monday, dt.time(18), small().week.tz)
    outcome = ExerciseOutcome(
        exercise="x",
        name=name,
        sets_planned=3,
        sets_done=2,
        reps_over=None,
        estimate_before_kg=None,
        estimate_after_kg=62.5,
        sentence="2 of 3 sets – fewer",
    )
    session = SessionOutcome(kind="upper", name=name, planned=start, done=start, exercises=(outcome,))
    return LogReport(week=1, sessions=(session,), formula="Load × reps", behind=(), easy_week=(name,))


def test_names_that_read_like_markup_stay_as_they_are(block: Block) -> None:
    page = console()
    render_block(block, page)
    render_log(report("Row [/foo] [red]"), block, page)
    text = shown(page)
    assert "A [/foo] week – [red]schön[/red]" in text
    assert "for Ł. [bold]:" in text
    assert "Row [/foo] [red]: done" in text
    assert "Row [/foo] [red]: 2 of 3 sets – fewer; estimated 1RM 62.5 kg" in text


@pytest.mark.parametrize("verbose", [False, True])
def test_what_the_terminal_cannot_show_is_folded(block: Block, verbose: bool) -> None:
    page = console("ascii")
    render_block(block, page, verbose=verbose)
    render_log(report("Łydki – schön"), block, page)
    text = shown(page)
    assert "A [/foo] week - [red]schon[/red]" in text
    assert "?ydki - schon: 2 of 3 sets - fewer" in text
    assert "Load x reps" in text


@pytest.mark.parametrize("width", [50, 80, 120])
def test_no_line_is_longer_than_the_terminal(block: Block, width: int) -> None:
    page = console(width=width)
    render_block(block, page, verbose=True)
    assert max(cell_len(line) for line in shown(page).splitlines()) <= width
