"""All tiers in the week itself: the plain way, which the program's own is held against."""

from __future__ import annotations

from scheduler.week.climb import EARLY, LATE, Climb, Solved
from scheduler.week.model import Week
from scheduler.week.solver import Limits


def solve_tiers(week: Week, limits: Limits) -> Solved:
    """Any week, then tier after tier, without an outline."""
    climb = Climb(week, limits, None, None, None)
    if climb.begin({}):
        climb.go((*EARLY, *LATE), {})
    return climb.solved()
