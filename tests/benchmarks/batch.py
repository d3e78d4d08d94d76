"""Weeks per second of ``weekwright batch``, its overhead and memory: ``python -m tests.benchmarks.batch [-n 40]``.

The same briefs are solved bare (one process, one after another, read from their files), by one process and by two of
this machine, and by a local Dask cluster of two single-threaded workers. Every way runs in a process of its own, so
that its peak memory is its own. Start-up is what the same takes for two small weeks; the rest is shared out over the
weeks. A short deterministic limit (``--deterministic``) makes each way do the same work in less time; left out, it is
the program's own, and the figures say what proved weeks cost.

The bill for a million weeks is worked out from the figures: processor seconds a week x a million / seconds of a night
gives the cores, times the memory of a worker gives the memory, times the price of a core-hour gives the price.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

WAYS = ("bare", "one process", "two processes", "cluster of two")
MILLION, NIGHT_HOURS = 1_000_000, 8
SMALL = Path(__file__).parents[2] / "scenarios" / "pinned_solid.yaml"
FAMILIES = ("full_body", "upper_lower", "three_way", "body_part", "over_tight", "heavy_calendar", "pinned", "replan")


def write_briefs(folder: Path, number: int) -> None:
    """So many generated briefs as files: all families, from catalogues that the program comes with."""
    from tests.benchmarks.briefs import case

    for n in range(number):
        found = case(FAMILIES[n % len(FAMILIES)], n // len(FAMILIES), exercises=(60, 120, 250)[n % 3])
        (folder / f"{n:04}-{found.name}.json").write_text(found.brief.model_dump_json())


def one(way: str, folder: Path, deterministic: float | None) -> dict[str, Any]:
    """Solve all briefs of a folder in one way, in this process and those it starts."""
    from scheduler.week.solver import Limits

    limits = Limits() if deterministic is None else Limits(deterministic_seconds=deterministic)
    paths = sorted(folder.glob("*.json"))
    started = time.perf_counter()
    if way == "bare":
        size, proved = _bare(paths, limits)
    else:
        size, proved = _batch(way, folder, limits)
    seconds = time.perf_counter() - started
    mine, others = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return {
        "way": way,
        "weeks": len(paths),
        "proved": proved,
        "seconds": seconds,
        "processor_seconds": mine.ru_utime + mine.ru_stime + others.ru_utime + others.ru_stime,
        "worker_mb": (mine if way == "bare" else others).ru_maxrss / 1024,
        "parent_mb": mine.ru_maxrss / 1024,
        "answer_kb": size / len(paths) / 1024,
    }


def _bare(paths: list[Path], limits: Any) -> tuple[int, int]:
    from scheduler import read_brief, solve

    plans = [solve(read_brief(path), limits=limits) for path in paths]
    proved = sum(plan.status.value in ("proved best", "impossible") for plan in plans)
    return sum(len(plan.model_dump_json()) for plan in plans), proved


def _batch(way: str, folder: Path, limits: Any) -> tuple[int, int]:
    from scheduler.batch import runners, solve_batch

    with tempfile.TemporaryDirectory() as where:
        out = Path(where) / "answers.ndjson"
        if way == "cluster of two":
            from distributed import LocalCluster

            with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50) as cluster:
                found = solve_batch([folder], out, runner=runners.cluster(cluster.scheduler_address), limits=limits)
        else:
            workers = {"one process": 1, "two processes": 2}[way]
            found = solve_batch([folder], out, runner=runners.local(workers), limits=limits)
        assert found.statuses.total() == found.asked
        return out.stat().st_size, found.statuses["proved best"] + found.statuses["impossible"]


def bill(processor_seconds: float, worker_mb: float, answer_kb: float, price: float) -> dict[str, float]:
    """Cores, memory, core-hours, price and storage of a million weeks in one night."""
    core_hours = processor_seconds * MILLION / 3600
    cores = core_hours / NIGHT_HOURS
    return {
        "core_hours": core_hours,
        "cores": cores,
        "memory_gb": cores * worker_mb / 1024,
        "price": core_hours * price,
        "storage_gb": answer_kb * MILLION / 1024**2,
    }


def _in_a_process(way: str, folder: Path, options: list[str]) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.benchmarks.batch", *options, "--one", way, str(folder)]
    ran = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(ran.stdout.splitlines()[-1])


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.batch", description=__doc__.splitlines()[0])
    parser.add_argument("-n", type=int, default=40, help="briefs")
    parser.add_argument("--deterministic", type=float, help="deterministic seconds a tier; left out: the default")
    parser.add_argument("--price", type=float, default=0.04, help="of a core-hour, for the bill")
    parser.add_argument("--one", nargs=2, metavar=("WAY", "FOLDER"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    from scheduler import read_brief

    if asked.one:
        print(json.dumps(one(asked.one[0], Path(asked.one[1]), asked.deterministic)))
        return
    with tempfile.TemporaryDirectory() as where:
        many, few = Path(where) / "many", Path(where) / "few"
        for folder in (many, few):
            folder.mkdir()
        write_briefs(many, asked.n)
        for n in range(2):
            (few / f"{n}.json").write_text(read_brief(SMALL).model_dump_json())
        limit = ["--deterministic", str(asked.deterministic)] if asked.deterministic else []
        rows = []
        for way in WAYS:
            row, start = (_in_a_process(way, folder, limit) for folder in (many, few))
            row["each"] = (row["processor_seconds"] - start["processor_seconds"]) / asked.n
            row["start"] = start["processor_seconds"]
            rows.append(row)
            print(f"  {way}: {row['seconds']:.1f} s", file=sys.stderr)
    bare = rows[0]
    print(f"{asked.n} weeks, {bare['proved']} proved; CPU: processor seconds of all processes")
    head = ("seconds", "weeks/s", "start CPU", "CPU a week", "to bare", "MB a worker", "MB parent")
    print(f"{'way':<16}" + "".join(f"{h:>13}" for h in head))
    for row in rows:
        print(
            f"{row['way']:<16}{row['seconds']:>13.1f}{asked.n / row['seconds']:>13.2f}{row['start']:>13.1f}"
            f"{row['each']:>13.3f}{row['each'] / bare['each']:>13.2f}{row['worker_mb']:>13.0f}{row['parent_mb']:>13.0f}"
        )
    last = rows[-1]
    found = bill(last["each"], last["worker_mb"], last["answer_kb"], asked.price)
    print(
        f"a million weeks in {NIGHT_HOURS} h, on paper: {found['core_hours']:.0f} core-hours, {found['cores']:.0f} "
        f"cores, {found['memory_gb']:.0f} GB of memory, {found['price']:.0f} at {asked.price} a core-hour, "
        f"{found['storage_gb']:.0f} GB of answers"
    )


if __name__ == "__main__":
    main()
