"""A Ctrl-C reaches a process that works for another at any moment, its first included."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from scheduler.processes import ctrl_c_held_back

STARTED = """
import multiprocessing, os, signal, time
from concurrent.futures import ProcessPoolExecutor
from scheduler.processes import ctrl_c_held_back, {initializer}

if __name__ == "__main__":
    pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), initializer={initializer})
    with ctrl_c_held_back():
        future = pool.submit(abs, -1)
    (child,) = multiprocessing.active_children()
    time.sleep({wait})
    os.kill(child.pid, signal.SIGINT)  # it is not yet past its imports
    error = future.exception()
    print(type(error).__name__ if error else future.result())
    pool.shutdown()
    child.join()
    print(child.exitcode)
"""


@pytest.mark.parametrize("wait", [0.0, 0.01])
@pytest.mark.parametrize(
    ("initializer", "answer", "exit_code"),
    [("end_on_ctrl_c", "BrokenProcessPool", -signal.SIGINT), ("ignore_ctrl_c", "1", 0)],
)
def test_ctrl_c_while_a_process_starts_prints_nothing(
    initializer: str, answer: str, exit_code: int, wait: float
) -> None:
    code = STARTED.format(initializer=initializer, wait=wait)
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert ended.stdout.split() == [answer, str(exit_code)]
    assert ended.stderr == ""


def test_ctrl_c_that_was_held_back_comes_afterwards() -> None:
    within = []

    def interrupted() -> None:
        with ctrl_c_held_back():
            os.kill(os.getpid(), signal.SIGINT)
            within.append(True)

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert within
