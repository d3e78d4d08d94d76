"""What is minimised: the goals of each tier, one after another, or several as one weighted sum."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from scheduler.rules import RULES_BY_KEY, Switch
from scheduler.week.expressions import Linear, upper
from scheduler.week.model import Week

_EXACT = 1 << 50
"""Weighted sums below this are whole numbers in floating point too, with room for what the relaxation adds."""


class Summand(NamedTuple):
    """A goal in a sum of goals."""

    tier: int
    weight: int
    goal: Linear


def priced(week: Week, tier: int) -> list[tuple[Switch, Linear]]:
    """The switches of a tier whose breaches cost something, each with its breach."""
    found = ((week.switches[name], breach) for name, breach in week.slacks.items())
    return [(s, breach) for s, breach in found if s.weight and RULES_BY_KEY[s.rule].tier == tier]


def summed(week: Week, tier: int) -> list[tuple[Switch, Linear]]:
    """Those whose breaches a tier sums up: all but those of staged rules."""
    return [(s, breach) for s, breach in priced(week, tier) if not RULES_BY_KEY[s.rule].staged]


def stages(week: Week, tier: int) -> list[Linear]:
    """What is minimised one after another inside a tier: a sum of breaches, then those of staged rules one by one.

    The weights of a staged rule are such that the whole sum is least where the stages, one after another, are.
    """
    staged = [(s, breach) for s, breach in priced(week, tier) if RULES_BY_KEY[s.rule].staged]
    staged.sort(key=lambda pair: -pair[0].weight)
    return [sum(s.weight * breach for s, breach in summed(week, tier)), *(s.weight * breach for s, breach in staged)]


def goals(week: Week, tier: int) -> list[Linear]:
    """The stages of a tier that can differ from 0."""
    return [stage for stage in stages(week, tier) if not isinstance(stage, int)]


def objective(week: Week, tier: int) -> Linear:
    """Weighted sum of the breaches of a tier's wishes; 0 where it has none."""
    return sum(stages(week, tier))


def parts(week: Week, tier: int) -> list[Linear]:
    """What the objective of a tier is the sum of, where one switch is all of the tier and has said so."""
    mine = [switch for name, switch in week.switches.items() if name in week.slacks]
    mine = [switch for switch in mine if RULES_BY_KEY[switch.rule].tier == tier]
    return [mine[0].weight * part for part in week.parts.get(mine[0].id, ())] if len(mine) == 1 else []


def together(week: Week, tiers: Iterable[int]) -> list[Summand]:
    """The goals of several tiers, for one weighted sum: as many of the first ones as can be summed up exactly.

    Empty where there is nothing to sum up, or where a tier in stages comes first: those are better had one by one.
    """
    todo = [(tier, goal) for tier in tiers for goal in goals(week, tier)]
    if not todo or len(goals(week, todo[0][0])) > 1:
        return []
    while (found := weights([goal for _, goal in todo]))[0] * (1 + upper(todo[0][1])) > _EXACT and len(todo) > 1:
        todo.pop()
    return [Summand(tier, w, goal) for w, (tier, goal) in zip(found, todo, strict=True)] if len(todo) > 1 else []


def weights(goals_in_order: Sequence[Linear]) -> list[int]:
    """Weights for goals one after another: one unit of any outweighs all that come after it."""
    found = [1]
    for goal in reversed(goals_in_order[1:]):
        found.insert(0, found[0] * (1 + upper(goal)))
    return found
