"""Load on the JSON API: ``python -m tests.benchmarks.load [--seconds 60] [--clients 50] [--store URL]``.

Starts a server of its own on loopback. Every client asks for plans, reads them and lists them, as fast as it is
answered, while the solver has more to do than it can. Printed are the answers by status, the percentiles of reads, and
whether every accepted plan ended, once. Exit code 1 where a plan was lost or run twice, or an answer was none of those
that a client has to expect.
"""

from __future__ import annotations

import argparse
import asyncio
import collections
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx2 as httpx
from sqlalchemy import select

from api import demo
from api.store import Job, Store
from tests.api.running import Running, running

EXPECTED = {200, 201, 202, 304, 429}
THINK_SECONDS = 0.5
"""A client waits so long at most before its next request."""


@dataclass
class Seen:
    statuses: collections.Counter[str] = field(default_factory=collections.Counter)
    reads: list[float] = field(default_factory=list)
    """Milliseconds."""
    posts: list[float] = field(default_factory=list)
    accepted: dict[str, str] = field(default_factory=dict)
    """By idempotency key: where the plan is."""
    twice: list[str] = field(default_factory=list)
    retry_after: int = 0


async def client(number: int, server: Running, until: float, brief: dict[str, Any], seen: Seen) -> None:
    chance = random.Random(number)
    async with httpx.AsyncClient(base_url=server.url, timeout=60) as http:
        sent = 0
        mine: list[str] = []
        while time.monotonic() < until:
            await asyncio.sleep(chance.uniform(0, THINK_SECONDS))
            if not mine or chance.random() < 0.2:
                sent += 1
                key = f"client-{number}-{sent}"
                for _ in range(chance.choice((1, 1, 2))):  # now and then the same again, as after a lost answer
                    started = time.perf_counter()
                    answer = await http.post(
                        "/v1/plans", json=brief | {"title": key}, headers={"Idempotency-Key": f'"{key}"'}
                    )
                    seen.posts.append(1000 * (time.perf_counter() - started))
                    seen.statuses[f"POST {answer.status_code}"] += 1
                    if answer.status_code == 429:
                        seen.retry_after += "retry-after" in answer.headers
                        continue
                    where = answer.headers["location"]
                    if seen.accepted.setdefault(key, where) != where:
                        seen.twice.append(key)
                    mine.append(where)
            else:
                path = chance.choice([*mine[-5:], "/v1/plans?limit=20"])
                started = time.perf_counter()
                answer = await http.get(path)
                seen.reads.append(1000 * (time.perf_counter() - started))
                seen.statuses[f"GET {answer.status_code}"] += 1


async def load(server: Running, clients: int, seconds: float) -> Seen:
    seen = Seen()
    brief = demo.brief("pinned_solid")
    until = time.monotonic() + seconds
    await asyncio.gather(*(client(number, server, until, brief, seen) for number in range(clients)))
    return seen


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))] if values else 0.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--clients", type=int, default=50)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--waiting", type=int, default=100, help="how much the server lets wait")
    parser.add_argument("--store", help="SQLAlchemy URL of an empty database; left out: a new SQLite file")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = asked.store or f"sqlite:///{Path(folder)}/store.sqlite3"
        with running(
            url, workers=asked.workers, most_waiting=asked.waiting, most_waiting_per_tenant=asked.waiting
        ) as server:
            seen = asyncio.run(load(server, asked.clients, asked.seconds))
            open_at_end = _wait_for_all(server)
        return _report(seen, url, open_at_end)


def _wait_for_all(server: Running) -> int:
    """How much was still waiting when the clients went; returns once nothing is."""
    first = None
    deadline = time.monotonic() + 600
    with server.client() as http:
        while time.monotonic() < deadline:
            text = http.get("/metrics").text
            left = sum(
                float(line.rpartition(" ")[2])
                for line in text.splitlines()
                if line.startswith(('weekwright_jobs{state="queued"', 'weekwright_jobs{state="running"'))
            )
            first = int(left) if first is None else first
            if not left:
                break
            time.sleep(1)
    return first or 0


def _report(seen: Seen, url: str, open_at_end: int) -> int:
    store = Store(url)
    with store.reading() as session:
        rows = session.execute(select(Job.id, Job.state, Job.attempt)).all()
    store.close()
    ids = {path.rpartition("/")[2] for path in seen.accepted.values()}
    lost = ids - {row.id for row in rows if row.state == "done"}
    extra = {row.id for row in rows} - ids
    again = [row.id for row in rows if row.attempt > 1]
    strange = {name: n for name, n in seen.statuses.items() if int(name.split()[1]) not in EXPECTED}
    refused = seen.statuses["POST 429"]
    print("answers      ", dict(sorted(seen.statuses.items())))
    print(
        f"reads         {len(seen.reads)}: median {statistics.median(seen.reads):.1f} ms, "
        f"p95 {percentile(seen.reads, 0.95):.1f} ms, p99 {percentile(seen.reads, 0.99):.1f} ms"
    )
    print(
        f"posts         {len(seen.posts)}: median {statistics.median(seen.posts):.1f} ms, "
        f"p95 {percentile(seen.posts, 0.95):.1f} ms"
    )
    print(f"refused       {refused}, of them with Retry-After {seen.retry_after}")
    print(f"accepted      {len(ids)}, waiting when the clients went {open_at_end}")
    print(f"lost {len(lost)}, doubled {len(extra) + len(seen.twice)}, run twice {len(again)}, unexpected {strange}")
    return 1 if lost or extra or again or seen.twice or strange or refused != seen.retry_after else 0


if __name__ == "__main__":
    sys.exit(main())
