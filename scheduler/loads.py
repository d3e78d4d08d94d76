"""Loads: the one-repetition maximum behind a recent lift, the load for a target, and the nearest load a place has.

Repetitions to failure are the reps done plus the reps in reserve (Zourdos et al. 2016, J Strength Cond Res
30:267-75: RPE 10 is none in reserve, 9 is one). Every formula here has the form ``1RM = load x factor(reps)``, so
its inverse is exact. One repetition to failure *is* the one-repetition maximum, so every factor is 1 there, also
where a formula, fitted to more reps, would say a little more.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from scheduler.domain.brief import Formula, Lift
from scheduler.domain.errors import InputError
from scheduler.domain.units import GRAMS_PER_KG

MOST_REPS_TO_FAILURE = 36
"""Brzycki's denominator, 37 less the reps, reaches zero at 37; long before that no formula has been tested."""
TRUSTED_REPS_TO_FAILURE = 10
"""Reynolds, Gordon and Robergs 2006 (J Strength Cond Res 20:584-92): estimate from no more than 10 reps."""

PERCENT_OF_MAXIMUM: dict[int, int] = {1: 100, 2: 95, 3: 93, 4: 90, 5: 87, 6: 85, 7: 83, 8: 80, 9: 77, 10: 75}
"""Percent of the one-repetition maximum at so many reps to failure.

Source: Haff and Triplett (eds), Essentials of Strength Training and Conditioning, 4th ed., NSCA / Human Kinetics 2016,
chapter 17. Only up to 10 reps: copies of the table differ above.
"""


@dataclass(frozen=True)
class FormulaRow:
    """One formula: ``1RM / load`` as a function of reps to failure, its words and its source."""

    factor: Callable[[int], float]
    formula: str
    source: str


FORMULAS: dict[Formula, FormulaRow] = {
    Formula.EPLEY: FormulaRow(
        lambda reps: 1 + reps / 30,
        "load x (1 + reps / 30)",
        "Epley B. Poundage chart. Lincoln, NE: Body Enterprises, 1985.",
    ),
    Formula.BRZYCKI: FormulaRow(
        lambda reps: 36 / (37 - reps),
        "load x 36 / (37 - reps)",
        "Brzycki M. J Phys Educ Recreat Dance 1993;64(1):88-90.",
    ),
    Formula.LOMBARDI: FormulaRow(
        lambda reps: float(reps**0.10),
        "load x reps ^ 0.10",
        "Lombardi VP. Beginning Weight Training. Dubuque, IA: Brown, 1989.",
    ),
    Formula.MAYHEW: FormulaRow(
        lambda reps: 100 / (52.2 + 41.9 * math.exp(-0.055 * reps)),
        "100 x load / (52.2 + 41.9 e ^ (-0.055 reps))",
        "Mayhew JL et al. J Appl Sport Sci Res 1992;6:200-6.",
    ),
    Formula.OCONNER: FormulaRow(
        lambda reps: 1 + reps / 40,
        "load x (1 + reps / 40)",
        "O'Conner B, Simmons J, O'Shea P. Weight Training Today. St Paul, MN: West, 1989.",
    ),
    Formula.WATHEN: FormulaRow(
        lambda reps: 100 / (48.8 + 53.8 * math.exp(-0.075 * reps)),
        "100 x load / (48.8 + 53.8 e ^ (-0.075 reps))",
        "Wathen D. Load assignment. In: Baechle TR (ed). Essentials of Strength Training and Conditioning. 1994.",
    ),
}


def beyond_range(reps_to_failure: int) -> bool:
    """Whether an estimate from so many reps is a rough one (above 10); a plan that uses one says so in its notes."""
    return reps_to_failure > TRUSTED_REPS_TO_FAILURE


def _factor(reps_to_failure: int, formula: Formula) -> float:
    if not 1 <= reps_to_failure <= MOST_REPS_TO_FAILURE:
        raise InputError.single(
            "reps",
            f"{reps_to_failure} reps to failure tell nothing about a one-repetition maximum",
            f"Use a set of 1 to {MOST_REPS_TO_FAILURE} reps, those in reserve included; 10 or fewer tell most.",
        )
    return 1.0 if reps_to_failure == 1 else FORMULAS[formula].factor(reps_to_failure)


def _positive(load_kg: float, path: str) -> float:
    if not (math.isfinite(load_kg) and load_kg > 0):
        raise InputError.single(path, f"{load_kg} kg is no load", "Write a number of kilograms above 0.")
    return load_kg


def one_rep_max(load_kg: float, reps_to_failure: int, formula: Formula = Formula.EPLEY) -> float:
    """The estimated one-repetition maximum, in kg. Raises InputError outside 1 to 36 reps or without a load."""
    return _positive(load_kg, "load_kg") * _factor(reps_to_failure, formula)


def load_for(one_rep_max_kg: float, reps_to_failure: int, formula: Formula = Formula.EPLEY) -> float:
    """The load, in kg, that would fail after so many reps: the exact inverse of :func:`one_rep_max`."""
    return _positive(one_rep_max_kg, "one_rep_max_kg") / _factor(reps_to_failure, formula)


def prescribed_load(lift: Lift, reps: int, reps_in_reserve: int, *, formula: Formula = Formula.EPLEY) -> int:
    """The target load in whole grams for ``reps`` with ``reps_in_reserve``, from a recent lift of the same exercise.

    It is a target, not yet a load that a place has: :func:`round_load` finds that. Raises InputError where either set
    is beyond 36 reps to failure.
    """
    maximum_kg = one_rep_max(lift.load_kg, lift.reps + lift.reps_in_reserve, formula)
    return round(load_for(maximum_kg, reps + reps_in_reserve, formula) * GRAMS_PER_KG)


def round_load(load_grams: int, step_grams: int, lightest_grams: int, heaviest_grams: int | None) -> int | None:
    """The load to take for a target, all in whole grams; None where there is none fit.

    The loads there are: lightest, lightest + step, lightest + 2 steps, ... up to the heaviest, itself included.

    - Of the steps below and above the target the nearer one is taken, the lower one on a tie. The one above is taken
      only if it exceeds the target by at most 2.5 %: too heavy costs reps, too light costs little.
    - If what was taken is above the heaviest by at most half a step, the heaviest serves; by more, None: here the
      target cannot be loaded.
    - If the lightest exceeds the target by more than 2.5 %, None: every load is too heavy.
    """
    if step_grams <= 0 or load_grams < 0 or lightest_grams < 0:
        raise ValueError(f"no grid of loads: load {load_grams} g, step {step_grams} g, lightest {lightest_grams} g")
    if heaviest_grams is not None and heaviest_grams < lightest_grams:
        return None
    below = lightest_grams + (load_grams - lightest_grams) // step_grams * step_grams
    above = max(below + step_grams, lightest_grams)
    above_fits = above * 1000 <= load_grams * 1025
    taken: int
    if below < lightest_grams:
        if not above_fits:
            return None
        taken = above
    else:
        taken = above if above_fits and above - load_grams < load_grams - below else below
    if heaviest_grams is None or taken <= heaviest_grams:
        return taken
    return heaviest_grams if 2 * (taken - heaviest_grams) <= step_grams else None
