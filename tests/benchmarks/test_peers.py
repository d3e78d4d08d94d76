"""The peers of the benchmark answer the same question: the linear form by brute force, the peers on small briefs."""

from __future__ import annotations

from itertools import product

import pytest
from ortools.sat.python import cp_model

from scheduler.domain.brief import Brief
from scheduler.planning import instance_of
from scheduler.rules import TIER_NAMES
from scheduler.week.model import Week
from tests.benchmarks.compare import disagreements
from tests.benchmarks.linear import Programme, expression, programme
from tests.benchmarks.peers import PEERS, core, solve_with, unmerged


def holds(linear: Programme, values: tuple[int, ...]) -> bool:
    """Whether some values of the further columns make all rows hold."""
    further = [range(a, b + 1) for a, b in zip(linear.lower, linear.upper, strict=True)][len(values) :]
    return any(
        all(r.low <= sum(c * (values + more)[v] for v, c in r.terms.items()) <= r.high for r in linear.rows)
        for more in product(*further)
    )


def models() -> dict[str, cp_model.CpModel]:
    found = {}
    for name in ("linear", "or", "implication", "one at most", "exactly one", "maximum", "minimum", "negated"):
        model = found[name] = cp_model.CpModel()
        a, b, c = (model.new_bool_var(n) for n in "abc")
        x, y = model.new_int_var(-1, 3, "x"), model.new_int_var(0, 4, "y")
        match name:
            case "linear":
                model.add(2 * x - y >= 1).only_enforce_if(a, ~b)
                model.add(x + y == 3).only_enforce_if(c)
                model.add_linear_constraint(x + 2 * y, 0, 9)
            case "or":
                model.add_bool_or(a, ~b, c)
                model.add_bool_or(a, ~c).only_enforce_if(b)
            case "implication":
                model.add_implication(a, ~b)
                model.add_bool_and(b, ~c).only_enforce_if(~a)
            case "one at most":
                model.add_at_most_one(a, ~b, c)
            case "exactly one":
                model.add_exactly_one(a, b, ~c)
            case "maximum":
                model.add_max_equality(y, [x, 2 * a, b + 1])
            case "minimum":
                model.add_min_equality(x, [y, 3 - a])
            case "negated":
                model.add(x <= 1).only_enforce_if(~a)
                model.add(x + 3 * ~b <= 2)
    return found


@pytest.mark.parametrize("name", models())
def test_the_linear_form_allows_what_the_model_allows(name: str) -> None:
    """Every assignment: CP-SAT with all variables fixed, and the rows."""
    model = models()[name]
    linear = programme(model)
    assignments = list(product((0, 1), (0, 1), (0, 1), range(-1, 4), range(5)))
    allowed = 0
    for values in assignments:
        fixed = model.clone()
        for index, value in enumerate(values):
            fixed.add(fixed.get_int_var_from_proto_index(index) == value)
        possible = cp_model.CpSolver().solve(fixed) == cp_model.OPTIMAL
        assert holds(linear, values) is possible, values
        allowed += possible
    assert 0 < allowed < len(assignments)


def test_an_expression_reads_negated_literals() -> None:
    model = cp_model.CpModel()
    a, x = model.new_bool_var("a"), model.new_int_var(0, 5, "x")
    assert expression(3 * ~a + 2 * x + 1) == ({0: -3, 1: 2}, 4)
    assert expression(7) == ({}, 7)


def test_what_has_no_linear_form_is_refused() -> None:
    model = cp_model.CpModel()
    x, y = (model.new_int_var(0, 5, n) for n in "xy")
    model.add_multiplication_equality(y, [x, x])
    with pytest.raises(ValueError, match="no linear form"):
        programme(model)


SMALL = Brief.model_validate(
    {
        "week": {"start": "2026-11-30"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "wed", "thu"], "start": "18:00", "end": "18:45", "place": "gym"}],
        "kinds": {"upper": {"base": "upper_small", "per_week": 2, "minutes": {"least": 20, "most": 40}}},
        "sessions": 2,
        "prescription": {"sets_per_exercise": 3},
        "goals": {"lats": {"aim": 9, "priority": 1}, "pectorals": {"aim": 9}, "biceps": {"aim": 12}},
        "exercises": {
            "only": [
                *("lat_pulldown", "pull_up", "weighted_pull_up", "machine_row", "seated_cable_row"),
                *("machine_chest_press", "barbell_bench_press", "dumbbell_curl", "incline_dumbbell_curl"),
                "back_extension",
            ],
            "favourites": ["machine_row", "dumbbell_curl"],
        },
    }
)


def test_all_peers_find_the_same_values() -> None:
    job = {"cap_seconds": 60.0}
    found = {peer: solve_with(peer, SMALL, job) | {"case": peer} for peer in PEERS if peer != "core_highs"}
    assert len(found) >= 6
    for peer, record in found.items():
        assert record["proved"], peer
        assert [t["name"] for t in record["tiers"]] == list(TIER_NAMES.values()), peer
        assert not list(disagreements([(found["highs_classes"], record)]))
    # The aims are out of reach in twice 40 minutes, so the values are no zeros.
    assert found["plain"]["tiers"][0]["value"] > 0


def test_an_impossible_week_is_impossible_for_all() -> None:
    brief = SMALL.model_copy(update={"sessions": SMALL.sessions.model_copy(update={"least": 3, "most": 3})})
    for peer in ("plain", "highs", "scip", "cbc"):
        assert solve_with(peer, brief, {"cap_seconds": 60.0})["status"] == "impossible", peer


def test_plain_merges_nothing_and_tightens_nothing() -> None:
    merged = Week(instance_of(SMALL))
    with unmerged():
        plain = Week(instance_of(SMALL))
    assert len(merged.classes) < len(plain.classes) == len(SMALL.exercises.only or ())
    assert merged.covers
    assert not plain.covers


def test_the_independent_programme_takes_the_core_of_a_brief() -> None:
    job = {"cap_seconds": 60.0}
    found = solve_with("core_highs", core(SMALL), job)
    assert found["status"] == "proved best"
    plain = solve_with("plain", core(SMALL), job)
    assert plain["tiers"][0]["value"] == found["tiers"][0]["value"] > 0
