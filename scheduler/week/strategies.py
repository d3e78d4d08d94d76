"""The settings of the solver for every kind of search, and in which order they take turns: what was measured of them.

All of it is CP-SAT's but for one turn. Names and meanings of parameters: ``sat_parameters.proto`` of OR-Tools.
"""

from __future__ import annotations

from typing import Any

from ortools.sat.python import cp_model

Settings = dict[str, Any]
"""Parameters of CP-SAT by name."""

SHORT: Settings = {"max_presolve_iterations": 1, "cp_model_probing_level": 0}
"""Of presolve one round, not three, and no probing: most searches are short."""
DIVING: Settings = {
    **SHORT,
    "linearization_level": 2,
    "new_constraints_batch_size": 20,
    "max_consecutive_inactive_count": 20,
    "max_integer_rounding_scaling": 100,
    "inprocessing_dtime_ratio": 0.0,
}
"""Linear relaxation and cuts, of which few come at once and what does not bite soon goes: programmes are small, and a
search is a hundred nodes, each as dear as its relaxation is large. No inprocessing of clauses, for there are few."""
RELAXED: Settings = {**DIVING, "use_objective_lb_search": True}
"""The same from below: the steadiest, and what raises the bound."""
PSEUDO_COSTS: Settings = {**DIVING, "search_branching": cp_model.PSEUDO_COST_SEARCH}
"""The relaxation, branching where the bound has risen most: finds the better weeks where a proof is long."""
CLAUSES: Settings = {"linearization_level": 0}
"""Clause learning alone: finds good weeks where the relaxation is weak, as it is for stations."""
CORES: Settings = {"linearization_level": 0, "optimize_with_core": True}
"""Unsatisfiable cores without a relaxation: proves at once some counts that the first does not prove at all."""
NEIGHBOURHOODS: Settings = {"use_lns_only": True, "interleave_search": True}
"""Large neighbourhoods alone: prove nothing, but find weeks that the others miss in many times as long."""
BRANCH_AND_CUT = None
"""By HiGHS on the rows of the model, see :mod:`scheduler.week.highs`: of 25 goals that the first turn does not prove it
proves 10, where the others together prove 4."""
Turn = tuple[Settings | None, float]
"""A way to search, and its share of the deterministic seconds."""

TURNS: tuple[Turn, ...] = (
    (RELAXED, 0.2),
    (BRANCH_AND_CUT, 0.2),
    (PSEUDO_COSTS, 0.3),
    (NEIGHBOURHOODS, 0.05),
    (RELAXED, 0.25),
    (CLAUSES, 0.1),
    (CORES, 1.0),
)
"""Ways in turn; the last has what is left of the deterministic seconds. After the first the
model may be tightened. Starting again costs what was learnt, so turns are long; but what one way does not prove in
a unit or two another often does."""
NODES = 300
"""Nodes of branch and cut for a deterministic second: it may take several, for its root has no limit."""
A_ROOT = 0.5
"""Deterministic seconds below which it has no turn."""
AS_HINTED: Settings = {**SHORT, "fix_variables_to_their_hinted_value": True}
"""Whether what was found elsewhere is a solution at all."""
AHEAD: Settings = {
    **DIVING,
    "search_branching": cp_model.LP_SEARCH,
    "hint_conflict_limit": 0,
    "add_lp_constraints_lazily": False,
    "new_constraints_batch_size": 50,
}
"""For a sum of goals: guided by reduced costs, the whole relaxation at once, no mending of a hint that is far off. On
45 such sums that takes 0.71 of the seconds of the first turn above. Of single goals it leaves more unproved."""
BRIEFLY = 0.025
"""Share of the deterministic seconds for that."""
BEFORE_PARTS = 0.15
"""Where an objective has parts the first turn is so short, then every part is bounded by itself. Where sessions of
several kinds have little in common, that proves in tenths of a unit what the whole does not in ten; where it does not,
little is lost."""
A_PART = 0.05
ANY_WEEK: Settings = {
    "linearization_level": 0,
    "search_branching": cp_model.PORTFOLIO_WITH_QUICK_RESTART_SEARCH,
}
"""Any week will do: quick restarts without a relaxation find one in an eighth of the time (measured). Where costs are
bounded or there is no week that is not so: there the relaxation is needed."""
SOON = 0.1
"""Deterministic seconds for that."""
LIGHT: Settings = {**SHORT, "symmetry_level": 0, "cut_level": 0}
"""For many small questions, of which each takes less time than preparing it at length would."""


def turns(*, briefly: bool, in_parts: bool) -> tuple[Turn, ...]:
    """The ways to the least of an objective, in turn.

    Args:
        briefly: one turn for a sum of goals.
        in_parts: the objective is a sum, whose parts are bounded after the first turn.
    """
    if briefly:
        return ((AHEAD, 1.0),)
    return ((RELAXED, BEFORE_PARTS), *TURNS[1:]) if in_parts else TURNS
