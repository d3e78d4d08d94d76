"""Weekwright: turns training intent into a real week of strength sessions, and can defend every choice in it.

The library in two acts::

    from scheduler import read_brief, solve
    plan = solve(read_brief(Path("scenarios/back_first.yaml")))
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scheduler.blocks.build import plan_block
    from scheduler.blocks.log import log_week
    from scheduler.briefs import read_block, read_brief, read_plan
    from scheduler.log_files import read_log
    from scheduler.planning import Report, check, solve
    from scheduler.week.solver import Cancel, Limits

_HOMES = {
    "log_week": "scheduler.blocks.log",
    "plan_block": "scheduler.blocks.build",
    "read_block": "scheduler.briefs",
    "read_brief": "scheduler.briefs",
    "read_log": "scheduler.log_files",
    "read_plan": "scheduler.briefs",
    "Report": "scheduler.planning",
    "check": "scheduler.planning",
    "solve": "scheduler.planning",
    "Cancel": "scheduler.week.solver",
    "Limits": "scheduler.week.solver",
}

__all__ = [
    "Cancel",
    "Limits",
    "Report",
    "check",
    "log_week",
    "plan_block",
    "read_block",
    "read_brief",
    "read_log",
    "read_plan",
    "solve",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first used: importing the package alone stays quick."""
    if name not in _HOMES:
        raise AttributeError(f"module 'scheduler' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
