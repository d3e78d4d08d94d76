"""Processor seconds of whole blocks, and what week by week loses against the joint optimum on tiny ones.

python -m tests.benchmarks.blocks [--tiny 100]
"""

from __future__ import annotations

import argparse
import os
import statistics
import time
from pathlib import Path

from scheduler.blocks.build import plan_block
from scheduler.briefs import read_block
from tests.blocks.joint import loss, tiny

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAMES = ("back_first.yaml", "blocks/back_first.yaml")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tiny", type=int, default=0, help="How many tiny blocks to hold against their joint optimum.")
    count = parser.parse_args().tiny
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for name in NAMES:
        brief, settings = read_block(SCENARIOS / name)
        started, clock = time.process_time(), time.perf_counter()
        found = plan_block(brief, settings)
        took, passed = time.process_time() - started, time.perf_counter() - clock
        print(
            f"{name}: {len(found.weeks)} weeks, {found.distinct_exercises} distinct exercises, "
            f"{took:.1f} processor seconds, {passed:.1f} s; {found.status}"
        )
    losses = [found for seed in range(count) if (found := loss(tiny(seed))) is not None]
    whole = [(one.joint, one.week_by_week) for one in losses if one.joint is not None and one.week_by_week is not None]
    if count:
        dead = sum(one.joint is not None and one.week_by_week is None for one in losses)
        over = [mine - best for best, mine in whole if mine > best]
        print(
            f"{len(losses)} tiny blocks of two weeks: {sum(one.joint is None for one in losses)} impossible, "
            f"{dead} not found week by week, {len(over)} at a loss"
            + (f" (median {statistics.median(over):g} of cost, most {max(over)})" if over else "")
        )


if __name__ == "__main__":
    main()
