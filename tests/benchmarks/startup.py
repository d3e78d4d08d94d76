"""What a command takes beyond the solve: ``python -m tests.benchmarks.startup [RUNS] [BRIEF]``.

The clock runs from starting the process to its end, as a user sees it, less what the plan says that building, solving
and refereeing took. Median and least of RUNS (default 9). A busy machine slows all that; it hardly changes the
processor seconds of ``check``, which starts up alike and solves nothing. The slowest imports are those of one run more
by ``python -X importtime``.
"""

from __future__ import annotations

import json
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BRIEF = Path(__file__).parents[2] / "scenarios" / "pinned_solid.yaml"
GOAL_SECONDS = 0.7
SLOWEST = 12


def beyond_the_solve(brief: Path = BRIEF) -> float:
    """Seconds of ``weekwright plan BRIEF --json`` that are neither building nor solving nor refereeing."""
    seconds, out = _timed("plan", str(brief), "--json")
    times = json.loads(out)["timings"]
    return seconds - times["build_seconds"] - times["solve_seconds"] - times["referee_seconds"]


def _timed(*command: str) -> tuple[float, str]:
    started = time.perf_counter()
    run = subprocess.run([sys.executable, "-m", "scheduler.cli", *command], check=True, capture_output=True, text=True)
    return time.perf_counter() - started, run.stdout


def slowest_imports(brief: Path = BRIEF) -> list[tuple[float, str]]:
    """Milliseconds of modules with all that they import, the slowest of each top-level package first."""
    command = [sys.executable, "-X", "importtime", "-m", "scheduler.cli", "plan", str(brief), "--json"]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stderr
    rows = re.findall(r"import time:\s+\d+ \|\s+(\d+) \|\s+(\S+)", text)
    packages: dict[str, float] = {}
    for micros, name in rows:
        package = name.split(".")[0] if not name.startswith("scheduler.") else ".".join(name.split(".")[:2])
        packages[package] = max(packages.get(package, 0.0), int(micros) / 1000)
    return sorted(((ms, name) for name, ms in packages.items()), reverse=True)[:SLOWEST]


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    brief = Path(sys.argv[2]) if len(sys.argv) > 2 else BRIEF
    print(f"seconds, median and least of {runs}; goal: plan beyond the solve under {GOAL_SECONDS}")
    for what, measure in (
        ("the interpreter alone", _interpreter),
        ("--help", lambda: _timed("--help")[0]),
        ("plan, beyond the solve", lambda: beyond_the_solve(brief)),
    ):
        found = [measure() for _ in range(runs)]
        print(f"  {what:<28}{statistics.median(found):6.2f}{min(found):6.2f}")
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "plan.json"
        plan.write_text(_timed("plan", str(brief), "--json")[1])
        found = [_processor("check", str(plan)) for _ in range(runs)]
        print(f"  {'check, processor seconds':<28}{statistics.median(found):6.2f}{min(found):6.2f}")
    print("slowest imports, milliseconds with what they import (slowed by the measuring)")
    for milliseconds, name in slowest_imports(brief):
        print(f"  {milliseconds:7.0f}  {name}")


def _processor(*command: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    _timed(*command)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _interpreter() -> float:
    started = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
