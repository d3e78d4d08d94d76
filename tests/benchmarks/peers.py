"""Other ways to the same week, for the benchmark: each has to find the same values, tier by tier.

``plain`` is the week model without the reformulations, as one would first write it for CP-SAT: one variable for every
exercise, zone and session, the solver's default parameters, one worker, a simple loop over the tiers; ``plain_all``
gives it a worker for each core. ``highs``, ``scip`` and ``cbc`` get that plain model in linear form
(:mod:`scheduler.week.linear`), tier after tier, each frozen at its value and started from the week before.
``highs_classes`` gets the linear form of our own model.

``core_highs`` shares nothing with our model: it is the independent programme of :mod:`tests.solving.milp`, which knows
tier 1 of briefs with the core rules only. It takes cases whose name begins with ``core:``.

All run on one thread unless named otherwise. A tier that a peer does not prove ends its run: what it would do after is
another problem. Values of the last tiers may differ: they compare weeks with the content found before.
"""

from __future__ import annotations

import math
import os
import resource
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from typing import Any, Protocol
from unittest.mock import patch

from ortools.sat.python import cp_model

from scheduler.domain.brief import Brief
from scheduler.domain.plan import Role, Zone
from scheduler.instance import Instance
from scheduler.planning import instance_of
from scheduler.rules import RULES, SAME_CONTENT_FROM, SAME_WORK_FROM, TIER_NAMES
from scheduler.week import sessions
from scheduler.week.classes import StimulusClass
from scheduler.week.climb import TIE_BREAK
from scheduler.week.goals import stages
from scheduler.week.linear import Programme, Row, expression, programme
from scheduler.week.model import Week
from scheduler.week.variables import OptionVars
from tests.benchmarks.measure import Record


@contextmanager
def unmerged() -> Iterator[None]:
    """Within it nothing is merged: every exercise is a class of its own, as if the brief named it, every zone too.

    Nor is anything said of whole exercises: the relaxation is as the rules alone would have it. An exercise's sets are
    one variable.
    """

    def everything(instance: Instance) -> frozenset[str]:
        return frozenset(instance.pool)

    def one_by_one(week: Week, stimulus: StimulusClass, zones: Sequence[Zone]) -> Iterator[tuple[Zone, ...]]:
        return ((zone,) for zone in zones)

    def nothing(*_: object, **__: object) -> None:
        pass

    with (
        patch("scheduler.week.classes._named", everything),
        patch.object(sessions, "_alike_zones", one_by_one),
        patch.object(sessions, "_sets", sessions._sets_as_one),
        patch.object(Week, "cover", nothing),
        patch.object(Week, "pack", nothing),
    ):
        yield


def solve_with(peer: str, brief: Brief, job: Mapping[str, Any]) -> Record:
    """The record of one brief solved by a peer."""
    found = PEERS[peer](brief, job)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    tiers = found["tiers"]
    proved = bool(tiers) and len(tiers) == found.pop("asked") and all(t["proved"] for t in tiers)
    if found["status"] == "impossible":
        proved = True
    return {"peak_mb": peak, "proved": proved, **found}


def _record(week: Week, status: str, tiers: list[Record], times: tuple[float, float, float]) -> Record:
    """``times``: when building began, when solving began, when it ended."""
    started, built, ended = times
    return {
        "status": status,
        "asked": len({rule.tier for rule in RULES}),
        "tiers": tiers,
        "same_work_from": SAME_WORK_FROM,
        "seconds": ended - started,
        "build_seconds": built - started,
        "solve_seconds": ended - built,
        **({"deterministic": count} if (count := sum(t.get("deterministic", 0) for t in tiers)) else {}),
        "variables": len(week.model.proto.variables),
        "constraints": len(week.model.proto.constraints),
        "classes": len(week.classes),
    }


# --- solvers ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Answer:
    """Value and bound without the constant; ``solution`` by column; value None without a solution."""

    value: int | None
    bound: float
    proved: bool
    infeasible: bool = False
    solution: Sequence[int] = ()
    deterministic: float = 0.0


class Solver(Protocol):
    """One solver with one model: rows are added between searches, the objective changes."""

    def add(self, row: Row) -> None: ...

    def minimise(self, terms: Mapping[int, int], hint: Sequence[int], seconds: float) -> Answer: ...


class CpSat:
    """CP-SAT with its default parameters, but for the seed and the number of workers."""

    def __init__(self, week: Week, workers: int) -> None:
        self.model, self.workers = week.model, workers

    def _sum(self, terms: Mapping[int, int]) -> Any:
        variables = [self.model.get_int_var_from_proto_index(column) for column in terms]
        return cp_model.LinearExpr.weighted_sum(variables, list(terms.values()))

    def add(self, row: Row) -> None:
        if not math.isinf(row.low):
            self.model.add(self._sum(row.terms) >= int(row.low))
        if not math.isinf(row.high):
            self.model.add(self._sum(row.terms) <= int(row.high))

    def minimise(self, terms: Mapping[int, int], hint: Sequence[int], seconds: float) -> Answer:
        self.model.clear_objective()
        self.model.minimize(self._sum(terms))
        self.model.clear_hints()
        self.model.proto.solution_hint.vars.extend(range(len(hint)))
        self.model.proto.solution_hint.values.extend(hint)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = self.workers
        solver.parameters.random_seed = 0
        solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(self.model)
        used = solver.response_proto.deterministic_time
        if status == cp_model.INFEASIBLE:
            return Answer(None, math.inf, proved=True, infeasible=True, deterministic=used)
        if status == cp_model.UNKNOWN:
            return Answer(None, 0.0, proved=False, deterministic=used)
        solution = list(solver.response_proto.solution)
        proved, bound = status == cp_model.OPTIMAL, solver.best_objective_bound
        return Answer(_value(terms, solution), bound, proved, solution=solution, deterministic=used)


class Highs:
    """HiGHS by its own interface."""

    def __init__(self, linear: Programme) -> None:
        import highspy

        self.highspy, self.model = highspy, highspy.Highs()
        self.columns = len(linear.lower)
        for name, value in {
            "output_flag": False,
            "threads": 1,
            "random_seed": 0,
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 0.5,  # all costs are whole
        }.items():
            self.model.setOptionValue(name, value)
        self.model.addVars(self.columns, list(map(float, linear.lower)), list(map(float, linear.upper)))
        whole = [highspy.HighsVarType.kInteger] * self.columns
        self.model.changeColsIntegrality(self.columns, list(range(self.columns)), whole)
        for row in linear.rows:
            self.add(row)

    def add(self, row: Row) -> None:
        columns, counts = list(row.terms), [float(c) for c in row.terms.values()]
        self.model.addRow(row.low, row.high, len(columns), columns, counts)

    def minimise(self, terms: Mapping[int, int], hint: Sequence[int], seconds: float) -> Answer:
        kinds = self.highspy.HighsModelStatus
        costs = [float(terms.get(n, 0)) for n in range(self.columns)]
        self.model.changeColsCost(self.columns, list(range(self.columns)), costs)
        self.model.setOptionValue("time_limit", seconds)
        if hint:
            start = self.highspy.HighsSolution()
            start.col_value = list(map(float, hint))
            self.model.setSolution(start)
        self.model.run()
        status, info = self.model.getModelStatus(), self.model.getInfo()
        if status in (kinds.kInfeasible, kinds.kUnboundedOrInfeasible):
            return Answer(None, math.inf, proved=True, infeasible=True)
        if math.isinf(info.objective_function_value) or not info.primal_solution_status:
            return Answer(None, info.mip_dual_bound, proved=False)
        solution = [round(v) for v in self.model.getSolution().col_value]
        if hint and _value(terms, solution) > round(info.objective_function_value):
            # HiGHS 1.16 sometimes hands back the start it was given in place of the optimum that it tells.
            self.model.clearSolver()
            return self.minimise(terms, (), seconds)
        return Answer(_value(terms, solution), info.mip_dual_bound, status == kinds.kOptimal, solution=solution)


class Wrapped:
    """SCIP or CBC as they come with OR-Tools."""

    def __init__(self, name: str, linear: Programme) -> None:
        from ortools.linear_solver import pywraplp

        self.pywraplp, self.solver = pywraplp, pywraplp.Solver.CreateSolver(name)
        self.solver.SetNumThreads(1)
        self.options = pywraplp.MPSolverParameters()
        self.options.SetDoubleParam(pywraplp.MPSolverParameters.RELATIVE_MIP_GAP, 0.0)
        self.columns = [self.solver.IntVar(a, b, "") for a, b in zip(linear.lower, linear.upper, strict=True)]
        for row in linear.rows:
            self.add(row)

    def add(self, row: Row) -> None:
        infinity = self.solver.infinity()
        low, high = max(row.low, -infinity), min(row.high, infinity)
        posted = self.solver.Constraint(low, high)
        for column, count in row.terms.items():
            posted.SetCoefficient(self.columns[column], count)

    def minimise(self, terms: Mapping[int, int], hint: Sequence[int], seconds: float) -> Answer:
        goal = self.solver.Objective()
        goal.Clear()
        for column, count in terms.items():
            goal.SetCoefficient(self.columns[column], count)
        goal.SetMinimization()
        if hint:
            self.solver.SetHint(self.columns, list(map(float, hint)))
        self.solver.SetTimeLimit(max(1, int(1000 * seconds)))
        status = self.solver.Solve(self.options)
        if status == self.solver.INFEASIBLE:
            return Answer(None, math.inf, proved=True, infeasible=True)
        if status not in (self.solver.OPTIMAL, self.solver.FEASIBLE):
            return Answer(None, 0.0, proved=False)
        solution = [round(column.solution_value()) for column in self.columns]
        return Answer(_value(terms, solution), goal.BestBound(), status == self.solver.OPTIMAL, solution=solution)


def _value(terms: Mapping[int, int], solution: Sequence[int]) -> int:
    return sum(count * solution[column] for column, count in terms.items())


def _plain(workers: int) -> Callable[[Brief, Mapping[str, Any]], Record]:
    return _by_tiers(lambda week: CpSat(week, workers))


def _milp(make: Callable[[Programme], Solver], *, merged: bool = False) -> Callable[..., Record]:
    return _by_tiers(lambda week: make(programme(week.model)), merged=merged)


def _by_tiers(make: Callable[[Week], Solver], *, merged: bool = False) -> Callable[..., Record]:
    def solve(brief: Brief, job: Mapping[str, Any]) -> Record:
        started = time.perf_counter()
        with nullcontext() if merged else unmerged():
            week = Week(instance_of(brief))
        solver = make(week)
        built = time.perf_counter()
        status, tiers = _tiers(week, solver, started + job["cap_seconds"])
        return _record(week, status, tiers, (started, built, time.perf_counter()))

    return solve


def _tiers(week: Week, solver: Solver, deadline: float) -> tuple[str, list[Record]]:
    """The tiers of the program, one after another, by another solver; one that is not proved ends the run."""
    tiers: list[Record] = []
    best: Sequence[int] = ()
    for tier in sorted({rule.tier for rule in RULES}):
        started = time.perf_counter()
        value = bound = 0
        proved, deterministic = True, 0.0
        if best and tier == SAME_WORK_FROM:
            for work in week.work:
                _hold(solver, work, best)
        if best and tier == SAME_CONTENT_FROM:
            for session in week.open_sessions:
                for alike in _by_class(session.options):
                    _hold(solver, sum(o.uses for o in alike), best)
                    _hold(solver, sum(o.sets for o in alike), best)
        if best and tier == TIE_BREAK:
            for option in (o for s in week.open_sessions for o in s.options):
                _hold(solver, option.uses, best)
                _hold(solver, option.sets, best)
        for goal in stages(week, tier):
            terms, constant = expression(goal)
            now = constant + _value(terms, best) if best else None
            if now != 0:
                answer = solver.minimise(terms, best, max(0.1, deadline - time.perf_counter()))
                if answer.infeasible and not best:
                    return "impossible", []
                if answer.value is None:
                    return "stopped", tiers
                deterministic += answer.deterministic
                best, now = answer.solution, answer.value + constant
                proved = proved and answer.proved
                bound += now if answer.proved else math.ceil(max(0.0, answer.bound + constant - 1e-6))
            value += now
            if terms:
                solver.add(Row(-math.inf, now - constant, terms))
        seconds = time.perf_counter() - started
        count = {"deterministic": deterministic} if deterministic else {}  # only CP-SAT has it
        found = {"tier": tier, "name": TIER_NAMES[tier], "value": value, "bound": bound, "proved": proved}
        tiers.append(found | {"seconds": seconds} | count)
        if not proved:
            return "stopped", tiers
    return "proved best", tiers


def _by_class(options: Iterable[OptionVars]) -> Iterable[list[OptionVars]]:
    """The options of a session by exercise and role, whatever their zones."""
    found: dict[tuple[int, Role], list[OptionVars]] = {}
    for option in options:
        found.setdefault((option.stimulus.index, option.role), []).append(option)
    return found.values()


def _hold(solver: Solver, amount: Any, best: Sequence[int]) -> None:
    terms, _ = expression(amount)
    value = _value(terms, best)
    solver.add(Row(value, value, terms))


# --- the independent programme ------------------------------------------------------------------------------------


def core(brief: Brief) -> Brief:
    """A brief cut down to what the independent programme knows: the core rules, tier 1, openings without a diary."""
    from tests.solving.milp import KNOWN, SWITCHED_OFF

    kept = {key: value for key, value in brief.rules.items() if key in KNOWN and key != "sessions_a_day"}
    # Recovery of muscles without a goal is a wish that the programme does not know.
    recovery = {**kept.get("recovery", {}), "others": "off"}
    rules = {**SWITCHED_OFF, **kept, "recovery": recovery, "coverage": {"lat_planes": False}}
    kinds = {key: kind.model_copy(update={"add_on": None}) for key, kind in brief.kinds.items()}
    pool = brief.exercises.model_copy(update={"wanted": (), "avoided": (), "most_per_week": {}, "least_distinct": {}})
    changes = {"rules": rules, "kinds": kinds, "exercises": pool, "busy": (), "pinned": (), "previous": ()}
    lifter = brief.lifter.model_copy(update={"cautions": ()})
    return brief.model_copy(update={**changes, "lifter": lifter, "not_before": None})


def _core_highs(brief: Brief, job: Mapping[str, Any]) -> Record:
    from tests.solving.milp import solve_core

    started = time.perf_counter()
    base: Record = {"asked": 1, "tiers": [], "build_seconds": 0.0}
    try:
        answer = solve_core(brief, seconds=job["cap_seconds"])
    except TimeoutError:
        return base | {"status": "stopped", "seconds": time.perf_counter() - started}
    seconds = time.perf_counter() - started
    base |= {"seconds": seconds, "variables": answer.columns, "constraints": answer.rows}
    if not answer.feasible:
        return base | {"status": "impossible"}
    tier = {
        "tier": 1,
        "name": TIER_NAMES[1],
        "value": answer.value,
        "bound": answer.value,
        "proved": True,
        "seconds": seconds,
    }
    return base | {"status": "proved best", "tiers": [tier]}


PEERS: dict[str, Callable[[Brief, Mapping[str, Any]], Record]] = {
    "plain": _plain(1),
    "plain_all": _plain(os.cpu_count() or 1),
    "highs": _milp(Highs),
    "highs_classes": _milp(Highs, merged=True),
    "scip": _milp(lambda linear: Wrapped("SCIP", linear)),
    "cbc": _milp(lambda linear: Wrapped("CBC", linear)),
    "core_highs": _core_highs,
}
