"""Loads against published formulas and the NSCA table, and the rounding against its own promise."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain.brief import Lift
from scheduler.domain.errors import InputError
from scheduler.loads import (
    FORMULAS,
    PERCENT_OF_MAXIMUM,
    Formula,
    beyond_range,
    load_for,
    one_rep_max,
    prescribed_load,
    round_load,
)

# 100 kg x 5 worked by hand from the printed formulas (Epley 1985, Brzycki 1993, Lombardi 1989, Mayhew 1992,
# O'Conner 1989, Wathen 1994).
AT_100_KG_FOR_5 = {
    Formula.EPLEY: 116.667,
    Formula.BRZYCKI: 112.500,
    Formula.LOMBARDI: 117.462,
    Formula.MAYHEW: 119.011,
    Formula.OCONNER: 112.500,
    Formula.WATHEN: 116.583,
}


def test_every_formula_has_a_row_and_a_figure() -> None:
    assert set(FORMULAS) == set(Formula) == set(AT_100_KG_FOR_5)


@pytest.mark.parametrize(("formula", "expected"), AT_100_KG_FOR_5.items())
def test_figures_at_100_kg_for_5_reps(formula: Formula, expected: float) -> None:
    assert one_rep_max(100, 5, formula) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize("formula", Formula)
def test_formulas_agree_with_a_measured_regression(formula: Formula) -> None:
    # Reynolds, Gordon, Robergs 2006 (J Strength Cond Res 20:584-92), 70 adults, bench press:
    # 1RM = 1.1307 x 5RM + 0.6999 kg, R2 = 0.993. Formulas of others land within 5 % of it.
    measured = 1.1307 * 100 + 0.6999
    assert one_rep_max(100, 5, formula) == pytest.approx(measured, rel=0.05)


def test_epley_and_brzycki_cross_at_ten_reps() -> None:
    # 1 + 10/30 = 36/27 = 4/3.
    assert one_rep_max(100, 10, Formula.EPLEY) == pytest.approx(133.333, abs=0.0005)
    assert one_rep_max(100, 10, Formula.BRZYCKI) == pytest.approx(one_rep_max(100, 10, Formula.EPLEY))
    assert one_rep_max(100, 9, Formula.BRZYCKI) < one_rep_max(100, 9, Formula.EPLEY)
    assert one_rep_max(100, 11, Formula.BRZYCKI) > one_rep_max(100, 11, Formula.EPLEY)


@pytest.mark.parametrize("formula", Formula)
def test_more_reps_mean_a_higher_maximum_and_one_rep_is_the_maximum(formula: Formula) -> None:
    maxima = [one_rep_max(100, reps, formula) for reps in range(1, 37)]
    assert maxima[0] == 100
    assert maxima == sorted(set(maxima))


@given(load=st.floats(0.5, 1000), reps=st.integers(1, 36), formula=st.sampled_from(Formula))
def test_inverse(load: float, reps: int, formula: Formula) -> None:
    assert load_for(one_rep_max(load, reps, formula), reps, formula) == pytest.approx(load, rel=1e-12)


def test_inverse_figures() -> None:
    # By hand: 120 / (1 + 6/30) = 100; 120 x (37 - 7) / 36 = 100; 120 / (1 + 8/40) = 100.
    assert load_for(120, 6) == pytest.approx(100)
    assert load_for(120, 7, Formula.BRZYCKI) == pytest.approx(100)
    assert load_for(120, 8, Formula.OCONNER) == pytest.approx(100)


@pytest.mark.parametrize("reps", [-1, 0, 37, 38, 100])
def test_reps_that_tell_nothing_are_refused(reps: int) -> None:
    for formula in Formula:
        with pytest.raises(InputError, match=rf"{reps} reps to failure.*\. Use a set of 1 to 36"):
            one_rep_max(100, reps, formula)
        with pytest.raises(InputError):
            load_for(100, reps, formula)


@pytest.mark.parametrize("load", [0, -20, float("nan"), float("inf")])
def test_no_load_is_refused(load: float) -> None:
    with pytest.raises(InputError, match=r"load_kg: .* is no load"):
        one_rep_max(load, 5)
    with pytest.raises(InputError, match="one_rep_max_kg"):
        load_for(load, 5)


def test_beyond_range_starts_above_ten() -> None:
    assert [reps for reps in range(1, 13) if beyond_range(reps)] == [11, 12]


def test_percent_table() -> None:
    # NSCA Essentials of Strength Training and Conditioning, 4th ed., 2016, chapter 17.
    assert list(PERCENT_OF_MAXIMUM) == list(range(1, 11))
    assert list(PERCENT_OF_MAXIMUM.values()) == [100, 95, 93, 90, 87, 85, 83, 80, 77, 75]


def test_formulas_follow_the_percent_table_within_five_points() -> None:
    # The NSCA table is an outside check on each formula. Mayhew's, fitted to light loads on the bench press, misses it
    # at 2 and 3 reps by 5.2 to 5.4 points; O'Conner's at 10 reps is exactly 5 points off. All others keep within.
    far = {
        (formula, reps)
        for formula in Formula
        for reps, percent in PERCENT_OF_MAXIMUM.items()
        if abs(load_for(100, reps, formula) - percent) > 5 + 1e-9
    }
    assert far == {(Formula.MAYHEW, 2), (Formula.MAYHEW, 3)}


def test_prescription_from_a_lift() -> None:
    # Epley by hand: 100 kg x 5 with 1 in reserve is 6 to failure: 1RM 120 kg. For 8 with 2: 120 / (4/3) = 90.
    lift = Lift(exercise="bench_press", load_kg=100, reps=5, reps_in_reserve=1)
    assert prescribed_load(lift, 8, 2) == 90_000
    assert prescribed_load(lift, 5, 1) == 100_000
    assert prescribed_load(lift, 1, 0) == 120_000


def test_prescription_beyond_every_formula_is_refused() -> None:
    with pytest.raises(InputError, match="46 reps to failure"):
        prescribed_load(Lift(exercise="row", load_kg=20, reps=36, reps_in_reserve=10), 8, 2)
    with pytest.raises(InputError, match="37 reps to failure"):
        prescribed_load(Lift(exercise="row", load_kg=20, reps=5), 30, 7)


@pytest.mark.parametrize(
    ("target", "step", "lightest", "heaviest", "expected"),
    [
        (100_000, 2_500, 20_000, None, 100_000),  # on a step
        (101_000, 2_500, 20_000, None, 100_000),  # nearer below
        (101_250, 2_500, 20_000, None, 100_000),  # a tie goes down
        (101_300, 2_500, 20_000, None, 102_500),  # nearer above, and 1.2 % over
        (19_000, 2_000, 2_000, None, 18_000),  # a tie
        (19_500, 2_000, 2_000, None, 18_000),  # 20 kg is nearer but 2.56 % over
        (19_512, 2_000, 2_000, None, 18_000),  # 20 000 x 1000 > 19 512 x 1025 = 19 999 800
        (19_513, 2_000, 2_000, None, 20_000),  # ... and 19 513 x 1025 = 20 000 825: within
        (51_250, 2_500, 0, 50_000, 50_000),  # the heaviest serves
        (51_300, 2_500, 0, 50_000, None),  # rounds to 52.5 kg: one step past the heaviest
        (90_000, 2_500, 0, 50_000, None),
        (50_000, 2_500, 0, 49_000, 49_000),  # a heaviest off the grid, 0.4 of a step short
        (50_000, 2_500, 0, 48_750, 48_750),  # exactly half a step short
        (50_000, 2_500, 0, 48_749, None),  # one gram more
        (15_000, 2_500, 20_000, None, None),  # the empty bar is too heavy
        (19_600, 2_500, 20_000, None, 20_000),  # the empty bar is 2.04 % over
        (19_500, 2_500, 20_000, None, None),  # 2.56 % over
        (20_000, 2_500, 20_000, 15_000, None),  # nothing is there
        (0, 2_500, 0, 50_000, 0),
    ],
)
def test_rounding(target: int, step: int, lightest: int, heaviest: int | None, expected: int | None) -> None:
    assert round_load(target, step, lightest, heaviest) == expected


GRIDS = st.tuples(st.integers(1, 20_000), st.integers(0, 50_000), st.none() | st.integers(0, 300_000))


@given(target=st.integers(0, 400_000), grid=GRIDS)
def test_rounding_against_all_loads_there_are(target: int, grid: tuple[int, int, int | None]) -> None:
    """A naive twin: list the loads, keep those not 2.5 % too heavy, take the nearest, the lower on a tie."""
    step, lightest, heaviest = grid
    step = max(step, 100)  # keeps the list short
    loads = range(lightest, target + 2 * step + lightest, step)
    fit = [load for load in loads if load * 1000 <= target * 1025]
    expected = min(fit, key=lambda load: (abs(load - target), load), default=None)
    if expected is not None and heaviest is not None and expected > heaviest:
        expected = heaviest if heaviest >= lightest and expected - heaviest <= step / 2 else None
    assert round_load(target, step, lightest, heaviest) == expected


@given(low=st.integers(0, 400_000), more=st.integers(0, 50_000), grid=GRIDS)
def test_a_higher_target_never_gives_a_lighter_load(low: int, more: int, grid: tuple[int, int, int | None]) -> None:
    first, second = round_load(low, *grid), round_load(low + more, *grid)
    if first is not None and second is not None:
        assert first <= second


@pytest.mark.parametrize(("target", "step", "lightest"), [(1, 0, 0), (1, -5, 0), (-1, 5, 0), (1, 5, -1)])
def test_no_grid_is_a_mistake_of_the_program(target: int, step: int, lightest: int) -> None:
    with pytest.raises(ValueError, match="no grid of loads"):
        round_load(target, step, lightest, None)
