"""What the logs say to leave out, and what is said of it: what hurts and is not cleared, what is too hard yet."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from scheduler.data import load_catalogue
from scheduler.domain import wording
from scheduler.domain.catalogue import Caution, Exercise
from scheduler.domain.log import WeekLog, uncleared
from scheduler.domain.plan import Plan


@dataclass(frozen=True)
class Pain:
    """What hurts and is not cleared: the exercises, and the cautions for where they hurt. Besides what is beyond the
    lifter yet: exercises whose load is the body, so that it cannot be lowered, and whose sets ended far short."""

    exercises: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    beyond: tuple[str, ...] = ()


NO_PAIN = Pain()
_IN_THE_HANDS = (None, "dumbbells", "kettlebells")


def pain_of(logs: Iterable[WeekLog]) -> Pain:
    """What hurts still, and the cautions that its words speak of."""
    hurt = uncleared(logs)
    said = "; ".join(re.sub(r"[\s_-]+", " ", text.casefold()) for places in hurt.values() for text in places)
    rows = load_catalogue().cautions
    cautions = (c for c in Caution if any(re.search(rf"\b{re.escape(word)}s?\b", said) for word in rows[c.value].words))
    return Pain(tuple(hurt), tuple(cautions))


def flagged(cautions: Collection[Caution]) -> set[str]:
    """Exercises that one of the cautions speaks against."""
    return {key for key, row in load_catalogue().exercises.items() if not set(cautions).isdisjoint(row.cautions)}


def notes_of(
    pain: Pain, staying: Collection[str], *, own: Collection[Caution], now: Collection[Caution]
) -> Iterable[str]:
    """What a week does for pain.

    Args:
        staying: what hurts and comes in spite of it, for the brief pins it.
        own: the cautions of the lifter without the pain.
        now: those of the week.
    """
    for key in pain.exercises:
        name = load_catalogue().exercises[key].name
        if key in staying:
            yield (
                f"{name} hurt and stays only because the brief pins it: with lowered loads and no fewer reps "
                "in reserve, until a log says that it is cleared."
            )
        else:
            yield f"{name} hurt and is left out until a log says that it is cleared."
    if pain.exercises:
        yield (
            "Until what hurt is cleared neither aims nor effort rise, and nothing like it comes in that has not come "
            "before, unless the week cannot do without."
        )
    for key in pain.beyond:
        yield (
            f"{load_catalogue().exercises[key].name} is left out unless the brief pins it: its sets ended far short of "
            "their reps, and the body cannot be made lighter. What can be loaded or assisted comes before it."
        )
    for caution in pain.cautions:
        if caution in now and caution not in own:
            yield f"By where it hurt the week is planned with the {caution.full_name} caution, until then too."
        elif caution not in now:
            name = caution.full_name
            yield f"By where it hurt the {name} caution would hold, but the brief pins what it speaks against."


def relatives(pain: Pain, plan: Plan, staying: Collection[str]) -> Iterable[str]:
    """What the week holds that is like what hurts: the pain may be there too."""
    rows = load_catalogue().exercises
    there = {e.exercise: e.name for s in plan.sessions for e in s.entries}
    for key in pain.exercises:
        row = rows[key]
        like = [other for other in there if other != key and _alike(row, rows[other])]
        like.sort(key=lambda other: rows[other].pattern != row.pattern)
        if like and key not in staying:
            yield (
                f"Like {row.name} the week loads by {wording.listed(there[other] for other in like)}: begin light "
                "there, and stop where it hurts too."
            )


def strangers(pain: Pain, known: Collection[str]) -> tuple[str, ...]:
    """What is like an exercise that hurts and has not come before: a poor time to begin with it, or to go back to it
    with old loads."""
    rows = load_catalogue().exercises
    hurt = [rows[key] for key in pain.exercises]
    return tuple(key for key, row in rows.items() if key not in known and any(_alike(row, other) for other in hurt))


def unhandy(exercises: Iterable[str]) -> tuple[str, ...]:
    """Those that are loaded by more than what the hands hold: where something like what hurts has to come, it begins
    with dumbbells, bands or body weight."""
    rows = load_catalogue().exercises
    return tuple(key for key in exercises if rows[key].loaded_by not in _IN_THE_HANDS)


def _alike(one: Exercise, other: Exercise) -> bool:
    """Whether two exercises make the same movement, or are for the same muscle in the first place."""
    return one.pattern == other.pattern or one.direct[0] == other.direct[0]
