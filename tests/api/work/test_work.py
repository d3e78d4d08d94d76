"""The executor seam: processes of this machine, a Dask cluster by address; each run ends once, whoever runs it."""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest
from pydantic import SecretStr

from api.settings import Settings
from api.store import PLAN, JobStore, NewJob, State, Store
from api.work import Changes, Dispatcher, make_executor, worker
from api.work.executor import Processes
from api.work.worker import run
from scheduler.domain.plan import Plan
from tests.api import postgresql
from tests.api.conftest import ROOM, emptied


def asked(brief: dict[str, Any], seconds: float = 30) -> NewJob:
    return NewJob(PLAN, "client", json.dumps({"brief": brief, "seconds": seconds}))


def wait_until(done: Any, seconds: float = 60) -> None:
    deadline = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < deadline
        time.sleep(0.05)


@pytest.fixture(autouse=True)
def _no_store_stays_open() -> Iterator[None]:
    """A worker keeps its store for as long as its process lives; here that is this one."""
    opened: list[Store] = []
    real = worker.Store

    def noted(url: str) -> Store:
        opened.append(real(url))
        return opened[-1]

    worker.Store = noted  # type: ignore[misc, assignment]
    yield
    worker.Store = real  # type: ignore[misc]
    worker._jobs.cache_clear()
    for each in opened:
        each.close()


@pytest.fixture(scope="module")
def processes() -> Iterator[Processes]:
    found = Processes(1)
    yield found
    found.shutdown()


def test_a_process_that_dies_is_replaced(processes: Processes) -> None:
    with pytest.raises(BrokenProcessPool):
        processes.submit(os._exit, 9).result(60)
    assert processes.submit(sum, (1, 2)).result(60) == 3


def test_no_more_is_taken_than_there_are_processes(processes: Processes) -> None:
    busy = processes.submit(time.sleep, 3)
    with pytest.raises(RuntimeError, match="idle"):
        processes.submit(sum, (1, 2))
    busy.result(60)


def test_a_run_writes_its_answer_once(store: Store, jobs: JobStore, brief: dict[str, Any]) -> None:
    job_id = jobs.accept("gym", [asked(brief)], ROOM).jobs[0].id
    claim = jobs.claim_next()
    assert claim is not None
    for _ in range(2):  # the second finds nothing to do
        run(SecretStr(store.url), *claim, beat_seconds=0.1, may_exit=False)
    job = jobs.find("gym", job_id)
    assert job is not None
    assert (job.state, job.status) == ("done", "proved best")
    assert Plan.model_validate_json(job.answer or "").sessions


def test_a_run_that_fails_says_so_without_the_brief(store: Store, jobs: JobStore, brief: dict[str, Any]) -> None:
    wrong = brief | {"goals": {"secret_muscle": {"aim": 4}}}
    job_id = jobs.accept("gym", [asked(wrong)], ROOM).jobs[0].id
    claim = jobs.claim_next()
    assert claim is not None
    run(SecretStr(store.url), *claim, beat_seconds=0.1, may_exit=False)
    job = jobs.find("gym", job_id)
    assert job is not None
    assert job.state == "failed"
    assert json.loads(job.problem or "")["status"] == 422


def test_erasing_stops_a_run(store: Store, jobs: JobStore, slow_brief: dict[str, Any]) -> None:
    jobs.accept("gym", [asked(slow_brief)], ROOM)
    claim = jobs.claim_next()
    assert claim is not None
    kept = {"beat_seconds": 0.1, "may_exit": False}
    thread = threading.Thread(target=run, args=(SecretStr(store.url), *claim), kwargs=kept)
    thread.start()
    time.sleep(0.5)
    jobs.erase("gym")
    thread.join(20)
    assert not thread.is_alive()
    assert jobs.page("gym", limit=5) == []


@pytest.fixture
def cluster() -> Iterator[str]:
    """A Dask scheduler with one worker process, reached by its address as one elsewhere would be."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1", silence_logs=50
    ) as found:
        yield found.scheduler_address


@pytest.mark.filterwarnings("default")  # the cluster library leaves sockets to the garbage collector
def test_a_cluster_runs_stops_and_tells_like_processes(
    cluster: str, postgres: postgresql.Server, brief: dict[str, Any], slow_brief: dict[str, Any]
) -> None:
    settings = Settings(
        store=SecretStr(emptied(postgres.url)), cluster=cluster, workers=1, beat_seconds=0.1, drain_seconds=1
    )
    store = Store(settings.store_url)
    store.migrate()
    jobs = JobStore(store)
    dispatcher = Dispatcher(settings, jobs, lambda: make_executor(1, cluster), Changes())
    dispatcher.start()
    try:
        quick = jobs.accept("gym", [asked(brief)], ROOM).jobs[0].id
        slow = jobs.accept("gym", [asked(slow_brief, 60)], ROOM).jobs[0].id
        dispatcher.wake()

        def state(job_id: str) -> State:
            found = jobs.revision("gym", job_id)
            assert found is not None
            return found[1]

        wait_until(lambda: state(quick) is State.DONE)

        def told() -> bool:
            job = jobs.find("gym", slow)
            return job is not None and job.progress is not None

        wait_until(told)
        jobs.ask_stop("gym", slow)
        wait_until(lambda: state(slow) is State.STOPPED, 30)
    finally:
        dispatcher.stop()
        store.close()


def test_a_cluster_needs_a_store_that_it_can_reach(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="reaches no SQLite"):
        Settings(store=SecretStr(f"sqlite:///{tmp_path}/s"), cluster="tcp://127.0.0.1:1")
