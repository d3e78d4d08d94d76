"""Catalogues of 60 to 500 exercises to plan from.

Up to 250 exercises are real: the catalogue that comes with the program, or a seeded part of it that a gym could have
on its list. Beyond that a coach's own list is imitated: each further exercise is a variant of one in the catalogue, as
coaches name them - another handle or stance that changes nothing a rule looks at, or the stimulus of one exercise done
at the station of another. What a week is planned from is ``brief.exercises.only``, or the whole catalogue without it.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from unittest.mock import patch

from scheduler.data import load_catalogue
from scheduler.domain.catalogue import Catalogue, Exercise

OWN = 500
"""Size of the catalogue with the coach's own exercises."""
STAPLES = frozenset(
    (
        *("lat_pulldown", "neutral_grip_pulldown", "pull_up", "seated_cable_row", "one_arm_dumbbell_row"),
        *("straight_arm_pulldown", "dumbbell_pullover", "barbell_bench_press", "incline_dumbbell_press"),
        *("dumbbell_bench_press", "seated_dumbbell_press", "dumbbell_fly", "dumbbell_lateral_raise", "barbell_curl"),
        *("dumbbell_curl", "rope_pushdown", "overhead_dumbbell_extension", "barbell_back_squat", "leg_press"),
        *("dumbbell_goblet_squat", "conventional_deadlift", "romanian_deadlift", "dumbbell_romanian_deadlift"),
        *("dumbbell_split_squat", "leg_extension", "seated_leg_curl", "lying_leg_curl", "standing_calf_raise"),
        *("back_extension", "bench_back_extension", "plank", "hanging_knee_raise"),
    )
)
"""What hardly a gym's list lacks, where it has the equipment."""


@cache
def with_own_exercises(size: int = OWN) -> Catalogue:
    """The catalogue with own exercises added until there are ``size``; the same ones every time."""
    base = load_catalogue()
    rng = random.Random(f"own exercises {size}")
    exercises = dict(base.exercises)
    main = [key for key, row in base.exercises.items() if not row.substitute]
    round_number = 0
    while len(exercises) < size:
        round_number += 1
        for key in rng.sample(main, len(main)):
            if len(exercises) == size:
                break
            exercises[f"own_{key}_{round_number}"] = _variant(key, base.exercises, rng)
    return base.model_copy(update={"exercises": exercises})


def _variant(key: str, rows: Mapping[str, Exercise], rng: random.Random) -> Exercise:
    row = rows[key]
    name = f"{row.name}, own variant"
    siblings = [
        other
        for other in rows.values()
        if other.pattern == row.pattern and other.lower_body == row.lower_body and other.from_floor == row.from_floor
    ]
    how = rng.random()
    if how < 0.5:  # another handle: nothing that a rule looks at
        return row.model_copy(update={"name": name})
    if how < 0.75:  # another stance: longer to set up
        return row.model_copy(update={"name": name, "setup_seconds": row.setup_seconds + rng.choice([15, 30])})
    other = rng.choice(siblings)  # the stimulus of one, the station of another
    station = ("equipment", "loaded_by", "station", "setup_seconds", "unilateral", "supported", "lower_back_load")
    return row.model_copy(update={"name": name, **{field: getattr(other, field) for field in station}})


@contextmanager
def planned_from(catalogue: Catalogue) -> Iterator[None]:
    """Within it the program knows this catalogue instead of its own."""
    with patch("scheduler.planning.load_catalogue", lambda: catalogue):
        yield


def part(
    size: int, patterns: Iterable[str], equipment: Iterable[str], keep: Iterable[str], rng: random.Random
) -> tuple[str, ...]:
    """So many exercises as a gym would list them, in catalogue order.

    Every pattern has one at least, two where there is room; what the equipment allows comes first, and what merely
    takes the place of missing equipment last. ``keep`` is always among them.
    """
    rows = load_catalogue().exercises
    there, asked = set(equipment), list(dict.fromkeys(patterns))
    chosen = dict.fromkeys(keep)

    def rank(key: str) -> tuple[bool, bool, bool, bool, float]:
        row = rows[key]
        lacking = not set(row.equipment) <= there
        return lacking, row.pattern not in asked, key not in STAPLES, row.substitute, rng.random()

    ranked = sorted(rows, key=rank)
    by_pattern = [[key for key in ranked if rows[key].pattern == pattern] for pattern in asked]
    first = [found[0] for found in by_pattern]
    floor = [key for key in ranked if rows[key].from_floor and rows[key].pattern in asked][:1]
    second = [key for found in by_pattern for key in found[1:2]]
    for key in (*first, *floor, *second, *ranked):
        if len(chosen) < size or key in first:
            chosen[key] = None
    return tuple(key for key in rows if key in chosen)
