"""HiGHS in a process of its own: a programme comes as a line of JSON, what was found goes back as one.

Run by its path, so that nothing is imported but what this needs. It ends with the process that started it.
"""

from __future__ import annotations

import json
import math
import os
import sys
import threading
from datetime import timedelta
from typing import Any

from ortools.math_opt import model_pb2, sparse_containers_pb2
from ortools.math_opt.python import mathopt
from ortools.math_opt.solvers import highs_pb2


def main() -> None:
    # HiGHS may say something of its own on the standard output, whatever its options: the answer has a way for itself.
    with os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8") as answer:
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
        asked = json.loads(sys.stdin.readline())
        threading.Thread(target=_end_with_the_other, daemon=True).start()
        print(json.dumps(_solved(asked)), file=answer, flush=True)


def _end_with_the_other() -> None:
    while os.read(sys.stdin.fileno(), 1):
        pass
    os._exit(1)


def _solved(asked: dict[str, Any]) -> dict[str, Any]:
    """What :func:`scheduler.week.highs.least` asks, and what it reads."""
    model = mathopt.Model.from_model_proto(_model(asked))
    columns = list(model.variables())
    hint = {column: float(value) for column, value in zip(columns, asked["hint"], strict=False)}
    result = mathopt.solve(
        model,
        mathopt.SolverType.HIGHS,
        params=mathopt.SolveParameters(
            node_limit=asked["nodes"],
            time_limit=timedelta(seconds=asked["seconds"]) if asked["seconds"] is not None else None,
            highs=highs_pb2.HighsOptionsProto(int_options={"threads": 1}, double_options={"mip_rel_gap": 0.0}),
        ),
        model_params=mathopt.ModelSolveParameters(
            solution_hints=[mathopt.SolutionHint(variable_values=hint)] if hint else []
        ),
    )
    bound = result.termination.objective_bounds.dual_bound
    values = result.variable_values(columns) if result.has_primal_feasible_solution() else []
    return {
        "bound": bound if math.isfinite(bound) else None,
        "solution": [round(value) for value in values],
        "iterations": result.solve_stats.simplex_iterations,
    }


def _model(asked: dict[str, Any]) -> model_pb2.ModelProto:
    return model_pb2.ModelProto(
        variables=model_pb2.VariablesProto(
            ids=range(len(asked["lower"])),
            lower_bounds=asked["lower"],
            upper_bounds=asked["upper"],
            integers=[True] * len(asked["lower"]),
        ),
        objective=model_pb2.ObjectiveProto(
            offset=asked["constant"],
            linear_coefficients=sparse_containers_pb2.SparseDoubleVectorProto(
                ids=[column for column, _ in asked["costs"]],
                values=[cost for _, cost in asked["costs"]],
            ),
        ),
        linear_constraints=model_pb2.LinearConstraintsProto(
            ids=range(len(asked["rows"])),
            lower_bounds=[low for low, _, _ in asked["rows"]],
            upper_bounds=[high for _, high, _ in asked["rows"]],
        ),
        linear_constraint_matrix=sparse_containers_pb2.SparseDoubleMatrixProto(
            row_ids=[row for row, (_, _, terms) in enumerate(asked["rows"]) for _ in terms],
            column_ids=[column for _, _, terms in asked["rows"] for column, _ in terms],
            coefficients=[count for _, _, terms in asked["rows"] for _, count in terms],
        ),
    )


if __name__ == "__main__":
    main()
