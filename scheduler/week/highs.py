"""HiGHS, for goals that CP-SAT does not soon prove: branch and cut on the rows of a model.

Its cuts and restarts at the root often close what is left between value and bound, where a search does not in ten times
as long. It is the one that comes with OR-Tools, by MathOpt, which hears no stop: so it works in a process of its own
(:mod:`scheduler.week.highs_process`), which is ended when there is no more time. What it counts repeats, as its clock
does not: so it is limited by nodes, and programmes whose root would take long are refused.

It computes in floating point. A week that it finds counts only if the model itself says that it is one; a bound is
rounded up to the next whole number only where it is above the last by more than all that its tolerances allow.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from ortools.sat.python import cp_model

from scheduler.week.expressions import Linear, upper
from scheduler.week.linear import expression, programme

_PROCESS = Path(__file__).with_name("highs_process.py")
_LARGEST = 4_000
"""Variables, above which a root takes long: goals that it has proved have up to 2,000."""
_DEAREST = 1_000_000
"""Greatest value of a goal: beyond it whole numbers are too close for floating point."""
_TOLERANCE = 1e-3
"""A bound so little above a whole number says no more than that number."""
_A_STEP = 7e-9
"""Deterministic seconds of a step of the simplex for each entry: about what CP-SAT counts for as long."""


class Found(NamedTuple):
    """What HiGHS found: a lower bound, a solution of the model (empty without one), deterministic seconds."""

    bound: int
    solution: tuple[int, ...]
    deterministic_seconds: float


Run = Callable[[Callable[[], str], Callable[[], None]], str]
"""Runs something in a thread of its own, and ends it by the second where it has to stop."""


def least(
    model: cp_model.CpModel,
    goal: Linear,
    *,
    nodes: int,
    hint: Sequence[int],
    seconds: float | None,
    run: Run,
) -> Found | None:
    """The least of a goal over a model, or how far that comes within so many nodes; None where nothing is found.

    Args:
        hint: values for the first variables, a solution of the model, or empty.
        seconds: wall-clock seconds at most, or None.
    """
    if len(model.proto.variables) > _LARGEST or upper(goal) > _DEAREST:
        return None
    try:
        rows = programme(model)
    except ValueError:  # A rule may post what has no linear form.
        return None
    terms, constant = expression(goal)
    asked = {
        "lower": rows.lower,
        "upper": rows.upper,
        "rows": [(row.low, row.high, sorted(row.terms.items())) for row in rows.rows],
        "costs": sorted(terms.items()),
        "constant": constant,
        "hint": list(hint),
        "nodes": nodes,
        "seconds": seconds,
    }
    answer = _ask(json.dumps(asked), run)
    if not answer.endswith("\n"):  # ended before, or amid it
        return None
    found = json.loads(answer)
    bound = 0 if found["bound"] is None else max(0, math.ceil(found["bound"] - _TOLERANCE))
    solution = tuple(found["solution"][: len(model.proto.variables)])
    entries = sum(len(row.terms) for row in rows.rows)
    return Found(bound, solution, _A_STEP * entries * found["iterations"])


def _ask(question: str, run: Run) -> str:
    """One line to a new process, one back; nothing if it ended without."""
    with subprocess.Popen(
        [sys.executable, "-P", str(_PROCESS)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,  # a Ctrl-C in the terminal is this process's to answer
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        asked, answered = process.stdin, process.stdout

        def work() -> str:
            try:
                asked.write(question + "\n")
                asked.flush()
                return answered.readline()
            except BrokenPipeError:
                return ""

        try:
            return run(work, process.kill)
        finally:
            process.kill()
