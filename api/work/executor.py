"""Where runs happen: processes of this machine, or the workers of a Dask cluster. Both are an Executor."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from typing import Any, ParamSpec, TypeVar

from scheduler.processes import Pool, ignore_ctrl_c

P = ParamSpec("P")
T = TypeVar("T")
_FREE_SECONDS = 1.0
_NICENESS = 10
"""Solving steps back behind serving, and still has its share beside whatever else keeps the machine busy.

Idle priority left it none there, so that runs were thought lost, and did nothing for those who read.
"""


class Processes(Executor):
    """So many processes, each a pool of its own: where one dies only its own run is lost, and it is replaced."""

    def __init__(self, count: int) -> None:
        self._lock = threading.Condition()
        self._idle = [_process() for _ in range(count)]
        self._all = set(self._idle)

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Run at once in an idle process. Raises RuntimeError where none is: no more may be sent than there are."""
        with self._lock:
            # A future is done a moment before its process is free again.
            if not self._lock.wait_for(lambda: self._idle, _FREE_SECONDS):
                raise RuntimeError("no idle process")
            pool = self._idle.pop()
        try:
            future = pool.submit(fn, *args, **kwargs)
        except BrokenProcessPool:  # it died while it was idle
            pool = self._replaced(pool)
            future = pool.submit(fn, *args, **kwargs)
        future.add_done_callback(lambda done: self._free(pool, done))
        return future

    def _free(self, pool: Pool, done: Future[Any]) -> None:
        if not done.cancelled() and isinstance(done.exception(), BrokenProcessPool):
            pool = self._replaced(pool)
        with self._lock:
            self._idle.append(pool)
            self._lock.notify()

    def _replaced(self, pool: Pool) -> Pool:
        pool.shutdown(wait=False)
        fresh = _process()
        with self._lock:
            self._all.discard(pool)
            self._all.add(fresh)
        return fresh

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        for pool in list(self._all):
            pool.shutdown(wait=wait, cancel_futures=cancel_futures)


def _process() -> Pool:
    # Spawned: a fork would take the server's threads' locks and its database connections along.
    return Pool(1, mp_context=multiprocessing.get_context("spawn"), initializer=_prepare)


def _prepare() -> None:
    """In a new process: leave Ctrl-C to the server, step back behind it, end with it, and load the solver."""
    ignore_ctrl_c()
    os.nice(_NICENESS)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), name="end with the server", daemon=True).start()
    import scheduler.planning  # noqa: F401


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(4)  # the server was killed; its next start runs again what was running here


def make_executor(workers: int, cluster: str | None) -> Executor:
    """Processes of this machine, or a Dask cluster by address.

    Raises:
        RuntimeError: the library for clusters is not installed.
        OSError: there is no cluster at the address.
    """
    if cluster is None:
        return Processes(workers)
    return Cluster(cluster)


class Cluster(Executor):
    """The workers of a Dask cluster, by the address of its scheduler."""

    def __init__(self, address: str) -> None:
        """Raises RuntimeError where the library is not installed, OSError where there is no cluster."""
        try:
            from distributed import Client
        except ImportError:
            raise RuntimeError("solving on a cluster needs: pip install 'weekwright[cluster]'") from None
        self._client = Client(address, set_as_default=False)
        self._executor: Executor = self._client.get_executor(pure=False)

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        return self._executor.submit(fn, *args, **kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._executor.shutdown(wait=wait)
        self._client.close()
