"""Logs from files: YAML or JSON as the schema says, or comma-separated values with a row for sets done alike."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scheduler.documents import parse_text, validate
from scheduler.domain.errors import Fault, InputError, nearest
from scheduler.domain.log import WeekLog
from scheduler.domain.units import DAYS

MOST_BYTES = 1_000_000


def _number(read: Callable[[str], float]) -> Callable[[str], float]:
    """A reader of numbers. Python reads 1_0 as ten; in a table it is a slip. What it makes raises ValueError."""

    def taken(text: str) -> float:
        if "_" in text:
            raise ValueError(text)
        return read(text)

    return taken


COLUMNS: dict[str, Callable[[str], Any]] = {
    "date": str,
    "kind": str,
    "exercise": str,
    "sets": _number(int),
    "reps": _number(int),
    "load_kg": _number(float),
    "reps_in_reserve": _number(int),
    "pain": str,
    "start": str,
    "minutes": _number(int),
    "place": str,
    "state": str,
}
STATES = ("", "done", "missed", "as planned", "cleared")


def read_log(path: Path) -> WeekLog:
    """A week's log. Raises InputError."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError.single(str(path), f"the file cannot be read ({error.strerror})", "Check the path") from None
    if len(data) > MOST_BYTES:
        raise InputError.single(path.name, f"the log is larger than {MOST_BYTES} bytes", "Log one week in a file")
    if path.suffix.lower() == ".csv":
        return log_of_csv(data, source=path.name)
    return validate(WeekLog, parse_text(data, source=path.name))


def log_of_csv(data: bytes, *, source: str = "log.csv") -> WeekLog:
    """A log from comma-separated values: date, kind, and exercise with its numbers, or state missed or as planned.

    Rows of one kind on one date are of one session; another start begins another one. A row of an exercise with the
    state cleared is of no session, and says nothing else.
    """
    try:
        text = data.decode("utf-8-sig")
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        rows = list(reader)
    except (UnicodeDecodeError, csv.Error) as error:
        problem = f"these are no comma-separated values in UTF-8 ({error})"
        raise InputError.single(source, problem, "Export it anew") from None
    if not rows:
        raise InputError.single(source, "the log has no rows", "Write a head line and a row for each exercise")
    twice = [name for name, times in Counter(reader.fieldnames or ()).items() if times > 1]
    if twice:
        raise InputError.single(source, f"the column {twice[0]!r} comes twice", "Keep one")
    strange = [name for name in reader.fieldnames or () if name not in COLUMNS]
    if strange:
        raise InputError.single(source, f"unknown column {strange[0]!r}", nearest(str(strange[0]), COLUMNS))
    faults: list[Fault] = []
    sessions: list[dict[str, Any]] = []
    latest: dict[tuple[str, str], dict[str, Any]] = {}
    cleared: list[str] = []
    mondays = set()
    for number, row in enumerate(rows, start=2):
        values = _values(row, f"{source}, line {number}", faults)
        date = _date(values.pop("date", ""), f"{source}, line {number}", faults)
        if date is None:
            continue
        mondays.add(date - dt.timedelta(days=date.weekday()))
        if values.get("state") == "cleared":
            cleared.append(values.get("exercise", ""))
            if more := [name for name in values if name not in ("kind", "exercise", "state")]:
                advice = "Write what was done in a row of its own; what hurts in it is cleared by a later log"
                faults.append(Fault(f"{source}, line {number}", f"it is cleared and says {more[0]} too", advice))
            continue
        kind = str(values.pop("kind", ""))
        session = latest.get((date.isoformat(), kind))
        if session is None or ("start" in values and session.get("start", values["start"]) != values["start"]):
            session = latest[date.isoformat(), kind] = {
                "kind": kind,
                "day": DAYS[date.weekday()].value,
                "exercises": [],
            }
            sessions.append(session)
        state = values.pop("state", "")
        if state in ("missed", "as planned"):
            session[state.replace(" ", "_")] = True
        elif state not in STATES:
            faults.append(
                Fault(f"{source}, line {number}", f"{state!r} is no state", "Write missed, as planned or cleared")
            )
        session |= {key: values.pop(key) for key in ("start", "minutes", "place") if key in values}
        if values:
            session["exercises"].append(values)
    if len(mondays) > 1:
        faults.append(Fault(source, "the dates lie in several weeks", "Log one week in a file"))
    if faults:
        raise InputError(faults)
    log = {"week": min(mondays).isoformat(), "sessions": sessions, "cleared": cleared}
    return validate(WeekLog, log)


def _values(row: dict[str, Any], where: str, faults: list[Fault]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, text in row.items():
        if name is None or text is None:
            faults.append(Fault(where, "the row has more or fewer cells than the head", "Correct the commas"))
            return {}
        if text.strip() == "":
            continue
        try:
            found[name] = COLUMNS[name](text.strip())
        except ValueError:
            faults.append(Fault(where, f"{name} is {text.strip()[:40]!r}, no number", "Write a number"))
    return found


def _date(text: str, where: str, faults: list[Fault]) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        faults.append(Fault(where, f"{text[:40]!r} is no date", "Write it like 2026-12-02"))
        return None
