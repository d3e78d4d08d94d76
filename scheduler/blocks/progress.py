"""What logged sets say of an exercise's estimated one-repetition maximum, and so of its loads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief, Formula, Lift
from scheduler.domain.log import LoggedExercise
from scheduler.domain.plan import Entry
from scheduler.loads import FORMULAS, MOST_REPS_TO_FAILURE, TRUSTED_REPS_TO_FAILURE, beyond_range, load_for, one_rep_max


def formula_of(brief: Brief) -> Formula:
    return brief.prescription.one_rep_max_formula or Formula(
        str(load_catalogue().evidence["one_rep_max_formula"].value)
    )


def formula_line(brief: Brief) -> str:
    row = FORMULAS[formula_of(brief)]
    return (
        f"1RM = {row.formula} ({row.source}); trusted up to {TRUSTED_REPS_TO_FAILURE} reps to failure, "
        f"refused above {MOST_REPS_TO_FAILURE}"
    )


@dataclass(frozen=True)
class Progress:
    """What the rows of one exercise say of its load.

    Attributes:
        reps_over: reps to failure above what was asked, in the set that counts.
        change_percent: by how much its estimated maximum changes; None where it cannot be told.
        lift: the lift from now on; None where it stays.
        rough: whether a set was beyond the trusted range of the formula.
        hurt: whether pain was logged.
        reserve: where all reps were done and only the reserve is another: reps left in it, and how many were asked.
        strange: loads so far from the one to be expected that they are most likely mistyped, each with that one.
    """

    reps_over: int | None
    change_percent: float | None
    lift: Lift | None
    rough: bool = False
    hurt: bool = False
    reserve: tuple[int, int] | None = None
    strange: tuple[tuple[float, float], ...] = ()


def progress(rows: Sequence[tuple[Entry | None, LoggedExercise]], lift: Lift | None, formula: Formula) -> Progress:
    """One or two reps over the target in every set: the load rises by 2 to 10 % (ACSM 2009, Ratamess et al., Med Sci
    Sports Exerc 41:687-708), here by what the formula says of the weakest set; below the target in every set it falls
    by what it says of the best, by at most as much. Sets on both sides of the target change nothing. Sets that were not
    planned have no target: where the reps left in reserve were logged they are held against the known lift. Where pain
    was logged the load falls, whatever the sets say. A load that is most likely mistyped says nothing.
    """
    least, most = _load_step()
    over: list[tuple[int, LoggedExercise, Entry]] = []
    ratios: list[float] = []
    new: list[tuple[float, Lift]] = []
    strange: dict[tuple[float, float], None] = {}
    rough = False
    for entry, row in rows:
        if row.reps is None or not row.sets:
            continue
        asked = entry.reps + entry.reps_in_reserve if entry is not None else None
        reserve = row.reps_in_reserve if row.reps_in_reserve is not None else entry.reps_in_reserve if entry else 0
        reps = row.reps + reserve
        if entry is not None and asked is not None and row.load_kg == entry.load_kg:
            over.append((reps - asked, row, entry))
        if row.load_kg is None or reps > MOST_REPS_TO_FAILURE:
            continue
        expected = _expected(entry, reps, lift, formula)
        if expected is not None and _is_strange(row.load_kg, expected):
            strange[row.load_kg, expected] = None
            continue
        rough = rough or beyond_range(reps)
        estimate = one_rep_max(row.load_kg, reps, formula)
        if entry is not None and entry.load_kg is not None and asked is not None and asked <= MOST_REPS_TO_FAILURE:
            ratios.append(estimate / one_rep_max(entry.load_kg, asked, formula))
        elif lift is not None:
            known = lift.reps + lift.reps_in_reserve
            if row.reps_in_reserve is not None and known <= MOST_REPS_TO_FAILURE:
                ratios.append(estimate / one_rep_max(lift.load_kg, known, formula))
        elif row.reps <= MOST_REPS_TO_FAILURE:
            told = Lift(exercise=row.exercise, load_kg=row.load_kg, reps=row.reps, reps_in_reserve=min(10, reserve))
            new.append((estimate, told))
    reps_over = int(_one_side(o for o, _, _ in over)) if over else None
    hurt = any(row.pain for _, row in rows)
    fall = load_catalogue().default_int("log_pain_percent")
    result = Progress(reps_over, None, None, rough, hurt, _reserve(reps_over, over), tuple(strange))
    if lift is None:
        # The rows are the first that tell of it.
        first = max(new, key=lambda n: n[0])[1] if new else None
        return replace(result, lift=_changed(first, -fall) if first is not None and hurt else first)
    change = 100 * _one_side([ratio - 1 for ratio in ratios])
    if hurt:
        change = min(change, -fall)
    if abs(change) < least:
        return replace(result, change_percent=0.0 if ratios else None)
    change = max(-most, min(most, change))
    return replace(result, change_percent=round(change, 1), lift=_changed(lift, change))


def _expected(entry: Entry | None, reps: int, lift: Lift | None, formula: Formula) -> float | None:
    """The load that was planned; of what was not, the one that the known lift says for the reps."""
    if entry is not None and entry.load_kg is not None:
        return entry.load_kg
    if lift is None or lift.reps + lift.reps_in_reserve > MOST_REPS_TO_FAILURE:
        return None
    return round(load_for(one_rep_max(lift.load_kg, lift.reps + lift.reps_in_reserve, formula), reps, formula), 1)


def _is_strange(load_kg: float, expected: float) -> bool:
    """Whether a load is most likely mistyped: a comma or a figure too many or too few."""
    times = load_catalogue().default_int("log_strange_load_times")
    return not expected / times <= load_kg <= expected * times


def _reserve(reps_over: int | None, over: Sequence[tuple[int, LoggedExercise, Entry]]) -> tuple[int, int] | None:
    """Reps left in reserve and asked for, of the set that counts, where every set had all the reps asked for."""
    if not reps_over or any(row.reps is None or row.reps < entry.reps for _, row, entry in over):
        return None
    entry, left = next((e, r.reps_in_reserve) for o, r, e in over if o == reps_over)
    more = reps_over > 0 and any(row.reps != entry.reps for _, row, entry in over)
    return None if left is None or more else (left, entry.reps_in_reserve)


def _changed(lift: Lift, percent: float) -> Lift:
    return lift.model_copy(update={"load_kg": round(min(1000.0, lift.load_kg * (1 + percent / 100)), 2)})


def _one_side(values: Iterable[float]) -> float:
    """The value nearest to 0 where all are on one side of it; else 0."""
    found = list(values)
    if found and min(found) > 0:
        return min(found)
    return max(found) if found and max(found) < 0 else 0


def _load_step() -> tuple[int, int]:
    value = load_catalogue().evidence["load_step_percent"].value
    assert isinstance(value, tuple)
    return value


def estimate(lift: Lift | None, formula: Formula) -> float | None:
    if lift is None or lift.reps + lift.reps_in_reserve > MOST_REPS_TO_FAILURE:
        return None
    return round(one_rep_max(lift.load_kg, lift.reps + lift.reps_in_reserve, formula), 1)
