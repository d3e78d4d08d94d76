"""The week as a CP-SAT model, its tiers, and the one place that owns a solver."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class _LatePandas(ModuleType):
    """Stands where OR-Tools keeps pandas, and becomes it when it is first asked for something."""

    Index, Series = type("Index", (), {}), type("Series", (), {})
    """All that is asked for while OR-Tools is imported: two names in annotations."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(import_module("pandas"), name)


def _import_solver() -> None:
    """Import OR-Tools without pandas, which takes a third of a command's start-up and which nothing here uses.

    Whoever else gives OR-Tools series of variables gets the real pandas, loaded then.
    """
    if "pandas" in sys.modules or "ortools.sat.python.cp_model" in sys.modules:
        return
    late = sys.modules["pandas"] = _LatePandas("pandas")
    try:
        solver = import_module("ortools.sat.python.cp_model")
    finally:
        del sys.modules["pandas"]
    # From here on names are looked up when they are used, the two above as well.
    del _LatePandas.Index, _LatePandas.Series
    assert solver.pd is late


_import_solver()
