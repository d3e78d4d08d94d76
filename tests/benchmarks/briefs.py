"""Realistic briefs, seeded: what coaches write, in ten families, from catalogues of 60 to 500 exercises.

``case("upper_lower", 3, exercises=120)`` is the same brief on every machine. With another number of exercises, or of
openings a day, all else in it stays as it was: curves compare like with like. Rules are left at their defaults but for
what a coach would say, and nothing is trimmed so that a week solves quickly; some weeks may be impossible.

Goals are laid out to fill a share of what the sessions can hold: 55 to 90 %, in the over-tight family 110 to 150 %.
Weekly sets lie in the ranges of the literature (about 4 to 12 a muscle, 10 to 20 for a weak point).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

from scheduler.data import load_catalogue
from scheduler.documents import validate
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from tests.benchmarks.catalogues import OWN, planned_from, with_own_exercises
from tests.benchmarks.writer import SMALLEST, Writer

FAMILIES = (
    "full_body",
    "upper_lower",
    "three_way",
    "body_part",
    "over_tight",
    "many_openings",
    "two_a_day",
    "heavy_calendar",
    "pinned",
    "replan",
)
SIZES = (SMALLEST, 120, 250, OWN)
FULL, FAST = 20, 2
"""Briefs a family in the whole set and in the one for every day."""


@dataclass(frozen=True)
class Case:
    """One brief of the benchmark."""

    family: str
    seed: int
    exercises: int
    brief: Brief
    name: str

    @property
    def catalogue(self) -> Catalogue:
        return with_own_exercises() if self.exercises == OWN else load_catalogue()

    def within(self) -> AbstractContextManager[None]:
        """Solve it in here: the program then knows the exercises of the case."""
        return planned_from(self.catalogue) if self.exercises == OWN else nullcontext()


def cases(per_family: int = FULL, families: tuple[str, ...] = FAMILIES) -> Iterator[Case]:
    """So many briefs a family, the sizes of the catalogue in turn; each seed is another week."""
    for family in families:
        number = FAMILIES.index(family)
        for seed in range(per_family):
            yield case(family, seed, exercises=SIZES[(seed + number) % len(SIZES)])


def same_weeks(
    family: str, seeds: range, sizes: tuple[int, ...] = SIZES, openings_a_day: tuple[int | None, ...] = (None,)
) -> Iterator[Case]:
    """Each week from catalogues of several sizes, or with several openings a day, all else equal."""
    for seed in seeds:
        for size in sizes:
            for openings in openings_a_day:
                yield case(family, seed, exercises=size, openings_a_day=openings)


def case(family: str, seed: int, *, exercises: int = 120, openings_a_day: int | None = None) -> Case:
    """The brief of a family and a seed.

    Args:
        exercises: 60 and 120 are parts of the catalogue, 250 is all of it, 500 adds the coach's own.
        openings_a_day: an opening in the evening, in the morning too, at noon too, on all seven days; left out: what
            the family is like.
    """
    if family not in FAMILIES:
        raise ValueError(f"no family {family!r}; there are {', '.join(FAMILIES)}")
    brief = Writer(family, seed, exercises, openings_a_day).brief()
    name = f"{family}-{seed:02}-{exercises}" + (f"-{openings_a_day}x7" if openings_a_day else "")
    return Case(family, seed, exercises, validate(Brief, brief), name)
