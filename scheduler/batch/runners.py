"""Where tasks are solved: processes on this machine, or the workers of a Dask cluster. Both hand back one line a task.

A process that dies takes nothing with it: its task is solved again. On this machine the tasks that were under way
are then solved one at a time, so that the brief that ends processes is known by name; a cluster's scheduler gives the
task to other workers, a few times at most.
"""

from __future__ import annotations

import multiprocessing
import os
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from typing import Any

from scheduler.batch.solving import program_fault, solved
from scheduler.batch.tasks import Task
from scheduler.domain.errors import InputError
from scheduler.planning import program_version
from scheduler.processes import Pool, end_on_ctrl_c

Work = Callable[[Task], str]
Runner = Callable[[Iterator[Task]], Iterator[tuple[Task, str]]]
AHEAD = 2
"""Tasks sent ahead for each worker, so that none waits for its next."""
CONNECT_SECONDS = 10
ATTEMPTS = 3
"""So often a task is sent to a cluster that loses its answer."""


def local(workers: int | None = None, work: Work = solved) -> Runner:
    """So many processes on this machine; left out: one for each core that may be used."""
    number = workers or _cores()

    def run(tasks: Iterator[Task]) -> Iterator[tuple[Task, str]]:
        pool = _pool(number)
        under_way: dict[Future[str], Task] = {}
        try:
            while True:
                for task in islice(tasks, AHEAD * number - len(under_way)):
                    under_way[_sent(pool, work, task)] = task
                if not under_way:
                    return
                ready, _ = wait(under_way, return_when=FIRST_COMPLETED)
                if any(_died(future) for future in ready):
                    pool.shutdown(wait=True, cancel_futures=True)
                    yield from _one_at_a_time(under_way, work)
                    under_way, pool = {}, _pool(number)
                    continue
                for future in ready:
                    yield under_way.pop(future), future.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    return run


def _cores() -> int:
    """The cores that this process may use, where the system tells."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _sent(pool: Pool, work: Work, task: Task) -> Future[str]:
    try:
        return pool.submit(work, task)
    except BrokenProcessPool as error:  # a process has died since the last look
        future: Future[str] = Future()
        future.set_exception(error)
        return future


def _died(future: Future[str]) -> bool:
    return future.cancelled() or isinstance(future.exception(), BrokenProcessPool)


def _pool(workers: int) -> Pool:
    # Spawned, not forked: a fork copies the threads' locks of whatever program this runs in.
    return Pool(workers, multiprocessing.get_context("spawn"), initializer=end_on_ctrl_c)


def _one_at_a_time(under_way: dict[Future[str], Task], work: Work) -> Iterator[tuple[Task, str]]:
    """What was under way when a process died: each in a process of its own, until all are answered."""
    for future, task in under_way.items():
        if not _died(future):
            yield task, future.result()
            continue
        alone = _pool(1)
        try:
            yield task, alone.submit(work, task).result()
        except BrokenProcessPool:
            yield task, program_fault(task.name, task.number, "the process that solved it ended, twice")
        finally:
            alone.shutdown(wait=True, cancel_futures=True)


def cluster(address: str, work: Work = solved) -> Runner:
    """The workers of the Dask cluster whose scheduler is at this address (tcp://host:8786).

    Raises:
        InputError: the extra is not installed, nobody answers, or the workers have another version of the program.
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise InputError.single(
            "--cluster", "the package distributed is not installed", "Install it: pip install 'weekwright[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError.single(
            "--cluster",
            f"no scheduler answers at {address} ({type(error).__name__})",
            "Write its address as tcp://host:8786",
        ) from None
    try:
        _same_version(client)
    except BaseException:
        client.close()
        raise

    def run(tasks: Iterator[Task]) -> Iterator[tuple[Task, str]]:
        batch = uuid.uuid4().hex  # two batches on one cluster never share an answer
        under_way: dict[str, tuple[Task, int]] = {}
        answered = as_completed(loop=client.loop)

        def send(task: Task, attempt: int) -> None:
            future = client.submit(work, task, key=f"weekwright-{batch}-{task.number}-{attempt}", pure=False)
            under_way[str(future.key)] = task, attempt
            answered.add(future)

        def fill() -> None:
            for task in islice(tasks, max(0, AHEAD * _threads(client) - len(under_way))):
                send(task, 1)

        try:
            fill()
            for future in answered:
                task, attempt = under_way.pop(str(future.key))
                text = _line(future, task)
                if text is not None:
                    yield task, text
                elif client.status != "running":
                    raise _gone()
                elif attempt < ATTEMPTS:
                    send(task, attempt + 1)
                else:
                    yield task, program_fault(task.name, task.number, f"the cluster lost its answer {attempt} times")
                future.release()
                fill()
        finally:
            client.close()

    return run


def _threads(client: Any) -> int:
    """How many tasks the cluster solves side by side, as it is now; 1 while it has no workers."""
    try:
        threads = sum(client.nthreads().values())
    except (OSError, TimeoutError):
        raise _gone() from None
    return max(1, int(threads))


def _line(future: Any, task: Task) -> str | None:
    """The answer; None where it was lost with the worker that had it, or with the scheduler."""
    if future.status == "error":
        error = future.exception()
        return program_fault(task.name, task.number, f"{type(error).__name__} on the cluster: {error}")
    if future.status != "finished":
        return None
    try:
        return str(future.result())
    except CancelledError:
        return None


def _gone() -> InputError:
    advice = "Start it again and run the same command: it goes on from here"
    return InputError.single("--cluster", "the cluster's scheduler is gone", advice)


def _same_version(client: Any) -> None:
    """Every worker that is there has this program in this version."""
    try:
        found = client.run(program_version)
    except ImportError as error:
        raise InputError.single(
            "--cluster", f"a worker lacks this program ({error})", "Install weekwright where the workers run"
        ) from None
    mine = program_version()
    for worker, version in found.items():
        if version != mine:
            raise InputError.single(
                "--cluster", f"{worker} has version {version}, here is {mine}", "Install the same version on both"
            )
