"""The three things that the week model computes with, named in one place.

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
