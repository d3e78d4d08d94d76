"""Conflicts and corrections: this project's enumeration beside a general toolkit's, on the same systems.

Run it from the project's root: ``python -m tests.benchmarks.explanations [SYSTEMS]``. It needs CPMpy, which is no
dependency of this project: ``pip install cpmpy``.

Systems are random weeks in small: sessions on seven days, with closed days, least days between two sessions, an order
and windows as demands. Both sides get the same demands, each by its own CP-SAT model, and both answers are held against
a naive twin that tries every subset over every placing. Printed are the seconds to all conflicts and corrections, and
to a first conflict alone.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Any

from ortools.sat.python import cp_model

from scheduler.answers.subsets import enumerate_subsets, shrink
from scheduler.week.solver import Limits, Verdict, search

DAYS = 7
Sets = set[frozenset[str]]


@dataclass(frozen=True)
class Demand:
    """A day closed, or days apart, an order or a window of one or two sessions."""

    name: str
    what: str
    one: int
    other: int = 0
    days: int = 0

    def holds(self, day: Sequence[Any]) -> Any:
        """On numbers a truth value, on variables of a modelling language a constraint."""
        match self.what:
            case "apart":
                return abs(day[self.one] - day[self.other]) >= self.days
            case "before":
                return day[self.one] < day[self.other]
            case _:
                return day[self.one] <= self.days


def weeks(count: int) -> list[tuple[int, list[Demand], list[int]]]:
    """Sessions, demands and closed days; only such as cannot all hold."""
    found: list[tuple[int, list[Demand], list[int]]] = []
    number = 0
    while len(found) < count:
        number += 1
        pick = random.Random(number)
        sessions = pick.randint(4, 5)
        closed = sorted(pick.sample(range(DAYS), pick.randint(2, 4)))
        demands = [
            Demand(f"apart {a} {b}", "apart", a, b, pick.choice((1, 1, 2, 2, 3)))
            for a, b in combinations(range(sessions), 2)
        ]
        demands += [
            Demand(f"before {a} {b}", "before", a, b) for a, b in (pick.sample(range(sessions), 2) for _ in range(2))
        ]
        demands += [Demand(f"by {a}", "by", a, days=pick.randint(1, 4)) for a in pick.sample(range(sessions), 2)]
        demands = list({d.name: d for d in demands}.values())
        if not Twin(sessions, demands, closed)(frozenset(n for n, _ in named(demands, closed))):
            found.append((sessions, demands, closed))
    return found


def named(demands: Sequence[Demand], closed: Sequence[int]) -> list[tuple[str, Demand | int]]:
    return [*((f"closed {day}", day) for day in closed), *((d.name, d) for d in demands)]


class Twin:
    """Every placing of the sessions, tried."""

    def __init__(self, sessions: int, demands: Sequence[Demand], closed: Sequence[int]) -> None:
        names = named(demands, closed)
        self.kept = {
            frozenset(n for n, d in names if (all(x != d for x in days) if isinstance(d, int) else d.holds(days)))
            for days in product(range(DAYS), repeat=sessions)
        }
        self.names = [n for n, _ in names]

    def __call__(self, chosen: frozenset[str]) -> bool:
        return any(chosen <= kept for kept in self.kept)

    def corrections(self) -> Sets:
        return {frozenset(self.names) - k for k in self.kept if not any(k < other for other in self.kept)}


def ours(sessions: int, demands: Sequence[Demand], closed: Sequence[int]) -> tuple[list[str], Callable[..., bool]]:
    """An oracle on a CP-SAT model with a literal a demand, fixed as the week's posing model fixes them."""
    model = cp_model.CpModel()
    day = [model.new_int_var(0, DAYS - 1, f"day {n}") for n in range(sessions)]
    on = {name: model.new_bool_var(name) for name, _ in named(demands, closed)}
    for name, demand in named(demands, closed):
        if isinstance(demand, int):
            for var in day:
                model.add(var != demand).only_enforce_if(on[name])
        elif demand.what == "apart":
            first = model.new_bool_var(f"first {name}")
            one, other = day[demand.one], day[demand.other]
            model.add(other - one >= demand.days).only_enforce_if(on[name], first)
            model.add(one - other >= demand.days).only_enforce_if(on[name], ~first)
        else:
            model.add(demand.holds(day)).only_enforce_if(on[name])

    def consistent(chosen: frozenset[str]) -> bool:
        for name, literal in on.items():
            domain = model.proto.variables[literal.index].domain
            domain.clear()
            domain.extend((1, 1) if name in chosen else (0, 0))
        return search(model, None, Limits(), light=True).verdict is not Verdict.INFEASIBLE

    return list(on), consistent


def theirs(sessions: int, demands: Sequence[Demand], closed: Sequence[int]) -> tuple[list[Any], dict[Any, str]]:
    import cpmpy as cp

    day = cp.intvar(0, DAYS - 1, shape=sessions)
    soft = [
        cp.all([d != demand for d in day]) if isinstance(demand, int) else demand.holds(day)
        for _, demand in named(demands, closed)
    ]
    return soft, {id(c): name for c, (name, _) in zip(soft, named(demands, closed), strict=True)}


def timed(act: Callable[[], Any]) -> tuple[Any, float]:
    started = time.perf_counter()
    found = act()
    return found, time.perf_counter() - started


def main(count: int) -> None:
    from cpmpy.tools.explain import marco, mus, quickxplain

    seconds: dict[str, list[float]] = {}
    for number, week in enumerate(weeks(count)):
        twin = Twin(*week)
        names, consistent = ours(*week)
        soft, name_of = theirs(*week)

        def enumerated(soft: list[Any] = soft) -> list[tuple[str, Any]]:
            return list(marco(soft, solver="ortools", map_solver="ortools"))

        mine, took = timed(lambda n=names, c=consistent: enumerate_subsets(n, c))
        seconds.setdefault("all, ours", []).append(took)
        other, took = timed(enumerated)
        seconds.setdefault("all, marco of CPMpy", []).append(took)
        conflicts = {frozenset(c.members) for c in mine.conflicts}
        assert set(mine.corrections) == twin.corrections(), number
        assert {frozenset(name_of[id(c)] for c in s) for kind, s in other if kind == "MUS"} == conflicts, number
        assert {frozenset(name_of[id(c)] for c in s) for kind, s in other if kind == "MCS"} == set(mine.corrections)
        one, took = timed(lambda n=names, c=consistent: shrink(n, c))
        assert not twin(frozenset(one.members))
        assert frozenset(one.members) in conflicts
        seconds.setdefault("one, ours", []).append(took)
        for label, act in (("mus", mus), ("quickxplain", quickxplain)):
            first, took = timed(lambda a=act, s=soft: a(s, solver="ortools"))
            assert frozenset(name_of[id(c)] for c in first) in conflicts
            seconds.setdefault(f"one, {label} of CPMpy", []).append(took)
        print(f"system {number:2}: {len(names)} demands, {len(conflicts)} conflicts", flush=True)
    for label, times in seconds.items():
        print(f"{label:26} median {statistics.median(times):7.3f} s, most {max(times):7.3f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
