"""The linear form of a model: what it allows, by brute force."""

from __future__ import annotations

from itertools import product

import pytest
from ortools.sat.python import cp_model

from scheduler.week.linear import Programme, expression, programme


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
