"""OR-Tools is imported without pandas, and still takes series from whoever has them."""

from __future__ import annotations

import subprocess
import sys

SCRIPT = """
import sys
from pathlib import Path
from scheduler import read_brief, solve
plan = solve(read_brief(Path("scenarios/pinned_solid.yaml")))
assert plan.status.value == "proved best"
assert "pandas" not in sys.modules
import pandas
from ortools.sat.python import cp_model
assert hasattr(pandas, "DataFrame")
model = cp_model.CpModel()
series = model.new_int_var_series("x", pandas.Index(["a", "b"]), 0, 5)
assert isinstance(series, pandas.Series)
model.add(series["a"] + series["b"] >= 9)
model.minimize(series["a"])
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL
assert list(solver.values(series)) == [4, 5]
try:
    model.new_int_var_series("y", ["a"], 0, 5)
except TypeError:
    print("refused")
"""


def test_pandas_is_loaded_by_who_uses_it_only() -> None:
    ran = subprocess.run([sys.executable, "-c", SCRIPT], check=False, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == "refused"
