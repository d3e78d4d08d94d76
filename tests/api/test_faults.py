"""What goes wrong outside: killed processes, a store that goes away or is full, clients that misbehave."""

from __future__ import annotations

import datetime as dt
import json
import os
import resource
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import SecretStr
from sqlalchemy import Connection, event, update

from api.service import Service
from api.settings import Settings
from api.store import Job, JobStore, NewJob, Store
from tests.api import postgresql
from tests.api.conftest import ROOM, Start, emptied, wait_for
from tests.api.running import Running, running

FAST = {"lost_after_seconds": 1.0, "beat_seconds": 0.1}


@pytest.fixture
def sqlite(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path}/store.sqlite3"


def ended(server: Running, path: str, seconds: float = 60) -> dict[str, Any]:
    deadline = time.monotonic() + seconds
    with server.client() as client:
        while time.monotonic() < deadline:
            answer = client.get(path)
            if answer.status_code == 200 and answer.json()["state"] not in ("queued", "running"):
                found: dict[str, Any] = answer.json()
                return found
            time.sleep(0.1)
    raise AssertionError(f"{path} did not end: {answer.text[:300]}; {server.log[-3:]}")


def children(process: int) -> list[int]:
    found = subprocess.run(["pgrep", "-P", str(process)], capture_output=True, text=True, check=False)
    return [int(line) for line in found.stdout.split()]


def until_running(server: Running, path: str) -> None:
    with server.client() as client:
        deadline = time.monotonic() + 60
        while not (answer := client.get(path).json())["progress"]:
            assert answer["state"] in ("queued", "running")
            assert time.monotonic() < deadline
            time.sleep(0.05)


def until_begun_again(url: str, path: str) -> None:
    store = Store(url)
    deadline = time.monotonic() + 60
    while (job := JobStore(store).find("local", path[-32:])) is None or job.attempt < 2:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    store.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def any_store(request: pytest.FixtureRequest) -> str:
    if request.param == "sqlite":
        found: str = request.getfixturevalue("sqlite")
        return found
    return emptied(request.getfixturevalue("postgres").url)


def test_a_server_killed_in_mid_solve_loses_nothing_and_doubles_nothing(
    any_store: str, slow_brief: dict[str, Any], brief: dict[str, Any]
) -> None:
    with running(any_store, **FAST) as first, first.client() as client:
        key = {"Idempotency-Key": '"once"'}
        paths = [client.post("/v1/plans", json=slow_brief, headers=key).headers["location"]]
        paths += [client.post("/v1/plans", json=brief).headers["location"] for _ in range(3)]
        until_running(first, paths[0])
        workers = children(first.process.pid)
        first.kill()
    deadline = time.monotonic() + 60
    while any(os.path.exists(f"/proc/{worker}/exe") for worker in workers):  # they end with their server
        assert time.monotonic() < deadline
        time.sleep(0.1)
    with running(any_store, **FAST) as second, second.client() as client:
        again = client.post("/v1/plans", json=slow_brief, headers=key)
        assert again.headers["location"] == paths[0]
        until_begun_again(any_store, paths[0])
        until_running(second, paths[0])
        client.delete(paths[0])  # a limit in seconds would be over before anything is found where the machine is busy
        assert [ended(second, path)["state"] for path in paths] == ["stopped", "done", "done", "done"]
        assert len(client.get("/v1/plans").json()["plans"]) == 4
    store = Store(any_store)
    attempts = {job.id: job.attempt for path in paths if (job := JobStore(store).find("local", path[-32:]))}
    store.close()
    assert sorted(attempts.values()) == [1, 1, 1, 2]  # only what was running has been run again


def test_a_killed_worker_is_replaced_and_its_work_run_again_once(sqlite: str, slow_brief: dict[str, Any]) -> None:
    with running(sqlite) as server, server.client() as client:
        path = client.post("/v1/plans?seconds=6", json=slow_brief).headers["location"]
        until_running(server, path)
        for worker in children(server.process.pid):
            if b"spawn_main" in Path(f"/proc/{worker}/cmdline").read_bytes():
                os.kill(worker, signal.SIGKILL)
        until_begun_again(sqlite, path)
        assert ended(server, path)["state"] == "done"
        assert client.get("/readyz").status_code == 200


def test_a_server_that_is_told_to_end_hands_back_what_runs(sqlite: str, slow_brief: dict[str, Any]) -> None:
    with running(sqlite, drain_seconds=0.5) as first, first.client() as client:
        path = client.post("/v1/plans", json=slow_brief).headers["location"]
        until_running(first, path)
        assert first.end() in (0, -signal.SIGTERM)  # uvicorn ends in order, then by the signal it was sent
        assert any(line.get("message", "").startswith("Finished server process") for line in first.log)
    store = Store(sqlite)
    job = JobStore(store).find("local", path[-32:])
    store.close()
    assert job is not None
    assert (job.state, job.losses) == ("queued", 0)
    with running(sqlite) as second, second.client() as client:
        until_running(second, path)
        client.delete(path)
        assert ended(second, path)["state"] == "stopped"


@pytest.fixture
def own_postgres() -> Iterator[postgresql.Server]:
    with postgresql.server() as found:
        yield found


def test_a_database_that_goes_and_comes_back(
    own_postgres: postgresql.Server, brief: dict[str, Any], slow_brief: dict[str, Any]
) -> None:
    with running(own_postgres.url) as server, server.client() as client:
        path = client.post("/v1/plans?seconds=6", json=slow_brief).headers["location"]
        until_running(server, path)
        own_postgres.stop()
        for answer in (client.get(path), client.post("/v1/plans", json=brief), client.get("/readyz")):
            assert (answer.status_code, answer.json()["type"]) == (503, "/problems/unavailable")
            assert "retry-after" in answer.headers
            assert "weekwright@" not in answer.text  # nothing of the connection
        assert client.get("/healthz").status_code == 200
        time.sleep(7)  # the solve ends while there is nowhere to put its answer
        own_postgres.start()
        assert ended(server, path)["plan"]["sessions"]
        assert client.post("/v1/plans", json=brief, headers={"Prefer": "wait=20"}).status_code == 201


def test_a_full_disk_is_said_and_nothing_is_lost(start: Start, brief: dict[str, Any]) -> None:
    """SQLite's own page limit fills its file as a full disk does: the same error, SQLITE_FULL."""
    client = start()
    engine = client.app.state.service.store.engine  # type: ignore[attr-defined]
    most_pages = 1_073_741_823

    @event.listens_for(engine, "begin")
    def limit(connection: Connection) -> None:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {most_pages}")

    kept = client.post("/v1/plans", json=brief, headers={"Prefer": "wait=20"}).headers["location"]
    most_pages = 1  # SQLite takes as many as there are
    refused = []
    for number in range(40):
        answer = client.post("/v1/plans", json=brief | {"title": f"{number}"})
        if answer.status_code != 202:
            refused.append(answer)
    assert refused
    assert {answer.status_code for answer in refused} == {503}
    assert {answer.json()["type"] for answer in refused} == {"/problems/unavailable"}
    assert client.get(kept).json()["state"] == "done"
    most_pages = 1_073_741_823
    assert wait_for(client, client.post("/v1/plans", json=brief).headers["location"])["state"] == "done"
    accepted = client.get("/v1/plans?limit=200").json()["plans"]
    assert len(accepted) == 42 - len(refused)


def test_a_file_that_cannot_grow_any_more(sqlite: str, brief: dict[str, Any]) -> None:
    """The operating system refuses the writes of server and workers; they go on when it no longer does."""
    with running(sqlite) as server, server.client() as client:
        kept = client.post("/v1/plans", json=brief, headers={"Prefer": "wait=20"}).headers["location"]
        processes = [server.process.pid, *children(server.process.pid)]
        for process in processes:
            resource.prlimit(process, resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))
        answer = client.post("/v1/plans", json=brief)
        assert (answer.status_code, answer.json()["type"]) == (503, "/problems/unavailable")
        assert client.get(kept).json()["state"] == "done"
        for process in processes:
            resource.prlimit(process, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        assert client.post("/v1/plans", json=brief, headers={"Prefer": "wait=20"}).status_code == 201


def test_a_client_that_hangs_up_leaves_its_work_in_order(sqlite: str, brief: dict[str, Any]) -> None:
    with running(sqlite) as server:
        body = json.dumps(brief).encode()
        head = (
            f"POST /v1/plans HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
            f"Prefer: wait=30\r\nContent-Length: {len(body)}\r\n\r\n"
        ).encode()
        for sent in (head + body, head + body[:100], head, head[:40]):
            with socket.create_connection(("127.0.0.1", server.port)) as connection:
                connection.sendall(sent)
                time.sleep(0.2)
        with server.client() as client:
            deadline = time.monotonic() + 60
            while [plan["state"] for plan in client.get("/v1/plans").json()["plans"]] != ["done"]:
                assert time.monotonic() < deadline
                time.sleep(0.1)
        assert not [line for line in server.log if line.get("level") == "error" or "raw" in line]


def test_a_body_that_drips_in_is_cut_off(sqlite: str) -> None:
    with running(sqlite, body_seconds=1) as server, socket.create_connection(("127.0.0.1", server.port)) as slow:
        slow.sendall(
            b"POST /v1/plans HTTP/1.1\r\nHost: 127.0.0.1\r\n"
            b"Content-Type: application/json\r\nContent-Length: 500\r\n\r\n"
        )
        started = time.monotonic()
        slow.settimeout(10)
        answer = b""
        while b"\r\n\r\n" not in answer and time.monotonic() < started + 60:
            try:
                slow.sendall(b" ")
            except OSError:
                break
            slow.settimeout(0.2)
            try:
                answer += slow.recv(4096)
            except TimeoutError:
                continue
        assert answer.startswith(b"HTTP/1.1 408")  # RFC 9110 section 15.5.9
        assert time.monotonic() - started < 60  # the whole body would take 100 s
        with server.client() as client:
            assert client.get("/healthz").status_code == 200


HOSTILE = {
    "ten megabytes": (b'{"title": "' + b"a" * 10_000_000 + b'"}', 413),
    "deep nesting": (b'{"a": ' * 50_000 + b"1" + b"}" * 50_000, 422),
    "deep lists": (b'{"a": ' + b"[" * 100_000 + b"]" * 100_000 + b"}", 422),
    "invalid UTF-8": (b'{"title": "\xff\xfe"}', 422),
    "an overlong form": (b'{"title": "\xc0\xaf"}', 422),
    "a zero byte": (b'{"title": "\x00"}', 422),
    "an escaped zero": (b'{"title": "\\u0000"}', 422),
    "half a surrogate pair": (b'{"title": "\\ud800"}', 422),
    "a huge number": (b'{"title": ' + b"9" * 100_000 + b"}", 422),
    "an infinite number": (b'{"title": 1e999}', 422),
    "not a number": (b'{"title": NaN}', 422),
    "a name twice": (b'{"title": "a", "title": "b"}', 422),
    "a list": (b"[]", 422),
    "a bare word": (b"null", 422),
    "nothing": (b"", 422),
    "half a document": (b'{"title": ', 422),
}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(f"sqlite:///{tmp_path_factory.mktemp('hostile')}/store.sqlite3") as found:
        yield found


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_bodies_get_a_clear_answer(server: Running, name: str) -> None:
    body, status = HOSTILE[name]
    with server.client() as client:
        answer = client.post("/v1/plans", content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code == status, answer.text
        assert answer.headers["content-type"] == "application/problem+json"
        problem = answer.json()
        assert problem["status"] == status
        assert len(answer.content) < 5_000  # what was sent is not thrown back
        assert client.get("/healthz").status_code == 200


def test_an_explosive_yaml_document_costs_nothing(server: Running) -> None:
    """Aliases of aliases, the "billion laughs"."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    with server.client() as client:
        started = time.monotonic()
        answer = client.post("/v1/plans", content="\n".join(lines), headers={"Content-Type": "application/yaml"})
        assert answer.status_code == 422
        assert time.monotonic() - started < 60  # a thousand million words would take longer, and the memory


def test_a_clock_that_jumps_erases_nothing(sqlite: str) -> None:
    day = 86_400.0
    jumps = [0.0]
    service = Service(Settings(store=SecretStr(sqlite), retention_days=1), wall=lambda: time.time() + jumps[-1])
    service.store.migrate()
    kept = service.jobs.accept("gym", [NewJob("plan", "client", "{}", answer="{}")], ROOM).jobs[0]
    for years in (10, -10):
        jumps.append(years * 365 * day)
        assert service.erase_old() == 0
        assert service.jobs.revision("gym", kept.id) is not None
    # A server that starts two days later has no reason to doubt its clock.
    later = Service(Settings(store=SecretStr(sqlite), retention_days=1), wall=lambda: time.time() + 2 * day)
    assert later.erase_old() == 1
    for each in (service, later):
        each.store.close()


def test_lost_work_is_told_by_a_clock_that_cannot_jump(sqlite: str, brief: dict[str, Any]) -> None:
    """The wall clock of this process runs wild while a week is solved; it is solved once all the same."""
    with running(sqlite, lost_after_seconds=1) as server, server.client() as client:
        path = client.post("/v1/plans", json=brief).headers["location"]
        assert ended(server, path)["state"] == "done"
        store = Store(sqlite)
        jobs = JobStore(store)
        with store.writing() as session:  # as if it had begun ten years ago, or will in ten
            for years in (-10, 10):
                moment = dt.datetime.now(dt.UTC) + dt.timedelta(days=365 * years)
                session.execute(update(Job).values(started_at=moment, created_at=moment))
        path = client.post("/v1/plans", json=brief, headers={"Prefer": "wait=20"}).headers["location"]
        job = jobs.find("local", path[-32:])
        store.close()
        assert job is not None
        assert (job.state, job.attempt) == ("done", 1)
