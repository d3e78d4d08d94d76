"""Briefs and plans from files: strict reading, calendars expanded, every fault with its place in the document."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pydantic import Field

from scheduler.answers.merge_patch import merge_patch
from scheduler.documents import PLAN_BYTES, parse_text, validate
from scheduler.domain.block import BLOCK_FORMAT, Block, BlockSettings
from scheduler.domain.brief import Brief, WeekFrame
from scheduler.domain.errors import InputError
from scheduler.domain.plan import PLAN_FORMAT, Plan, PlannedSession, Zone
from scheduler.domain.units import Frozen
from scheduler.instance import Instance
from scheduler.planning import instance_of

_BLOCK_FIELDS = ("title", "story", "brief", "changes", "block", "log", "expect")
"""``log`` and ``expect`` are for tests: a week that was done, and what is to be shown."""
CALENDAR_BYTES = 5_000_001
"""One byte more than the calendar reader takes, so that it says itself what is too large."""


def read_brief(path: Path, *, calendars: Iterable[Path] = ()) -> Brief:
    """A brief from a YAML or JSON file, with its calendars read into ``busy``.

    A file that holds a brief, or names one beside it, under ``brief:`` (a question, a plan written by hand) will do.

    Args:
        calendars: iCalendar files besides those that the brief names.

    Raises:
        InputError: the file, or a calendar, cannot be used.
    """
    data: Any = parse_text(_bytes(path), source=path.name)
    held = data.get("brief") if "week" not in data else None
    if isinstance(held, str):
        return read_brief(path.parent / held, calendars=calendars)
    brief = brief_of(held if isinstance(held, dict) else data, folder=path.parent)
    return with_calendars(brief, [(str(extra), extra) for extra in calendars])


def brief_of(data: object, *, folder: Path | None = None) -> Brief:
    """A brief from plain data; ``folder`` is where its calendar files lie. Raises InputError."""
    brief = validate(Brief, data)
    if brief.calendars:
        if folder is None:
            raise InputError.single(
                "calendars", "calendar files cannot be read from here", "Give the busy times as busy: instead"
            )
        brief = with_calendars(brief, [(name, _inside(folder, name, n)) for n, name in enumerate(brief.calendars)])
        brief = brief.model_copy(update={"calendars": ()})
    instance_of(brief)
    return brief


def read_block(
    path: Path, *, calendars: Iterable[Path] = (), settings: Mapping[str, Any] | None = None
) -> tuple[Brief, BlockSettings]:
    """A brief and how its weeks become a block, with the busy times of all its weeks.

    The file holds a brief, or ``brief:`` (one, or a file beside it), ``changes:`` (a merge patch of it) and ``block:``.

    Args:
        settings: go before those of the file.

    Raises:
        InputError: the file, or a calendar, cannot be used.
    """
    data: Any = parse_text(_bytes(path), source=path.name)
    folder = path.parent
    held: Any = data
    asked: Any = {}
    if "week" not in data:
        strange = [key for key in data if key not in _BLOCK_FIELDS]
        if strange or "brief" not in data:
            problem = f"{strange[0]!r} is no part of a block" if strange else "there is no brief"
            raise InputError.single(path.name, problem, f"Write a brief, or: {', '.join(_BLOCK_FIELDS)}")
        held, asked = data["brief"], data.get("block") or {}
        if isinstance(held, str):
            folder = (folder / held).parent
            held = parse_text(_bytes(path.parent / held), source=held)
        held = merge_patch(held, {key: data[key] for key in ("title", "story") if key in data})
        held = merge_patch(held, data.get("changes") or {})
    block = validate(BlockSettings, merge_patch(asked, settings or {}), prefix="block")
    brief = validate(Brief, held)
    extra = [(str(name), name) for name in calendars]
    files = [*((name, _inside(folder, name, n)) for n, name in enumerate(brief.calendars)), *extra]
    busy = list(brief.busy)
    for frame in frames(brief.week, block.weeks + block.easy_weeks) if files else ():
        busy += with_calendars(brief.model_copy(update={"week": frame, "busy": ()}), files).busy
    brief = brief.model_copy(update={"busy": tuple(dict.fromkeys(busy)), "calendars": ()})
    instance_of(brief)
    return brief, block


def frames(week: WeekFrame, weeks: int) -> list[WeekFrame]:
    """So many weeks from this one on."""
    return [week.model_copy(update={"start": week.start + dt.timedelta(days=7 * n)}) for n in range(weeks)]


def with_calendars(brief: Brief, files: Iterable[tuple[str, Path]]) -> Brief:
    """The brief with the busy times of iCalendar files added. Raises InputError."""
    busy = list(brief.busy)
    for name, path in files:
        # Not before there is a calendar: loading the reader takes longer than settling a brief.
        from scheduler.calendars import read_busy

        busy += read_busy(_bytes(path, CALENDAR_BYTES), brief.week, source=name)
    return brief.model_copy(update={"busy": tuple(busy)})


def _inside(folder: Path, name: str, number: int) -> Path:
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise InputError.single(
            f"calendars[{number}]", f"{name!r} lies outside the brief's folder", "Put the calendar beside the brief"
        )
    return path


def _bytes(path: Path, most: int = PLAN_BYTES + 1) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(most)
    except IsADirectoryError:
        raise InputError.single(str(path), "this is a folder", "Name a file in it") from None
    except FileNotFoundError:
        raise InputError.single(str(path), "there is no such file", _neighbours(path)) from None
    except OSError as error:
        raise InputError.single(str(path), f"the file cannot be read ({error.strerror})", "Check its rights") from None


def _neighbours(path: Path) -> str:
    folder = path.parent
    names = sorted(p.name for p in folder.glob("*.y*ml"))[:6] if folder.is_dir() else []
    return f"In that folder are: {', '.join(names)}" if names else "Check the path"


# --- plans ------------------------------------------------------------------------------------------------------


class HandEntry(Frozen):
    """An exercise of a plan written by hand: only the exercise and its sets are needed."""

    exercise: str
    sets: int = Field(ge=1, le=50)
    reps: int | None = Field(default=None, ge=1, le=200)
    load_kg: float | None = Field(default=None, gt=0, le=1000)
    role: Any = "main"
    pair: int | None = None


class HandSession(Frozen):
    """A session of a plan written by hand; times without an offset are on the brief's clock."""

    kind: str
    start: Any
    end: Any
    place: str | None = None
    entries: tuple[HandEntry, ...]


class HandPlan(Frozen):
    """A plan written by hand: sessions, and the brief inline or as a file beside it."""

    brief: Any = None
    title: str | None = None
    sessions: tuple[HandSession, ...]


def read_plan(path: Path, *, brief: Brief | None = None) -> tuple[Brief, tuple[PlannedSession, ...]]:
    """The brief and the sessions of a plan: one that the program wrote, or a short one written by hand.

    Args:
        brief: check against this brief, not the plan's own.

    Raises:
        InputError: the file cannot be used, or no brief is given anywhere.
    """
    data = parse_text(_bytes(path), source=path.name, max_bytes=PLAN_BYTES)
    return plan_of(data, brief=brief, folder=path.parent)


def plan_of(
    data: object, *, brief: Brief | None = None, folder: Path | None = None
) -> tuple[Brief, tuple[PlannedSession, ...]]:
    """The same from plain data; ``folder`` is where the files that it names lie. Raises InputError."""
    if isinstance(data, dict) and data.get("format") == PLAN_FORMAT:
        plan = validate(Plan, data)
        return brief or plan.brief, plan.sessions
    hand = validate(HandPlan, data)
    own = brief or _brief_of_hand_plan(hand, folder)
    instance = instance_of(own)
    return own, tuple(_session(session, instance, n) for n, session in enumerate(hand.sessions))


def read_whole_plan(path: Path) -> Plan:
    """A plan that the program wrote, as it stands in the file. Raises InputError."""
    data = parse_text(_bytes(path), source=path.name, max_bytes=PLAN_BYTES)
    if data.get("format") != PLAN_FORMAT:
        raise InputError.single(
            "format", "this is no plan that the program wrote", "Make one with: weekwright plan BRIEF --json > PLAN"
        )
    return validate(Plan, data)


def read_whole_block(path: Path) -> Block:
    """A block that the program wrote, as it stands in the file. Raises InputError."""
    data = parse_text(_bytes(path), source=path.name, max_bytes=PLAN_BYTES)
    if data.get("format") != BLOCK_FORMAT:
        raise InputError.single(
            "format", "this is no block that the program wrote", "Make one with: weekwright block BRIEF -o block.json"
        )
    return validate(Block, data)


def _brief_of_hand_plan(hand: HandPlan, folder: Path | None) -> Brief:
    if isinstance(hand.brief, str):
        if folder is None:
            raise InputError.single("brief", "a file cannot be read from here", "Put the brief itself here")
        return read_brief(folder / hand.brief)
    if hand.brief is None:
        advice = "Put the brief itself here" if folder is None else "Add brief: file.yaml, or use --brief FILE"
        raise InputError.single("brief", "the plan names no brief to check it against", advice)
    return brief_of(hand.brief, folder=folder)


def _session(session: HandSession, instance: Instance, number: int) -> PlannedSession:
    data = session.model_dump()
    clock = instance.clock
    rows = instance.catalogue.exercises
    entries = []
    for entry in session.entries:
        usual = instance.zones[_usual_zone(entry.exercise, instance)]
        reps = entry.reps or (usual.reps_of(rows[entry.exercise]) if entry.exercise in rows else usual.reps)
        zone = Zone.of(reps)
        numbers = instance.zones[zone]
        entries.append(
            {
                **entry.model_dump(),
                "name": rows[entry.exercise].name if entry.exercise in rows else entry.exercise,
                "reps": reps,
                "zone": zone,
                "reps_in_reserve": numbers.reps_in_reserve,
                "rest_seconds": numbers.rest_seconds,
            }
        )
    kind = instance.brief.kinds.get(session.kind)
    data |= {"name": (kind and kind.name) or session.kind, "entries": entries}
    planned = validate(PlannedSession, data, prefix=f"sessions[{number}]")
    local = {
        "start": clock.instant(planned.start).astimezone(clock.tz),
        "end": clock.instant(planned.end).astimezone(clock.tz),
    }
    return planned.model_copy(update=local)


def _usual_zone(exercise: str, instance: Instance) -> Zone:
    """Moderate where the exercise allows it, else the first zone it does."""
    row = instance.catalogue.exercises.get(exercise)
    if row is None:
        return Zone.MODERATE
    fitting = instance.fitting_zones(row)
    return Zone.MODERATE if Zone.MODERATE in fitting or not fitting else fitting[0]
