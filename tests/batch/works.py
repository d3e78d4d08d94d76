"""What a batch's processes run in the tests, where the real thing would not fail on demand."""

from __future__ import annotations

import os
import signal
import time

from scheduler.batch.solving import solved
from scheduler.batch.tasks import Task


def dies_on_poison(task: Task) -> str:
    """A process that is ended from outside, as by the kernel when memory runs out, whenever it meets one brief."""
    if "poison" in task.name:
        os.kill(os.getpid(), signal.SIGKILL)
    return solved(task)


def slow(task: Task) -> str:
    """Slow enough to be killed half-way; each start leaves a trace beside the brief."""
    with open(task.name + ".starts", "a", encoding="utf-8") as file:
        file.write(f"{os.getpid()}\n")
    time.sleep(0.8)
    return solved(task)


def old_version() -> str:
    """Another version wherever it is asked for."""
    return f"0.0.{os.getpid()}"
