"""Mends: the cheapest changes that make an impossible brief possible; each minimal, and shown to work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

from scheduler.answers.pose import Posing, Witness, conceding
from scheduler.domain.answers import Change, Mend
from scheduler.domain.brief import Brief
from scheduler.domain.errors import RefereeDisagreement
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules import RULES_BY_KEY, Rule, Switch
from scheduler.week.expressions import Literal, Variable
from scheduler.week.model import Week
from scheduler.week.solver import Verdict

MEND_COST = "mend_cost_"
TOUCH = "touch"
KIND, LESS, ANY = range(3)
"""How much further mends differ: they leave a rule alone, let less of it give way, or are any others."""
_TIMES_THE_CHEAPEST = 3
"""A mend of another kind is worth showing up to this many times the cost of the cheapest one."""


def unit_cost(instance: Instance, switch: Switch, costs: Mapping[str, int]) -> int:
    """What it costs that a must gives way by one base unit: the question's own figure, else the evidence's."""
    rows = RULES_BY_KEY[switch.rule].mend_rows(switch.id, instance)
    for name in (switch.id, *rows):
        if name in costs:
            return costs[name]
    row = next(f"{MEND_COST}{name}" for name in rows if f"{MEND_COST}{name}" in instance.catalogue.evidence)
    return instance.catalogue.default_int(row)


@dataclass(frozen=True)
class Spare:
    """What mends cost, and what they may not touch."""

    instance: Instance
    costs: Mapping[str, int]
    protected: frozenset[str]

    @property
    def touch(self) -> int:
        default = self.instance.catalogue.default_int(f"{MEND_COST}{TOUCH}")
        return self.costs.get(TOUCH, default)

    @property
    def worth_a_kind(self) -> int:
        return self.instance.catalogue.default_int("mend_kind_most")

    def unit(self, switch: Switch) -> int:
        return unit_cost(self.instance, switch, self.costs)

    def free(self, posing: Posing) -> list[str]:
        """The musts that may give way."""
        rules: Mapping[str, Rule[Any]] = RULES_BY_KEY
        switches = posing.week.switches
        return [
            name
            for name in posing.names
            if name not in self.protected and rules[switches[name].rule].mendable(name, self.instance)
        ]


def cheapest_mends(
    posing: Posing, spare: Spare, most: int, check: Callable[[dict[str, int]], Future[Mend]]
) -> tuple[list[Future[Mend]], bool]:
    """So many mends, cheapest first of its kind, handed on to be checked; and whether there is no other."""
    week = posing.week
    free = spare.free(posing)
    if not free or most <= 0:
        return [], not free
    cost = posing.variable(
        sum(spare.touch * (1 - week.on[name]) + spare.unit(week.switches[name]) * posing.excess(name) for name in free)
    )
    variety = _Variety(week, free)
    # The next mend leaves a rule of each before it alone; else it lets less of a rule give way; else it is any other.
    level, at_level = KIND, 0
    costs: list[int] = []
    mends: list[Future[Mend]] = []
    while len(mends) < most:
        worth = max(spare.worth_a_kind, _TIMES_THE_CHEAPEST * costs[0]) if costs and level < ANY else None
        outcome, amounts = posing.cheapest(free, cost, least=at_level, hold=variety.held(level), most=worth)
        if outcome.verdict is Verdict.INFEASIBLE:
            if not mends or level == ANY:
                return mends, True
            level, at_level = level + 1, costs[0]
            continue
        if not amounts:
            return mends, False
        mends.append(check(amounts))
        if outcome.verdict is not Verdict.OPTIMAL or outcome.value is None:
            return mends, False
        costs.append(outcome.value)
        at_level = outcome.value
        week.model.add_bool_or(week.on[name] for name in amounts)
        variety.note(amounts)
    return mends, False


class _Variety:
    """Holds further mends apart from those found: in kind, or in how many demands of a rule they touch."""

    def __init__(self, week: Week, free: Sequence[str]) -> None:
        self.week = week
        self.levels = [week.bool_var("mends differ in kind"), week.bool_var("mends touch less of a rule")]
        self.rules: dict[str, list[str]] = {}
        for name in free:
            self.rules.setdefault(week.switches[name].rule, []).append(name)
        self._fewer: dict[tuple[str, int], Literal] = {}

    def held(self, level: int) -> dict[Variable, bool]:
        return {literal: number == level for number, literal in enumerate(self.levels)}

    def note(self, amounts: Iterable[str]) -> None:
        """A mend was found that touches these."""
        touched = Counter(self.week.switches[name].rule for name in amounts)
        alone = (self._at_most(rule, 0) for rule in touched)
        fewer = (self._at_most(rule, number - 1) for rule, number in touched.items())
        for level, literals in zip(self.levels, (alone, fewer), strict=True):
            self.week.model.add_bool_or(~level, *literals)

    def _at_most(self, rule: str, number: int) -> Literal:
        """A literal under which no more than so many demands of a rule give way."""
        if (rule, number) not in self._fewer:
            literal = self._fewer[rule, number] = self.week.bool_var(f"{rule} gives way {number} times at most")
            touched = sum(1 - self.week.on[name] for name in self.rules[rule])
            self.week.model.add(touched <= number).only_enforce_if(literal)
        return self._fewer[rule, number]


def checked(posing: Posing, spare: Spare, amounts: Mapping[str, int], ask: Callable[[Brief], Future[Witness]]) -> Mend:
    """A mend in words: made smaller until nothing smaller does, and held against the plain model.

    Args:
        ask: has the plain model of a brief asked, in another thread.
    """
    amounts, minimal = dict(amounts), False
    asked = ask(conceding(posing.brief, amounts))
    while not minimal:
        found = posing.smaller(amounts)
        if found is None:
            break
        if found is False:
            minimal = True
        else:
            amounts = found
            asked = ask(conceding(posing.brief, amounts))
    shown = asked.result()
    if shown.possible is False:
        raise RefereeDisagreement(f"no mend after all: {amounts}")
    changes = tuple(_change(posing, spare, name, amount, shown.facts) for name, amount in amounts.items())
    return Mend(
        changes=changes,
        cost=sum(c.cost for c in changes),
        verified=shown.possible is True,
        minimal=minimal,
        patch={"concessions": amounts},
    )


def _change(posing: Posing, spare: Spare, name: str, amount: int, facts: WeekFacts | None) -> Change:
    switch = posing.week.switches[name]
    words = switch.mend_text(amount, facts)
    return Change(
        switch=name,
        rule=switch.rule,
        amount=amount,
        unit=switch.unit.name,
        sentence=words[0].upper() + words[1:],
        cost=spare.touch + (amount - switch.concession) * spare.unit(switch),
    )
