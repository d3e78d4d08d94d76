"""Two ways to solve the same brief must prove the same costs."""

from __future__ import annotations

from hypothesis import event

from scheduler.rules import SAME_WORK_FROM
from scheduler.week.climb import Solved
from scheduler.week.solver import Verdict


def assert_same_costs(one: Solved, other: Solved) -> None:
    """Both find a week or neither; and as far as both are proved, tier by tier, they cost the same."""
    if Verdict.UNKNOWN in (one.verdict, other.verdict):
        event("not decided")
        return
    assert bool(one.tiers) == bool(other.tiers)
    values = list(zip(_proved(one), _proved(other), strict=False))
    event(f"{len(values)} tiers compared")
    for mine, theirs in values:
        assert mine == theirs


def _proved(solved: Solved) -> list[int]:
    """Proved values up to the first tier that is not, or that compares like weeks only."""
    found = []
    for tier in solved.tiers:
        if not tier.proved or tier.tier >= SAME_WORK_FROM:
            break
        found.append(tier.value)
    return found
