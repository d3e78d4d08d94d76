"""The three things that the week model computes with, named in one place, and the most that one can come to.

CP-SAT's own aliases admit numpy's whole numbers too, which no sum here is made of; these do not. Rules import them for
type checking only.
"""

from __future__ import annotations

from typing import TypeAlias

from ortools.sat.python import cp_model

Variable: TypeAlias = cp_model.IntVar
"""A whole number that the solver decides."""
Literal: TypeAlias = cp_model.BoolVarT
"""A yes or no that the solver decides, or the opposite of one."""
Linear: TypeAlias = cp_model.LinearExpr | int
"""A weighted sum of those, or a plain number where there is nothing to decide."""


def upper(term: Linear) -> int:
    """The largest value of a variable's domain, or of a sum of variables without subtractions."""
    if isinstance(term, int):
        return term
    flat = cp_model.FlatIntExpr(term)
    # A negative index into a repeated field of the proto silently reads 0 (ortools 9.15).
    most = (int(v.proto.domain[len(v.proto.domain) - 1]) for v in flat.vars)
    return int(flat.offset + sum(c * m for c, m in zip(flat.coeffs, most, strict=True)))
