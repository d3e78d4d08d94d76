"""One task solved, in whatever process: its answer is a line of JSON, and so is whatever goes wrong."""

from __future__ import annotations

import json
import time
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from scheduler.batch.tasks import Task
from scheduler.domain.brief import Brief
from scheduler.domain.errors import Fault, InputError
from scheduler.planning import solve

BAD_BRIEF, PROGRAM_FAULT = "bad brief", "fault of the program"


def solved(task: Task) -> str:
    """The line of a task: name, number, key, status, seconds and the plan; or faults in its place. Never raises."""
    started = time.perf_counter()
    try:
        plan = solve(Brief.model_validate_json(task.brief_json), limits=task.limits)
    except InputError as error:
        return line(task.name, task.number, BAD_BRIEF, faults=error.faults)
    except Exception as error:
        return program_fault(task.name, task.number, f"{type(error).__name__}: {error}")
    seconds = round(time.perf_counter() - started, 3)
    return line(
        task.name,
        task.number,
        plan.status.value,
        key=task.key,
        seconds=seconds,
        plan=plan.model_dump(mode="json"),
    )


def program_fault(name: str, number: int, problem: str) -> str:
    fault = Fault("", problem, "Please report it with the brief; the next run tries it again")
    return line(name, number, PROGRAM_FAULT, faults=[fault])


def line(name: str, number: int, status: str, *, faults: Iterable[Fault] = (), **more: Any) -> str:
    """A line of the answers, without its end."""
    row: dict[str, Any] = {"brief": name, "number": number, "status": status, **more}
    if found := [asdict(fault) for fault in faults]:
        row["faults"] = found
    return json.dumps(row, ensure_ascii=False, separators=(",", ":"))
