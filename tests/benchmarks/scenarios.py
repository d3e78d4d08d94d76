"""Seconds to proof per tier on every scenario: ``python -m tests.benchmarks.scenarios [RUNS]``.

Each scenario is solved RUNS times (default 3) in a process of its own; medians are printed, and peak memory. Quote
medians; machines are noisy.
"""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
from pathlib import Path
from typing import Any

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def one(path: Path) -> dict[str, Any]:
    """Solve one scenario in this process."""
    from scheduler import read_brief, solve

    plan = solve(read_brief(path))
    return {
        "status": plan.status.value,
        "build": plan.timings.build_seconds,
        "tiers": dict(zip([t.tier for t in plan.tiers], plan.timings.tier_seconds, strict=False)),
        "proved": all(t.proved for t in plan.tiers),
        "solve": plan.timings.solve_seconds,
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def main() -> None:
    if len(sys.argv) == 3 and sys.argv[1] == "--one":
        print(json.dumps(one(Path(sys.argv[2]))))
        return
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(f"{'scenario':<26}{'tier 1':>8}{'all':>8}{'build':>8}{'MB':>6}  medians of {runs}, seconds")
    for path in sorted(SCENARIOS.glob("*.yaml")):
        command = [sys.executable, "-m", "tests.benchmarks.scenarios", "--one", str(path)]
        rows = [json.loads(subprocess.run(command, check=True, capture_output=True).stdout) for _ in range(runs)]

        def median(pick: str, rows: list[dict[str, Any]] = rows) -> float:
            return statistics.median(r[pick] for r in rows)

        first = statistics.median(r["tiers"].get("1", 0.0) for r in rows)
        peak = max(r["peak_mb"] for r in rows)
        end = "" if all(r["proved"] for r in rows) else "  not all proved"
        if rows[0]["status"] == "impossible":
            end = "  impossible"
        print(f"{path.stem:<26}{first:>8.2f}{median('solve'):>8.2f}{median('build'):>8.2f}{peak:>6.0f}{end}")


if __name__ == "__main__":
    main()
