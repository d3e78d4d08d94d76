"""Processes that work for this one, and Ctrl-C, which a terminal sends to every process it shows.

A new process of Python would meet a Ctrl-C in the middle of its imports and print where it was. So it is started with
the signal held back, a mask that it inherits, and says itself what a Ctrl-C is to it before it hears of one. The
standard library starts its own helper in the same way (https://github.com/python/cpython/issues/77794).
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class Pool(ProcessPoolExecutor):
    """Processes that hear no Ctrl-C before their initializer, `end_on_ctrl_c` or what calls it, says what it is."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        with ctrl_c_held_back():  # the first task starts the processes
            return super().submit(fn, *args, **kwargs)


@contextmanager
def ctrl_c_held_back() -> Iterator[None]:
    """Processes started within hear no Ctrl-C until they call `end_on_ctrl_c` or `ignore_ctrl_c`.

    This thread hears of it afterwards; another thread of this process may hear of it at once. Where the system knows no
    such mask, nothing is held back.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def ctrl_c_calls(stop: Callable[[], None]) -> Iterator[None]:
    """Within it a first Ctrl-C calls ``stop`` wherever this process is, and a second one interrupts it as usual.

    Between two searches there is as much to lose as in one. Only the main thread hears signals: elsewhere nothing is
    changed.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def heard(_number: int, _frame: object) -> None:
        signal.signal(signal.SIGINT, before)
        stop()

    before = signal.signal(signal.SIGINT, heard)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def end_on_ctrl_c() -> None:
    """In a new process: end at once and say nothing, also at a Ctrl-C that came before."""
    _on_ctrl_c(signal.SIG_DFL)


def ignore_ctrl_c() -> None:
    """In a new process: leave Ctrl-C to the process that started it."""
    _on_ctrl_c(signal.SIG_IGN)


def _on_ctrl_c(handler: signal.Handlers) -> None:
    signal.signal(signal.SIGINT, handler)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
