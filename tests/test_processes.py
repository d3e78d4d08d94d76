"""A Ctrl-C reaches a process that works for another at any moment, its first included."""

from __future__ import annotations

import signal
import subprocess
import sys

import pytest

STARTED = """
import multiprocessing, os, signal, time
from scheduler.processes import Pool, {initializer}

if __name__ == "__main__":
    pool = Pool(1, multiprocessing.get_context("spawn"), initializer={initializer})
    future = pool.submit(abs, -1)
    (child,) = multiprocessing.active_children()
    time.sleep({wait})
    os.kill(child.pid, signal.SIGINT)
    error = future.exception()
    print(type(error).__name__ if error else future.result())
    pool.shutdown()
    child.join()
    print(child.exitcode)
"""
HELD_BACK = """
import os, signal
from scheduler.processes import ctrl_c_held_back

try:
    with ctrl_c_held_back():
        os.kill(os.getpid(), signal.SIGINT)
        print("within")
except KeyboardInterrupt:
    print("afterwards")
"""
CALLED = """
import os, signal
from scheduler.processes import ctrl_c_calls

with ctrl_c_calls(lambda: print("stop")):
    os.kill(os.getpid(), signal.SIGINT)
    print("goes on")
    try:
        os.kill(os.getpid(), signal.SIGINT)
    except KeyboardInterrupt:
        print("interrupted")
with ctrl_c_calls(print):
    pass
try:
    os.kill(os.getpid(), signal.SIGINT)
except KeyboardInterrupt:
    print("as before")
"""


def told(code: str) -> list[str]:
    """The words that a program prints, and that it prints no fault."""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert ended.stderr == ""
    return ended.stdout.split()


@pytest.mark.parametrize("wait", [0.0, 0.01, 0.03])
def test_ctrl_c_ends_a_process_that_starts_and_prints_nothing(wait: float) -> None:
    answer, exit_code = told(STARTED.format(initializer="end_on_ctrl_c", wait=wait))
    assert answer in ("BrokenProcessPool", "1")  # by 0.03 s it may have answered
    assert exit_code == str(-signal.SIGINT)


@pytest.mark.parametrize("wait", [0.0, 0.01, 0.03])
def test_ctrl_c_can_be_left_to_the_process_that_starts_another(wait: float) -> None:
    assert told(STARTED.format(initializer="ignore_ctrl_c", wait=wait)) == ["1", "0"]


def test_ctrl_c_that_was_held_back_comes_afterwards() -> None:
    assert told(HELD_BACK) == ["within", "afterwards"]


def test_a_first_ctrl_c_is_a_wish_and_a_second_one_ends_it() -> None:
    assert " ".join(told(CALLED)) == "stop goes on interrupted as before"
