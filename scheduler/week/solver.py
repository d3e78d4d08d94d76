"""The one place that owns a solver: one model, one objective, one guarded outcome.

What was learnt of CP-SAT 9.15 and is kept to here: values are read only after a solution was found; the solver's own
signal handling is off; a stop is sent until it is heard; one worker with a fixed seed repeats.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from ortools.sat.python import cp_model

from scheduler.week.expressions import Linear, Literal


class Verdict(StrEnum):
    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Limits:
    """How long to search.

    Attributes:
        deterministic_seconds: budget of deterministic time a tier; the same on every machine.
        wall_seconds: budget of wall-clock seconds for the whole solve, or None. Ends that come by it do not repeat.
        seed: the solver's seed.
        workers: 1 repeats; more is a portfolio that does not.
    """

    deterministic_seconds: float = 5.0
    wall_seconds: float | None = None
    seed: int = 0
    workers: int = 1


class Cancel:
    """A flag that stops a running search, and keeps any later one from starting."""

    def __init__(self) -> None:
        self._event = threading.Event()

    def set(self) -> None:
        self._event.set()

    @property
    def is_set(self) -> bool:
        return self._event.is_set()


@dataclass(frozen=True)
class Outcome:
    """What a search found.

    Attributes:
        verdict: proved or not.
        value: objective of the best solution; None without one.
        bound: proved lower bound of the objective.
        solution: a value for every variable of the model, in its order; empty without a solution.
        deterministic_seconds: deterministic time used.
        core: positions of assumptions that cannot hold together, where the search was under assumptions and found
            none that can; empty when the model clashes without them. Not minimal.
    """

    verdict: Verdict
    value: int | None
    bound: int
    solution: tuple[int, ...] = ()
    deterministic_seconds: float = 0.0
    wall_seconds: float = 0.0
    core: tuple[int, ...] = ()

    def __getitem__(self, var: Literal) -> int:
        if not self.solution:
            raise LookupError("no solution to read from")
        index: int = var.index
        return self.solution[index] if index >= 0 else 1 - self.solution[-index - 1]


Progress = Callable[[int, int, float], None]
"""Called with best value, bound and wall-clock seconds whenever a better solution is found."""


@dataclass
class _Listener(cp_model.CpSolverSolutionCallback):
    progress: Progress | None
    started: float = field(default_factory=time.perf_counter)

    def __post_init__(self) -> None:
        super().__init__()

    def on_solution_callback(self) -> None:
        if self.progress is not None:
            bound = max(0, round(self.best_objective_bound))
            self.progress(round(self.objective_value), bound, time.perf_counter() - self.started)


def search(
    model: cp_model.CpModel,
    objective: Linear | None,
    limits: Limits,
    *,
    hint: Sequence[int] = (),
    cancel: Cancel | None = None,
    progress: Progress | None = None,
    deadline: float | None = None,
    assumptions: Sequence[Literal] = (),
    light: bool = False,
) -> Outcome:
    """Minimise an objective over a model, or only look for a solution.

    Args:
        objective: what to minimise, or None; None with assumptions.
        hint: a complete solution to start from.
        cancel: stops the search; what was found by then is returned.
        progress: told of every better solution.
        deadline: ``time.perf_counter()`` at which to stop, or None.
        assumptions: literals taken to be true for this search; one worker, so that there is a core.
        light: one short presolve, no cuts: for many small questions, of which each takes less time than preparing it
            at length would.

    Raises:
        RuntimeError: the model is invalid, which is a defect of this program.
    """
    if cancel is not None and cancel.is_set:
        return Outcome(Verdict.UNKNOWN, None, 0)
    model.clear_objective()
    if objective is not None:
        model.minimize(objective)
    model.clear_assumptions()
    if assumptions:
        model.add_assumptions(assumptions)
    model.clear_hints()
    if hint:
        model.proto.solution_hint.vars.extend(range(len(hint)))
        model.proto.solution_hint.values.extend(hint)
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1 if assumptions else limits.workers
    parameters.random_seed = limits.seed
    parameters.catch_sigint_signal = False
    parameters.max_deterministic_time = limits.deterministic_seconds
    parameters.linearization_level = 2
    if light:
        parameters.max_presolve_iterations = 1
        parameters.cp_model_probing_level = 0
        parameters.symmetry_level = 0
        parameters.cut_level = 0
        if objective is None and not assumptions:
            # Any week will do: quick restarts without a relaxation find one in an eighth of the time (measured).
            # Where costs are bounded that is not so: there the relaxation is needed.
            parameters.linearization_level = 0
            parameters.search_branching = cp_model.PORTFOLIO_WITH_QUICK_RESTART_SEARCH
    if deadline is not None:
        parameters.max_time_in_seconds = max(0.01, deadline - time.perf_counter())
    listener = _Listener(progress)
    status = _run(solver, model, listener, cancel)
    if status == cp_model.MODEL_INVALID:
        raise RuntimeError(f"the week model is invalid: {model.validate()}")
    used = solver.response_proto.deterministic_time
    wall = time.perf_counter() - listener.started
    if status == cp_model.INFEASIBLE:
        # A core may hold literals of the solver's own: only those that were assumed mean something.
        named = set(solver.sufficient_assumptions_for_infeasibility()) if assumptions else set()
        core = tuple(n for n, literal in enumerate(assumptions) if literal.index in named)
        return Outcome(Verdict.INFEASIBLE, None, 0, (), used, wall, core)
    if status == cp_model.UNKNOWN:
        return Outcome(Verdict.UNKNOWN, None, 0, (), used, wall)
    solution = tuple(solver.response_proto.solution)
    value = round(solver.objective_value) if objective is not None else 0
    if status == cp_model.OPTIMAL:
        return Outcome(Verdict.OPTIMAL, value, value, solution, used, wall)
    bound = -int(-solver.best_objective_bound // 1) if objective is not None else 0
    return Outcome(Verdict.FEASIBLE, value, max(0, bound), solution, used, wall)


def _run(
    solver: cp_model.CpSolver, model: cp_model.CpModel, listener: _Listener, cancel: Cancel | None
) -> cp_model.CpSolverStatus:
    """Solve in a thread of its own, so that Ctrl-C and a cancel are heard at once; a stop is sent until it is heard."""
    result: list[cp_model.CpSolverStatus] = []
    failure: list[BaseException] = []
    # An event, not join(): a Ctrl-C inside Thread.join() makes a running thread look finished (CPython 3.11).
    done = threading.Event()

    def work() -> None:
        try:
            result.append(solver.solve(model, listener))
        except BaseException as error:
            failure.append(error)
        finally:
            done.set()

    thread = threading.Thread(target=work, name="solver", daemon=True)
    thread.start()
    while not done.is_set():
        try:
            done.wait(0.05)
        except KeyboardInterrupt:
            if cancel is None:
                solver.stop_search()
                done.wait(5)
                raise
            cancel.set()
        if cancel is not None and cancel.is_set:
            solver.stop_search()
    if failure:
        raise failure[0]
    return result[0]
