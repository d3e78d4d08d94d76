"""The commented starter brief of ``weekwright new``."""

from __future__ import annotations

import datetime as dt
from importlib.resources import files

from scheduler.domain.errors import InputError


def starter_brief(monday: str | None = None, *, today: dt.date | None = None) -> str:
    """The text of a starter brief for the week of a Monday (left out: the next one).

    Raises:
        InputError: the date is none, or no Monday.
    """
    if monday is None:
        start = today or dt.datetime.now().astimezone().date()
        start += dt.timedelta(days=7 - start.weekday())
    else:
        try:
            start = dt.date.fromisoformat(monday)
        except ValueError:
            raise InputError.single("--monday", f"{monday!r} is no date", "Write it as 2026-11-30") from None
        if start.weekday() != 0:
            day = start - dt.timedelta(days=start.weekday())
            raise InputError.single("--monday", f"{monday} is no Monday", f"Write {day}")
    text = files("scheduler.data").joinpath("starter.yaml.txt").read_text(encoding="utf-8")
    return text.replace("@MONDAY@", start.isoformat())
