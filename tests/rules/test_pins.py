"""Which session is which pin's: an assignment of least cost, quick for a week full of pins."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from scheduler.rules.pinned import cheapest


@pytest.mark.parametrize("seed", range(60))
def test_no_other_assignment_costs_less(seed: int) -> None:
    some = random.Random(seed)
    rows = some.randint(1, 5)
    columns = some.randint(rows, 6)
    highest = some.choice([1, 9, 2000])
    costs = [[some.randint(0, highest) for _ in range(columns)] for _ in range(rows)]
    found = cheapest(costs)
    assert len(set(found)) == rows
    every = (sum(costs[r][c] for r, c in enumerate(way)) for way in permutations(range(columns), rows))
    assert sum(costs[r][c] for r, c in enumerate(found)) == min(every)


def test_fourteen_pins_are_no_matter() -> None:
    costs = [[(row - column) % 14 for column in range(14)] for row in range(14)]
    assert cheapest(costs) == list(range(14))
