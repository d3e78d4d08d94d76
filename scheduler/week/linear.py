"""A CP-SAT model as a mixed-integer programme, for other solvers: the same columns, every constraint as rows.

A constraint under literals is relaxed by the least big M that the bounds of its columns allow. A maximum gets a column
for which of its terms it is. What the week model does not use is refused, never dropped.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

FREE = 2**62
"""What CP-SAT writes for no bound."""

Terms = dict[int, int]


@dataclass(frozen=True)
class Row:
    """low <= sum of coefficient x column <= high."""

    low: float
    high: float
    terms: Mapping[int, int]


@dataclass
class Programme:
    """Columns 0, 1, ... are the variables of the CP-SAT model; further ones follow."""

    lower: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def activity(self, terms: Mapping[int, int]) -> tuple[int, int]:
        """Least and greatest value of a sum over the bounds of its columns."""
        least = sum(c * (self.lower[v] if c > 0 else self.upper[v]) for v, c in terms.items())
        return least, sum(c * (self.upper[v] if c > 0 else self.lower[v]) for v, c in terms.items())

    def add(self, low: float, high: float, terms: Mapping[int, int], enforced_by: Iterable[int] = ()) -> None:
        """A row that holds where all the literals do."""
        literals = list(enforced_by)
        if not literals:
            self.rows.append(Row(low, high, terms))
            return
        least, greatest = self.activity(terms)
        for bound, missing, sign in ((low, low - least, 1), (high, greatest - high, -1)):
            if math.isinf(bound) or missing <= 0:
                continue
            # sum >= low - missing x (number of literals that are false), and the same from above.
            relaxed, constant = dict(terms), bound
            for literal in literals:
                column, factor, offset = _literal(literal)
                relaxed[column] = relaxed.get(column, 0) - sign * int(missing) * factor
                constant -= sign * missing * (1 - offset)
            kept = {column: count for column, count in relaxed.items() if count}
            self.rows.append(Row(constant, math.inf, kept) if sign > 0 else Row(-math.inf, constant, kept))

    def column(self, lower: int, upper: int) -> int:
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1


def programme(model: cp_model.CpModel) -> Programme:
    """The linear form of a model without its objective. Raises ValueError on what has none here."""
    found = Programme()
    for variable in model.proto.variables:
        if len(variable.domain) != 2:
            raise ValueError(f"a domain with a hole: {list(variable.domain)}")
        found.column(variable.domain[0], variable.domain[1])
    for row in model.proto.constraints:
        _post(found, row)
    return found


def _post(found: Programme, row: Any) -> None:
    enforced = list(row.enforcement_literal)
    if row.has_linear():
        domain = list(row.linear.domain)
        if len(domain) != 2:
            raise ValueError(f"a linear constraint whose domain has a hole: {domain}")
        low = -math.inf if domain[0] <= -FREE else domain[0]
        high = math.inf if domain[1] >= FREE else domain[1]
        found.add(low, high, _joined(zip(row.linear.vars, row.linear.coeffs, strict=True)), enforced)
    elif row.has_bool_or():
        terms, offset = _literals(row.bool_or.literals)
        found.add(1 - offset, math.inf, terms, enforced)
    elif row.has_bool_and():
        for literal in row.bool_and.literals:
            terms, offset = _literals([literal])
            found.add(1 - offset, math.inf, terms, enforced)
    elif row.has_at_most_one():
        terms, offset = _literals(row.at_most_one.literals)
        found.add(-math.inf, 1 - offset, terms)
    elif row.has_exactly_one():
        terms, offset = _literals(row.exactly_one.literals)
        found.add(1 - offset, 1 - offset, terms)
    elif row.has_lin_max():
        _post_maximum(found, row, enforced)
    else:
        raise ValueError(f"a constraint that has no linear form here: {row}")


def _post_maximum(found: Programme, row: Any, enforced: list[int]) -> None:
    """target >= every term; target <= the term that is chosen."""
    if enforced:
        raise ValueError("a maximum under literals")
    target, terms = row.lin_max.target, list(row.lin_max.exprs)
    chosen = []
    for term in terms:
        difference = _joined(
            [
                *zip(target.vars, target.coeffs, strict=True),
                *((v, -c) for v, c in zip(term.vars, term.coeffs, strict=True)),
            ]
        )
        apart = term.offset - target.offset
        found.add(apart, math.inf, difference)
        choice = found.column(0, 1)
        chosen.append(choice)
        found.add(-math.inf, apart, difference, [choice])
    found.add(1, 1, dict.fromkeys(chosen, 1))


def _literal(literal: int) -> tuple[int, int, int]:
    """Column, factor and offset: the value of a literal is offset + factor x column."""
    return (literal, 1, 0) if literal >= 0 else (-literal - 1, -1, 1)


def _literals(literals: Iterable[int]) -> tuple[Terms, int]:
    """Terms and offset of a sum of literals."""
    parts = [_literal(literal) for literal in literals]
    return _joined((column, factor) for column, factor, _ in parts), sum(offset for _, _, offset in parts)


def _joined(pairs: Iterable[tuple[int, int]]) -> Terms:
    terms: Terms = {}
    for column, count in pairs:
        terms[column] = terms.get(column, 0) + count
    return {column: count for column, count in terms.items() if count}


def expression(goal: Any) -> tuple[Terms, int]:
    """Terms and constant of a linear expression of the CP-SAT model."""
    if isinstance(goal, int):
        return {}, goal
    flat = cp_model.FlatIntExpr(goal)
    terms: Terms = {}
    constant = int(flat.offset)
    for var, count in zip(flat.vars, flat.coeffs, strict=True):
        column, factor, offset = _literal(var.index)
        terms[column] = terms.get(column, 0) + factor * int(count)
        constant += offset * int(count)
    return {column: count for column, count in terms.items() if count}, constant
