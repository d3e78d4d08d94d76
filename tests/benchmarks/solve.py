"""Seconds to proof on generated briefs and scenarios: ``python -m tests.benchmarks.solve [--fast] -o FILE``.

Every brief is solved in a process of its own. FILE.json holds the records, FILE.csv one row a solve, FILE.txt the
tables, FILE.png the picture. What is not proved within the cap is printed as such and counts as slower than all that
is; nothing is dropped. Quote medians and ratios: machines are noisy, deterministic time is not.

The curves (``--curves``) solve the same weeks from 60, 120, 250 and 500 exercises, and with 7, 14 and 21 openings.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from importlib.metadata import version
from itertools import product
from pathlib import Path
from typing import Any

from tests.benchmarks.briefs import FAMILIES, FAST, FULL, same_weeks
from tests.benchmarks.measure import Record, measured, names
from tests.benchmarks.report import write_report

CORE_PEER = "core_highs"
CORE_FAMILIES = ("full_body", "upper_lower", "three_way", "body_part", "over_tight", "many_openings")
"""Families that are still themselves with the core rules only."""


def main() -> None:
    asked = _arguments()
    jobs = list(_jobs(asked))
    out = Path(asked.out)
    started, records = time.time(), list[Record]()
    with ThreadPoolExecutor(asked.processes) as pool:
        for number, record in enumerate(pool.map(lambda job: measured(job, asked.cap), jobs), 1):
            records.append(record)
            print(f"{number:>4}/{len(jobs)}  {line(record)}", file=sys.stderr, flush=True)
            if number % 10 == 0 or number == len(jobs):
                _write_records(out, asked, records, started)
    print(write_report(out, records, asked.cap))


def line(record: Record) -> str:
    peer = "" if record.get("peer", "weekwright") == "weekwright" else f" {record['peer']}"
    tiers = " ".join(f"{t['value']}{'' if t['proved'] else '>' + str(t['bound'])}" for t in record["tiers"])
    fault = f"  {record['fault']}" if "fault" in record else ""
    return f"{record['case']:<28}{peer} {record['seconds']:7.2f} s  {record['status']:<20} {tiers}{fault}"


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.solve", description=__doc__.splitlines()[0])
    parser.add_argument("-o", "--out", required=True, help="files begin so; suffixes are added")
    parser.add_argument("--fast", action="store_true", help=f"{FAST} briefs a family instead of {FULL}")
    parser.add_argument("--families", default=",".join(("scenario", *FAMILIES)), help="left out: all")
    parser.add_argument("--seeds", help="briefs: 0-4 or 3; left out: the whole or the fast set")
    parser.add_argument("--solver-seeds", default="0", help="seeds of the solver: 0-9")
    parser.add_argument("--workers", default="1", help="numbers of workers: 1,2,8; more than one does not repeat")
    parser.add_argument("--parameter", action="append", default=[], metavar="NAME=VALUE", help="of CP-SAT, for trials")
    parser.add_argument("--cap", type=float, default=60.0, help="wall-clock seconds a brief")
    parser.add_argument("--deterministic", type=float, help="deterministic seconds a tier; left out: the default")
    parser.add_argument("--processes", type=int, default=1, help="briefs solved side by side")
    parser.add_argument("--peers", help="also with these: plain,highs,scip,...; 'all' for every one")
    parser.add_argument("--curves", action="store_true", help="the same weeks in several sizes, instead of the set")
    return parser.parse_args()


def _span(text: str) -> range:
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def _jobs(asked: argparse.Namespace) -> Iterator[dict[str, Any]]:
    families = tuple(asked.families.split(","))
    seeds = _span(asked.seeds) if asked.seeds else range(FAST if asked.fast else FULL)
    if asked.curves:
        chosen = range(seeds.start, min(seeds.stop, seeds.start + 3)) if not asked.seeds else seeds
        found = [c.name for f in FAMILIES if f in families for c in same_weeks(f, chosen)]
        found += [c.name for c in same_weeks("many_openings", seeds, (120,), (1, 2, 3))]
    else:
        found = list(names(families, seeds))
    settings = dict(_parameter(text) for text in asked.parameter)
    base = {"parameters": settings} if settings else {}
    base |= {"deterministic_seconds": asked.deterministic} if asked.deterministic else {}
    own = [
        base | {"solver_seed": seed, "workers": workers}
        for workers, seed in product((int(w) for w in asked.workers.split(",")), _span(asked.solver_seeds))
    ]
    peers: list[str] = []
    if asked.peers:
        from tests.benchmarks.peers import PEERS

        peers = list(PEERS) if asked.peers == "all" else asked.peers.split(",")
    for name in dict.fromkeys(found):
        yield from ({"case": name, **settings} for settings in own)
        yield from ({"case": name, **base, "peer": peer} for peer in peers if peer != CORE_PEER)
        if CORE_PEER in peers and name.split("-")[0] in CORE_FAMILIES:
            yield {"case": f"core:{name}", **own[0]}
            yield {"case": f"core:{name}", **base, "peer": CORE_PEER}


def _parameter(text: str) -> tuple[str, Any]:
    name, _, value = text.partition("=")
    return name, json.loads(value)


def _write_records(out: Path, asked: argparse.Namespace, records: list[Record], started: float) -> None:
    commit = subprocess.run(["git", "describe", "--always", "--dirty"], capture_output=True, text=True, check=False)
    about = {
        "commit": commit.stdout.strip(),
        "date": time.strftime("%Y-%m-%d", time.gmtime(started)),
        "minutes": (time.time() - started) / 60,
        "python": platform.python_version(),
        "ortools": version("ortools"),
        "cores": os.cpu_count(),
        "load": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
        "cap_seconds": asked.cap,
    }
    out.parent.mkdir(parents=True, exist_ok=True)
    out.with_suffix(".json").write_text(json.dumps({"about": about, "records": records}, indent=1) + "\n")


if __name__ == "__main__":
    main()
