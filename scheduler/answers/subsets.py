"""Minimal unsatisfiable subsets and minimal correction sets of any system of named demands.

The system is known only through an oracle that says whether a subset of its demands can hold together. One code path
serves weeks and the published examples that the tests hold it against.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler.week.solver import Limits, Verdict, search

Oracle = Callable[[frozenset[str]], bool | None]
"""Whether the demands can hold together; None when that could not be found out in time."""


@dataclass(frozen=True)
class Conflict:
    """Demands that cannot hold together.

    Attributes:
        members: in the order in which they were declared.
        verified: each was dropped in turn, and the rest was shown to hold together.
    """

    members: tuple[str, ...]
    verified: bool


@dataclass(frozen=True)
class Enumeration:
    """Conflicts and corrections found, and whether there can be no other."""

    conflicts: tuple[Conflict, ...]
    corrections: tuple[frozenset[str], ...]
    complete: bool


def shrink(members: Sequence[str], consistent: Oracle, *, known: frozenset[str] = frozenset()) -> Conflict:
    """Shrink an inconsistent set to an irreducible one, by deletion, the last declared first.

    So a conflict speaks of what is declared first where it can: of days and counts of sessions before exercises. Each
    member is dropped in turn; it stays out when the rest still cannot hold together. At the end every member
    that stayed was shown necessary by an answer of the oracle, unless one was lacking: then ``verified`` is False.

    Args:
        known: members already known to be necessary.
    """
    kept = list(members)
    verified = True
    for member in reversed(members):
        if member in known:
            continue
        rest = frozenset(kept) - {member}
        answer = consistent(rest)
        if answer is False:
            kept.remove(member)
        elif answer is None:
            verified = False
    return Conflict(tuple(kept), verified)


def enumerate_subsets(
    demands: Sequence[str],
    consistent: Oracle,
    *,
    most_conflicts: int | None = None,
    most_corrections: int | None = None,
    first: Conflict | None = None,
    narrow: Callable[[Sequence[str]], Sequence[str]] = lambda members: members,
    go_on: Callable[[], bool] = lambda: True,
) -> Enumeration:
    """Enumerate conflicts and corrections by a map of the subsets not yet explored (MARCO, Liffiton et al. 2016).

    A largest unexplored subset is tried: if it holds, its complement is a minimal correction set and no subset of it
    need be tried; if not, it is shrunk to a conflict and no superset of that need be tried.

    Args:
        first: a conflict already known.
        narrow: a smaller inconsistent part of an inconsistent set, where one is to be had cheaply.
        go_on: asked before each step; False ends the enumeration, which is then not complete.
    """
    chart = cp_model.CpModel()
    literal = {name: chart.new_bool_var(name) for name in demands}
    conflicts: list[Conflict] = []
    corrections: list[frozenset[str]] = []

    def note(conflict: Conflict) -> None:
        conflicts.append(conflict)
        chart.add_bool_or(~literal[name] for name in conflict.members)

    if first is not None:
        note(first)
    while go_on():
        full = most_conflicts is not None and len(conflicts) >= most_conflicts
        if full or (most_corrections is not None and len(corrections) >= most_corrections):
            break
        seed = search(chart, sum(~var for var in literal.values()), Limits())
        if seed.verdict is Verdict.INFEASIBLE:
            return Enumeration(tuple(conflicts), tuple(corrections), complete=True)
        inside = [name for name in demands if seed[literal[name]]]
        answer = consistent(frozenset(inside))
        if answer is None:
            break
        if answer:
            # The largest unexplored subset that holds is maximal: all larger ones are explored and do not.
            outside = frozenset(demands) - frozenset(inside)
            corrections.append(outside)
            if not outside:
                return Enumeration((), tuple(corrections), complete=True)
            chart.add_bool_or(literal[name] for name in demands if name in outside)
        else:
            note(shrink(narrow(inside), consistent))
    return Enumeration(tuple(conflicts), tuple(corrections), complete=False)


def hits(one: Iterable[str], others: Iterable[Iterable[str]]) -> bool:
    """Whether a set shares a member with each of the others (the duality of conflicts and corrections)."""
    mine = set(one)
    return all(mine & set(other) for other in others)
