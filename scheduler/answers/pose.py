"""The posing model of a brief: which musts can hold together, and which would have to give way by how much."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass
from typing import Literal

from ortools.sat.python import cp_model

from scheduler import referee
from scheduler.domain.brief import Brief
from scheduler.domain.errors import RefereeDisagreement
from scheduler.facts import WeekFacts
from scheduler.planning import instance_of
from scheduler.week.decode import decode
from scheduler.week.expressions import Linear, Variable
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Outcome, Verdict, search

_OTHER_SEED = 7
_FIRST_WINDOW = 140
"""The first costs that are looked at reach to here; each further window is half as wide again."""


@dataclass(frozen=True)
class Patience:
    """How long a question may take."""

    deadline: float
    """On ``time.perf_counter()``."""
    cancel: Cancel | None = None

    @property
    def over(self) -> bool:
        return time.perf_counter() >= self.deadline or (self.cancel is not None and self.cancel.is_set)


def ask(week: Week, objective: Linear | None, patience: Patience, *, seed: int = 0, light: bool = False) -> Outcome:
    """Search a week, or nothing at all where no time is left."""
    if patience.over:
        return Outcome(Verdict.UNKNOWN, None, 0)
    return search(
        week.model,
        objective,
        Limits(seed=seed),
        cancel=patience.cancel,
        deadline=patience.deadline,
        light=light,
    )


@dataclass(frozen=True)
class Witness:
    """Whether a brief has a week at all, and one of them."""

    possible: bool | None
    facts: WeekFacts | None = None


def witness(brief: Brief, patience: Patience) -> Witness:
    """Ask the plain model of a brief, which knows nothing of literals and slacks, with a seed of its own.

    Raises:
        RefereeDisagreement: the referee finds a must broken in the week found.
    """
    if patience.over:
        return Witness(None)
    week = Week(instance_of(brief), wishes=False)
    outcome = ask(week, None, patience, seed=_OTHER_SEED, light=True)
    if not outcome.solution:
        return Witness(False if outcome.verdict is Verdict.INFEASIBLE else None)
    facts = WeekFacts(week.instance, decode(week, outcome))
    broken = referee.review(facts).broken_musts
    if broken:
        raise RefereeDisagreement(f"the solver's week breaks {broken[0].switch}: {broken[0].breach_text}")
    return Witness(True, facts)


def conceding(brief: Brief, amounts: Mapping[str, int]) -> Brief:
    """The brief with some musts let give way."""
    return brief.model_copy(update={"concessions": {**brief.concessions, **amounts}})


class Posing:
    """The posing model, asked again and again.

    Attributes:
        names: the switches of all musts, in the order of the rules.
    """

    def __init__(self, brief: Brief, patience: Patience) -> None:
        self.brief = brief
        self.patience = patience
        self.instance = instance_of(brief)
        self.week = Week(self.instance, posing=True)
        self.names = tuple(name for name in self.week.switches if name in self.week.on)

    def twin(self) -> Posing:
        """The same model once more, to be asked in another thread."""
        twin = copy(self)
        twin.week = self.week.twin()
        return twin

    def core(self, chosen: Iterable[str]) -> tuple[str, ...] | Literal[True] | None:
        """Musts among the chosen that clash, not minimal; True where all hold together, None where time ran out."""
        among = list(chosen)
        if self.patience.over:
            return None
        with self._fixed({name: (0, 0) for name in self.names if name not in among}):
            outcome = search(
                self.week.model,
                None,
                Limits(),
                cancel=self.patience.cancel,
                deadline=self.patience.deadline,
                assumptions=[self.week.on[name] for name in among],
                light=True,
            )
        if outcome.verdict is Verdict.INFEASIBLE:
            return tuple(among[n] for n in outcome.core)
        return True if outcome.solution else None

    def holds(self, chosen: frozenset[str]) -> bool | None:
        """Whether musts can hold together, all others let go; None where time ran out."""
        with self._fixed({name: (1, 1) if name in chosen else (0, 0) for name in self.names}):
            outcome = ask(self.week, None, self.patience, light=True)
        return False if outcome.verdict is Verdict.INFEASIBLE else True if outcome.solution else None

    def concession(self, name: str) -> int:
        """How far the brief lets a must give way already."""
        return self.week.switches[name].concession

    def excess(self, name: str) -> Variable:
        """By how much a must gives way beyond what the brief concedes."""
        slack = self.week.slacks[name]
        conceded = self.concession(name)
        if not conceded:
            return slack
        over = self.week.model.new_int_var(0, _bounds(self.week, slack)[1], f"{name} beyond {conceded}")
        self.week.model.add(over >= slack - conceded)
        return over

    def variable(self, cost: Linear) -> Variable:
        """A variable equal to a cost."""
        most = cost if isinstance(cost, int) else _most(self.week, cost)
        total = self.week.model.new_int_var(0, most, "cost")
        self.week.model.add(total == cost)
        return total

    def cheapest(
        self,
        free: Sequence[str],
        cost: Variable,
        *,
        least: int,
        hold: Mapping[Variable, bool],
        most: int | None = None,
    ) -> tuple[Outcome, dict[str, int]]:
        """Let some musts give way at least cost; the amounts of those that have to.

        The cost is looked for in one narrow window after another, from below. That proves it in a third of the time,
        and never in ten times as long: in one go the solver creeps down to the least in hundreds of steps (measured).

        Args:
            least: the cost is known to be no less.
            hold: other literals, fixed.
            most: dearer ones are not looked for.
        """
        held = {var.index: (int(value), int(value)) for var, value in hold.items()}
        top = _bounds(self.week, cost)[1]
        most = top if most is None else min(most, top)
        low, high = least, max(_FIRST_WINDOW, least + least // 2)
        with self._fixed({name: (1, 1) for name in self.names if name not in free}), self._within(held):
            if high < most < top:
                # Where dearer ones are of no use there may be none at all: that is one search, not one a window.
                with self._within({cost.index: (low, most)}):
                    outcome = ask(self.week, None, self.patience, light=True)
                if not outcome.solution:
                    return outcome, {}
                most = outcome[cost]
            while True:
                with self._within({cost.index: (low, min(high, most))}):
                    outcome = ask(self.week, cost, self.patience, light=True)
                if outcome.verdict is not Verdict.INFEASIBLE or high >= most:
                    break
                low, high = high + 1, high + high // 2
        if not outcome.solution:
            return outcome, {}
        amounts = {name: outcome[self.week.slacks[name]] for name in free}
        return outcome, {name: amount for name, amount in amounts.items() if amount > self.concession(name)}

    def smaller(self, amounts: Mapping[str, int]) -> dict[str, int] | Literal[False] | None:
        """Amounts that also do, none greater and one at least smaller; False where none do, None out of time.

        One search shows it for every amount at once: their sum is at least one less.
        """
        slacks = {name: self.week.slacks[name] for name in amounts}
        less = self.week.bool_var("less")
        self.week.model.add(sum(slacks.values()) <= sum(amounts.values()) - 1).only_enforce_if(less)
        limits = {name: (0, 0) if name in amounts else (1, 1) for name in self.names}
        with (
            self._fixed(limits),
            self._within({less.index: (1, 1)}),
            self._within({slack.index: (0, amounts[name]) for name, slack in slacks.items()}),
        ):
            outcome = ask(self.week, None, self.patience, light=True)
        self._set(less.index, (0, 0))
        if outcome.verdict is Verdict.INFEASIBLE:
            return False
        if not outcome.solution:
            return None
        found = {name: outcome[slack] for name, slack in slacks.items()}
        return {name: amount for name, amount in found.items() if amount > self.concession(name)}

    @contextmanager
    def _fixed(self, literals: Mapping[str, tuple[int, int]]) -> Iterator[None]:
        """Musts held on or off for a while: fixing them lets presolve work, three times as fast as assuming them."""
        with self._within({self.week.on[name].index: ends for name, ends in literals.items()}):
            yield

    @contextmanager
    def _within(self, ranges: Mapping[int, tuple[int, int]]) -> Iterator[None]:
        """Variables held to narrower ranges for a while."""
        variables = self.week.model.proto.variables
        before = {index: tuple(variables[index].domain) for index in ranges}
        try:
            for index, ends in ranges.items():
                self._set(index, ends)
            yield
        finally:
            for index, domain in before.items():
                self._set(index, domain)

    def _set(self, index: int, domain: Sequence[int]) -> None:
        held = self.week.model.proto.variables[index].domain
        held.clear()
        held.extend(domain)


def _most(week: Week, expression: cp_model.LinearExpr) -> int:
    """The largest value that a linear expression can have, as far as its variables go."""
    flat = cp_model.FlatIntExpr(expression)
    ends = ((c, _bounds(week, v)) for v, c in zip(flat.vars, flat.coeffs, strict=True))
    return int(flat.offset) + sum(max(c * low, c * high) for c, (low, high) in ends)


def _bounds(week: Week, var: Variable) -> tuple[int, int]:
    domain = tuple(week.model.proto.variables[var.index].domain)
    return domain[0], domain[-1]


def until(seconds: float, cancel: Cancel | None = None) -> Patience:
    return Patience(time.perf_counter() + seconds, cancel)
