"""Reading a demand: what is asked with "why not", from a few words."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from typing import Any

from scheduler.documents import validate
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError, holding, nearest, spelling
from scheduler.domain.units import DAYS
from scheduler.domain.variants import Demand
from scheduler.instance import Instance

_SETS = re.compile(r"\b(\d{1,4})\s+sets?\b")
_CLOCK = re.compile(r"\b(\d{1,2})(?:[:.](\d\d))?\s*([ap])\.?m\b\.?|\b(\d{1,2})[:.](\d\d)\b")
"""6 pm, 6:30 pm, 18:30."""
_HOUR = re.compile(r"\b(?:at|on)[\s,]+(\d{1,2})\b")
"""at 18; a day stands as "on" by then, so that Tuesday 18 is read too."""
_WORD = re.compile(r"\w+(?:[-']\w+)*")
_FILLERS = frozenset(("on", "at", "in", "with", "of", "the", "a", "session", "sessions"))
_LEAVING_OUT = frozenset(("no", "not", "without", "never"))


def read_demand(text: str, instance: Instance) -> Demand:
    """A demand from a few words: ``back on thu at 18:00``, ``barbell_back_squat 4 sets in legs``, ``legs at home``.

    Names are those of the brief and the catalogue, by key or in full, or words of them that only one name holds. Raises
    InputError on what is no name, and on what another question answers.
    """
    found: dict[str, Any] = {}

    def take(field: str, value: Any, said: str) -> None:
        if field in found:
            raise InputError.single("demand", f"{said!r} names a second {field}", "Ask for one thing at a time")
        found[field] = value

    rest = text.strip().lower()
    for match in _SETS.finditer(rest):
        take("sets", int(match[1]), match[0])
    rest = _SETS.sub(" ", rest)
    for match in _CLOCK.finditer(rest):
        take("start", _clock(match), match[0])
    rest = _CLOCK.sub(" ", rest)
    for name, field, value in sorted(_names(instance), key=lambda row: -len(row[0])):
        pattern = re.compile(rf"(?<![\w-]){re.escape(name)}(?![\w-])")
        if pattern.search(rest):
            take(field, value, name)
            # What stood beside a name must not seem to stand beside each other.
            rest = pattern.sub(" on " if field == "day" else " | ", rest, count=1)
    for match in _HOUR.finditer(rest):
        take("start", _time(match[1], "0", match[1]), match[0])
    rest = _HOUR.sub(" ", rest)
    strange = [word for word in _WORD.findall(rest) if word not in _FILLERS]
    if strange:
        take(*_meant(strange, found, instance))
    return validate(Demand, found, prefix="demand")


def _clock(match: re.Match[str]) -> dt.time:
    twelve, minutes, half, hours, more = match.groups()
    if half is None:
        return _time(hours, more, match[0])
    # Of twelve hours the twelfth comes first; what is no hour of them is no clock time either.
    hour = int(twelve) % 12 + 12 * (half == "p") if 1 <= int(twelve) <= 12 else 24
    return _time(hour, minutes or 0, match[0])


def _time(hour: str | int, minute: str | int, said: str) -> dt.time:
    try:
        return dt.time(int(hour), int(minute))
    except ValueError:
        advice = "Write hours and minutes from 0:00 to 23:59: on thu at 18:00"
        raise InputError.single("demand", f"{said.strip()} is no clock time", advice) from None


def _meant(strange: list[str], found: Mapping[str, Any], instance: Instance) -> tuple[str, Any, str]:
    """The one thing that words can mean which are no name by themselves: field, value, words. Raises InputError."""
    words = [word for word in strange if not word.isdigit() and word not in _LEAVING_OUT]
    said = " ".join(words)
    numbers = [word for word in strange if word.isdigit()]
    counts = bool(numbers) or "sets" in found
    # The brief's own come first, in what is meant and in what is suggested.
    exercises = {**instance.pool, **instance.catalogue.exercises}
    names = {**instance.kinds, **instance.venues, **exercises}
    sessions = ", ".join(instance.kinds)
    held = holding(said, names)
    own = [key for key in held if key in instance.kinds or key in instance.venues or key in instance.pool]
    if not _LEAVING_OUT.isdisjoint(strange):
        out = [found["exercise"]] if "exercise" in found else [key for key in own or held if key in exercises]
        problem = "this question puts something into the week, and leaves nothing out"
        asked = out[0] if len(out) == 1 else f"[{', '.join(out or ['EXERCISE'])}]"
        advice = f'Ask: weekwright what-if BRIEF --set "exercises.avoided+={asked}"'
    elif (muscle := spelling(said, instance.catalogue.targets)) is not None:
        a_muscle = "muscle group" if muscle in instance.catalogue.groups else "muscle"
        problem = f"{said!r} is a {a_muscle}, and this question is about sessions and exercises"
        if counts:
            asked = _at_least(instance.brief, muscle, int(found.get("sets") or numbers[0]))
            advice = f'Ask: weekwright what-if BRIEF --set "{asked}"'
            if muscle in instance.targets:
                advice += f". What it lacks now: weekwright why BRIEF --wish weekly_sets:aim:{muscle}"
        else:
            advice = f"Name a session ({sessions}) or an exercise. {nearest(said, names) if held else ''}".strip()
    elif numbers:
        problem = f"it is not said what {numbers[0]} counts"
        advice = f"Write {numbers[0]} sets, or a time: thu at 18:00"
    elif len(one := own if len(own) == 1 else held) == 1:
        (key,) = one
        return "kind" if key in instance.kinds else "place" if key in instance.venues else "exercise", key, said
    elif held:
        problem, advice = f"{said!r} stands in several names", nearest(said, names)
    else:
        word = next((word for word in words if not holding(word, names)), words[0])
        days = dict.fromkeys(text for day in DAYS for text in (day.value, day.full_name))
        known = {**names, **days, **(instance.catalogue.targets if counts else {})}
        otherwise = f"The sessions of this brief: {sessions}"
        problem, advice = f"{word!r} is no name that is known here", nearest(word, known, otherwise)
    raise InputError.single("demand", problem, advice)


def _at_least(brief: Brief, muscle: str, sets: int) -> str:
    """So many sets as a setting of the brief; an aim or a most that is given and lies lower is raised with them."""
    goal = brief.goals.get(muscle)
    given = {} if goal is None else {"aim": goal.aim, "most": goal.most}
    raised = [f", {part}: {sets}" for part, number in given.items() if number is not None and number < sets]
    return f"goals.{muscle}={{least: {sets}{''.join(raised)}}}" if raised else f"goals.{muscle}.least={sets}"


def _names(instance: Instance) -> Iterable[tuple[str, str, Any]]:
    """Every name that a demand may hold: name, field, value; the brief's own names win."""
    seen: set[str] = set()
    rows: list[tuple[str, str, Any]] = [(key, "kind", key) for key in instance.kinds]
    rows += [(key, "place", key) for key in instance.venues]
    rows += [(day.value, "day", day) for day in DAYS] + [(day.full_name, "day", day) for day in DAYS]
    rows += [(kind.name, "kind", key) for key, kind in instance.kinds.items()]
    rows += [(venue.name, "place", key) for key, venue in instance.venues.items()]
    rows += [(key, "exercise", key) for key in instance.catalogue.exercises]
    rows += [(row.name, "exercise", key) for key, row in instance.catalogue.exercises.items()]
    for name, field, value in rows:
        if name.lower() not in seen:
            seen.add(name.lower())
            yield name.lower(), field, value


__all__ = ["read_demand"]
