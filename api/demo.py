"""Demo briefs, ready to be sent: the scenarios that the tests read."""

from __future__ import annotations

import sysconfig
from functools import cache
from pathlib import Path
from typing import Any

from scheduler.briefs import read_brief


@cache
def folder() -> Path:
    """In a checkout the scenarios beside this package; else where the installation has put them."""
    checkout = Path(__file__).parent.parent / "scenarios"
    return checkout if checkout.is_dir() else Path(sysconfig.get_path("data")) / "share" / "weekwright" / "scenarios"


def names() -> list[str]:
    return sorted(path.stem for path in folder().glob("*.yaml"))


@cache
def brief(name: str) -> dict[str, Any]:
    """A demo brief as JSON data, its calendars read, without what the tests expect of it. Raises KeyError."""
    if name not in names():
        raise KeyError(name)
    found = read_brief(folder() / f"{name}.yaml")
    return found.model_dump(mode="json", exclude={"expect"}, exclude_defaults=True, exclude_none=True)
