"""Conflicts and corrections against published examples, a naive twin, and duality."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain, combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.answers.subsets import enumerate_subsets, hits, shrink

System = tuple[Sequence[str], Callable[[frozenset[str]], bool]]


def junker() -> System:
    """Junker 2004, QuickXplain (AAAI): five options at 500, 500, 800, 500, 2600 under a limit of 3000."""
    price = {"r1": 500, "r2": 500, "r3": 800, "r4": 500, "r5": 2600}
    return list(price), lambda chosen: sum(price[name] for name in chosen) <= 3000


def clauses() -> System:
    """a; not a; not a or b; not b: conflicts {1, 2}, {1, 3, 4}; corrections {1}, {2, 3}, {2, 4} (by hand)."""
    rows = {
        "1": lambda a, b: a,
        "2": lambda a, b: not a,
        "3": lambda a, b: not a or b,
        "4": lambda a, b: not b,
    }
    return list(rows), lambda chosen: any(
        all(rows[name](a, b) for name in chosen) for a, b in product((False, True), repeat=2)
    )


def sets(found: Sequence[Sequence[str] | frozenset[str]]) -> set[frozenset[str]]:
    return {frozenset(one) for one in found}


def test_junker() -> None:
    names, consistent = junker()
    found = enumerate_subsets(names, consistent)
    assert found.complete
    assert sets([c.members for c in found.conflicts]) == {frozenset({f"r{i}", "r5"}) for i in range(1, 5)}
    assert sets(found.corrections) == {frozenset({"r5"}), frozenset({"r1", "r2", "r3", "r4"})}


def test_clauses() -> None:
    names, consistent = clauses()
    found = enumerate_subsets(names, consistent)
    assert found.complete
    assert sets([c.members for c in found.conflicts]) == {frozenset("12"), frozenset("134")}
    assert sets(found.corrections) == {frozenset("1"), frozenset("23"), frozenset("24")}


def test_a_consistent_system_has_no_conflict() -> None:
    found = enumerate_subsets(["a", "b"], lambda chosen: True)
    assert found.complete
    assert found.conflicts == ()
    assert found.corrections == (frozenset(),)


def test_an_empty_conflict_says_that_the_facts_clash_by_themselves() -> None:
    assert shrink(["a", "b"], lambda chosen: False).members == ()


def test_without_an_answer_nothing_is_called_verified() -> None:
    conflict = shrink(["a", "b"], lambda chosen: None)
    assert conflict.members == ("a", "b")
    assert not conflict.verified
    assert not enumerate_subsets(["a"], lambda chosen: None).complete


def test_limits_end_the_enumeration() -> None:
    names, consistent = junker()
    assert len(enumerate_subsets(names, consistent, most_conflicts=2).conflicts) == 2
    stopped = enumerate_subsets(names, consistent, go_on=lambda: False)
    assert not stopped.complete


def powerset(names: Sequence[str]) -> list[frozenset[str]]:
    return [frozenset(c) for c in chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))]


def naive(names: Sequence[str], consistent: Callable[[frozenset[str]], bool]) -> tuple[set[frozenset[str]], ...]:
    """Every subset looked at: minimal inconsistent ones, and complements of maximal consistent ones."""
    good = [s for s in powerset(names) if consistent(s)]
    bad = [s for s in powerset(names) if not consistent(s)]
    conflicts = {s for s in bad if not any(other < s for other in bad)}
    maximal = {s for s in good if not any(s < other for other in good)}
    return conflicts, {frozenset(names) - s for s in maximal}


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    limit=st.integers(1, 30),
    weights=st.lists(st.tuples(st.integers(1, 12), st.integers(1, 12)), min_size=1, max_size=6),
)
def test_random_systems_agree_with_the_naive_twin_and_are_dual(limit: int, weights: list[tuple[int, int]]) -> None:
    """Two budgets at once: monotone systems with many conflicts. Duality: Liffiton and Sakallah 2008."""
    names = [f"d{n}" for n in range(len(weights))]

    def consistent(chosen: frozenset[str]) -> bool:
        picked = [weights[names.index(name)] for name in chosen]
        return sum(a for a, _ in picked) <= limit and sum(b for _, b in picked) <= 20

    found = enumerate_subsets(names, consistent)
    conflicts, corrections = naive(names, consistent)
    assert sets([c.members for c in found.conflicts]) == conflicts
    assert sets(found.corrections) == corrections
    assert all(c.verified for c in found.conflicts)
    if conflicts:
        assert all(hits(c.members, found.corrections) for c in found.conflicts)
        assert all(hits(k, [c.members for c in found.conflicts]) for k in found.corrections)


@pytest.mark.parametrize("order", [["r5", "r1", "r2", "r3", "r4"], ["r1", "r2", "r3", "r4", "r5"]])
def test_shrinking_follows_the_declared_order(order: list[str]) -> None:
    _, consistent = junker()
    conflict = shrink(order, consistent)
    assert conflict.verified
    assert "r5" in conflict.members
    assert len(conflict.members) == 2
