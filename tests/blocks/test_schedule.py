"""Which weeks build, which are easy, how far along the path, how hard."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.blocks.schedule import path_of, reserve_of, run_ends, schedule, span
from scheduler.blocks.weeks import path_goals
from scheduler.data import load_catalogue
from scheduler.domain.block import BlockSettings, WeekRole
from scheduler.domain.errors import InputError
from tests.blocks.small import small

CATALOGUE = load_catalogue()


@pytest.mark.parametrize(
    ("weeks", "easy", "ends"), [(8, 1, (8,)), (8, 2, (4, 8)), (11, 2, (6, 11)), (3, 0, ()), (2, 2, (1, 2))]
)
def test_runs_are_as_even_as_can_be(weeks: int, easy: int, ends: tuple[int, ...]) -> None:
    assert run_ends(weeks, easy) == ends


def test_eight_weeks_then_an_easy_one() -> None:
    specs = schedule(BlockSettings(), small(), CATALOGUE)
    assert [s.role for s in specs] == [WeekRole.BUILD] * 8 + [WeekRole.EASY]
    assert [s.phase for s in specs] == [1] * 4 + [2] * 5
    assert [s.number for s in specs if s.opens_phase] == [1, 5]


def test_published_spacing_of_easy_weeks() -> None:
    """Rogerson et al. 2024, Sports Med Open 10:26: every 5.6 +- 2.3 weeks, that is whole weeks from 3.3 to 7.9."""
    assert CATALOGUE.evidence["block_weeks_to_easy"].value == (round(5.6 - 2.3), round(5.6 + 2.3))


def test_published_load_step() -> None:
    """ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708): 2-10 %."""
    assert CATALOGUE.evidence["load_step_percent"].value == (2, 10)


def test_the_path_climbs_and_the_reserve_falls() -> None:
    path = path_of(BlockSettings(), small(), CATALOGUE)
    assert path[0] == 0
    assert path[-1] == 125
    assert list(path) == sorted(path)
    reserve, easy = reserve_of(BlockSettings(), small(), CATALOGUE)
    assert list(reserve) == sorted(reserve, reverse=True)
    assert (reserve[0], reserve[-1]) == (3, 1)
    assert easy > reserve[0]


def test_a_novice_never_goes_below_the_usual_reserve() -> None:
    brief = small({"lifter": {"status": "novice"}})
    reserve, _ = reserve_of(BlockSettings(), brief, CATALOGUE)
    assert min(reserve) == CATALOGUE.default_int("reps_in_reserve_novice")


@pytest.mark.parametrize(
    "lifter", [{"age_band": "under_18"}, {"cautions": ["pregnancy"]}, {"status": "novice", "age_band": "65_plus"}]
)
def test_the_effort_of_who_goes_gently_does_not_rise_beyond_the_usual(lifter: dict[str, Any]) -> None:
    reserve, _ = reserve_of(BlockSettings(), small({"lifter": lifter}), CATALOGUE)
    assert min(reserve) == CATALOGUE.default_int("reps_in_reserve_novice") == 3


def test_in_pregnancy_the_aim_is_the_path_of_every_week() -> None:
    brief = small({"lifter": {"cautions": ["pregnancy"]}})
    assert set(path_of(BlockSettings(), brief, CATALOGUE)) == {100}
    assert path_of(BlockSettings(weeks=2, easy_weeks=0, path=(0, 50)), brief, CATALOGUE) == (0, 50), "a coach's word"


@pytest.mark.parametrize(("percent", "lats"), [(0, 4), (50, 6), (100, 8), (150, 10), (200, 12)])
def test_the_path_goes_from_least_by_the_aim_to_most(percent: int, lats: float) -> None:
    assert path_goals(small(), percent, {})["lats"].aim == lats


def test_a_muscle_may_have_a_path_of_its_own() -> None:
    goals = path_goals(small(), 100, {"lats": 0})
    assert (goals["lats"].aim, goals["quads"].aim) == (4, 5)


@pytest.mark.parametrize(("key", "weeks"), [("3", [3]), ("3-4", [3, 4]), ("5-", [5, 6, 7])])
def test_spans(key: str, weeks: list[int]) -> None:
    assert list(span(key, 7)) == weeks


@pytest.mark.parametrize("key", ["", "0", "8", "4-3", "-3", "3-9", "1,2", "x", "99999999999", "3 - 4"])
def test_spans_that_are_none(key: str) -> None:
    with pytest.raises(InputError, match="names no weeks"):
        span(key, 7)
