"""Where runs happen: processes of this machine, or the workers of a Dask cluster. Both are an Executor."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
_NICENESS = 10
"""Solving steps back behind serving."""


class Processes(Executor):
    """So many processes, each a pool of its own: where one dies only its own run is lost, and it is replaced."""

    def __init__(self, count: int) -> None:
        self._lock = threading.Lock()
        self._idle = [_process() for _ in range(count)]
        self._all = set(self._idle)

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Run at once in an idle process. Raises RuntimeError where none is: no more may be sent than there are."""
        with self._lock:
            if not self._idle:
                raise RuntimeError("no idle process")
            pool = self._idle.pop()
        try:
            future = pool.submit(fn, *args, **kwargs)
        except BrokenProcessPool:  # it died while it was idle
            pool = self._replaced(pool)
            future = pool.submit(fn, *args, **kwargs)
        future.add_done_callback(lambda done: self._free(pool, done))
        return future

    def _free(self, pool: ProcessPoolExecutor, done: Future[Any]) -> None:
        if not done.cancelled() and isinstance(done.exception(), BrokenProcessPool):
            pool = self._replaced(pool)
        with self._lock:
            self._idle.append(pool)

    def _replaced(self, pool: ProcessPoolExecutor) -> ProcessPoolExecutor:
        pool.shutdown(wait=False)
        fresh = _process()
        with self._lock:
            self._all.discard(pool)
            self._all.add(fresh)
        return fresh

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        for pool in list(self._all):
            pool.shutdown(wait=wait, cancel_futures=cancel_futures)


def _process() -> ProcessPoolExecutor:
    # Spawned: a fork would take the server's threads' locks and its database connections along.
    return ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"), initializer=_prepare)


def _prepare() -> None:
    """In a new process: leave Ctrl-C to the server, step back behind it, end with it, and load the solver."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
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
    try:
        from distributed import Client
    except ImportError:
        raise RuntimeError("solving on a cluster needs the library for it: pip install 'weekwright[cluster]'") from None
    executor: Executor = Client(cluster, set_as_default=False).get_executor(pure=False)
    return executor
