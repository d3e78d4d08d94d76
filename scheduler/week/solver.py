"""The one place that owns a solver: one model, one objective, one guarded outcome.

What was learnt of CP-SAT 9.15 and is kept to here: values are read only after a solution was found; the solver's own
signal handling is off; a stop is sent until it is heard; one worker with a fixed seed repeats. Where it does not end a
proof HiGHS has a turn (:mod:`scheduler.week.highs`).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, TypeVar

from ortools.sat.python import cp_model

from scheduler.week import highs, strategies
from scheduler.week.expressions import Linear, Literal

T = TypeVar("T")


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


class Grace(Cancel):
    """A flag that is raised some seconds after another: so long there is to end what was nearly done."""

    def __init__(self, cancel: Cancel, seconds: float) -> None:
        super().__init__()
        self._cancel, self._seconds = cancel, seconds
        self._heard: float | None = None

    def set(self) -> None:
        self._cancel.set()

    @property
    def is_set(self) -> bool:
        if self._heard is None:
            if not self._cancel.is_set:
                return False
            self._heard = time.perf_counter()
        return time.perf_counter() - self._heard >= self._seconds


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

    def __getitem__(self, term: Linear | Literal) -> int:
        """The value of a variable, a literal or a sum. Raises LookupError without a solution."""
        if not self.solution:
            raise LookupError("no solution to read from")
        if isinstance(term, int):
            return term
        if isinstance(term, cp_model.IntVar):
            return self.solution[term.index]
        flat = cp_model.FlatIntExpr(term)
        return int(flat.offset + sum(c * self.solution[v.index] for v, c in zip(flat.vars, flat.coeffs, strict=True)))


Progress = Callable[[int, int, float], None]
"""Called with best value, bound and wall-clock seconds whenever a better solution is found."""


class _Listener(cp_model.CpSolverSolutionCallback):
    """Tells of every solution better than the best that was told."""

    def __init__(self, progress: Progress, started: float) -> None:
        super().__init__()
        self._progress, self._started = progress, started
        self._best: int | None = None

    def on_solution_callback(self) -> None:
        value = round(self.objective_value)
        if self._best is None or value < self._best:
            self._best = value
            bound = max(0, round(self.best_objective_bound))
            self._progress(value, bound, time.perf_counter() - self._started)


_MOST = 1 << 40
"""Above every objective."""


def search(
    model: cp_model.CpModel,
    objective: Linear | None,
    limits: Limits,
    *,
    parts: Sequence[Linear] = (),
    tighten: Callable[[], None] | None = None,
    improve: Callable[[Outcome], Outcome] | None = None,
    hint: Sequence[int] = (),
    spare: Sequence[int] = (),
    cancel: Cancel | None = None,
    progress: Progress | None = None,
    deadline: float | None = None,
    assumptions: Sequence[Literal] = (),
    light: bool = False,
    briefly: bool = False,
    once: bool = False,
) -> Outcome:
    """Minimise an objective over a model, or only look for a solution.

    With an objective and one worker several strategies take turns, one of them another solver's, each beginning from
    the best solution and the best bound that are known: where one neither proves nor improves, another often does. That
    repeats.

    Args:
        objective: what to minimise, or None; None with assumptions.
        parts: what the objective is the sum of, if it is. Each is bounded by itself where the whole is not soon proved.
        tighten: posts what follows from the model, may add variables, and helps where the first turn ends unproved.
        improve: given what the first turn found, where that ends unproved: what is found near by, no worse.
        hint: a complete solution to start from.
        spare: a complete solution to go on from where the first turn finds none.
        cancel: stops the search; what was found by then is returned.
        progress: told of every better solution.
        deadline: ``time.perf_counter()`` at which to stop, or None.
        assumptions: literals taken to be true for this search; one worker, so that there is a core.
        light: one short presolve, no cuts: for many small questions, of which each takes less time than preparing it
            at length would. What has no objective is looked for without a relaxation first.
        briefly: one turn of a fortieth of the deterministic seconds: for what can be had otherwise.
        once: one turn, which raises the bound: for what a bound alone says something.

    Raises:
        RuntimeError: the model is invalid, which is a defect of this program.
    """
    started = time.perf_counter()
    if briefly:
        limits = replace(limits, deterministic_seconds=strategies.BRIEFLY * limits.deterministic_seconds)
    listener = _Listener(progress, started) if progress is not None else None
    act = _Act(model, objective, limits, cancel, listener, deadline, assumptions)
    if light and objective is None and not assumptions:
        soon = min(strategies.SOON, limits.deterministic_seconds)
        found = act.once({**strategies.LIGHT, **strategies.ANY_WEEK}, soon, hint)
        if found.verdict is not Verdict.UNKNOWN or act.ended:
            return found
        again = act.once(strategies.RELAXED, limits.deterministic_seconds - soon, hint)
        used = found.deterministic_seconds + again.deterministic_seconds
        return replace(again, deterministic_seconds=used, wall_seconds=time.perf_counter() - started)
    if objective is None or assumptions or light or once or limits.workers > 1:
        # Small questions are answered in two thirds of the time without the search from below (seven conflicts, mends).
        settings = {**strategies.DIVING, **strategies.LIGHT} if light else strategies.RELAXED
        return act.once(settings, limits.deterministic_seconds, hint)
    best = Outcome(Verdict.UNKNOWN, None, 0)
    used = 0.0
    in_parts = len(parts) > 1
    for number, (way, share) in enumerate(strategies.turns(briefly=briefly, in_parts=in_parts)):
        left = limits.deterministic_seconds - used
        if left <= 0 or act.ended:
            break
        lasts, start = min(left, share * limits.deterministic_seconds), best.solution or hint
        found = act.branch_and_cut(lasts, start, best) if way is None else act.once(way, lasts, start, best)
        used += found.deterministic_seconds
        hint = hint or spare
        best = _better(best, found)
        if number == 0 and in_parts and best.verdict not in (Verdict.OPTIMAL, Verdict.INFEASIBLE):
            bound, took = act.bounded(parts, best.solution or hint)
            used += took
            best = _better(best, replace(best, bound=bound))
        if number == 0 and improve is not None and best.verdict not in (Verdict.OPTIMAL, Verdict.INFEASIBLE):
            nearby = improve(best)
            used += nearby.deterministic_seconds
            best = _better(best, nearby)
        if best.verdict in (Verdict.OPTIMAL, Verdict.INFEASIBLE):
            break
        if number == 0 and tighten is not None:
            tighten()
    return replace(best, deterministic_seconds=used, wall_seconds=time.perf_counter() - started)


def _better(known: Outcome, found: Outcome) -> Outcome:
    """What two searches of one model have shown together."""
    if found.verdict in (Verdict.INFEASIBLE, Verdict.OPTIMAL):
        return found
    first = known if found.value is None or (known.value is not None and known.value <= found.value) else found
    bound = max(known.bound, found.bound)
    if first.value is not None and first.value <= bound:
        return replace(first, verdict=Verdict.OPTIMAL, bound=first.value)
    return replace(first, bound=bound)


@dataclass(frozen=True)
class _Act:
    """A model and an objective, and what ends the search for its least."""

    model: cp_model.CpModel
    objective: Linear | None
    limits: Limits
    cancel: Cancel | None
    listener: _Listener | None
    deadline: float | None
    assumptions: Sequence[Literal]

    @property
    def ended(self) -> bool:
        late = self.deadline is not None and time.perf_counter() >= self.deadline
        return late or (self.cancel is not None and self.cancel.is_set)

    def bounded(self, parts: Sequence[Linear], hint: Sequence[int]) -> tuple[int, float]:
        """A bound of a sum of parts, each bounded by itself, and the deterministic seconds that took."""
        total, used = 0, 0.0
        for part in parts:
            alone = replace(self, objective=part, listener=None)
            found = alone.once(strategies.RELAXED, strategies.A_PART * self.limits.deterministic_seconds, hint)
            total += found.bound
            used += found.deterministic_seconds
        return total, used

    def branch_and_cut(self, deterministic_seconds: float, hint: Sequence[int], known: Outcome) -> Outcome:
        """What HiGHS finds, as far as the model agrees: it computes in floating point."""
        nothing = Outcome(Verdict.UNKNOWN, None, 0)
        if self.objective is None or deterministic_seconds < strategies.A_ROOT:
            return nothing
        started = time.perf_counter()
        found = highs.least(
            self.model,
            self.objective,
            nodes=round(strategies.NODES * deterministic_seconds),
            hint=hint,
            seconds=None if self.deadline is None else max(0.01, self.deadline - started),
            run=lambda work, stop: _heard(work, stop, self.cancel),
        )
        if found is None:
            return nothing
        used, bound, held = found.deterministic_seconds, found.bound, nothing
        if found.solution:
            held = self.once(strategies.AS_HINTED, deterministic_seconds, found.solution, known)
            used += held.deterministic_seconds
        reached = [replace(held, solution=tuple(s))[self.objective] for s in (hint, held.solution) if s]
        if bound > min(reached, default=bound):
            bound = 0  # above what there is: it is wrong
        verdict = Verdict.UNKNOWN if held.value is None else Verdict.FEASIBLE
        return Outcome(verdict, held.value, bound, held.solution, used, time.perf_counter() - started)

    def once(
        self,
        settings: Mapping[str, Any],
        deterministic_seconds: float,
        hint: Sequence[int],
        known: Outcome | None = None,
    ) -> Outcome:
        """One run of the solver, between the bounds that are known."""
        model, limits = self.model, self.limits
        if self.cancel is not None and self.cancel.is_set:
            return Outcome(Verdict.UNKNOWN, None, 0)
        model.clear_objective()
        if self.objective is not None:
            model.minimize(self.objective)
            if known is not None and (known.bound or known.value is not None):
                most = _MOST if known.value is None else known.value
                model.proto.objective.domain.extend((known.bound, most))
        model.clear_assumptions()
        if self.assumptions:
            model.add_assumptions(self.assumptions)
        model.clear_hints()
        if hint:
            model.proto.solution_hint.vars.extend(range(len(hint)))
            model.proto.solution_hint.values.extend(hint)
        solver = cp_model.CpSolver()
        parameters = solver.parameters
        parameters.num_workers = 1 if self.assumptions else limits.workers
        parameters.random_seed = limits.seed
        parameters.catch_sigint_signal = False
        parameters.max_deterministic_time = deterministic_seconds
        for name, value in settings.items():
            setattr(parameters, name, value)
        if self.deadline is not None:
            parameters.max_time_in_seconds = max(0.01, self.deadline - time.perf_counter())
        started = time.perf_counter()
        status = _heard(lambda: solver.solve(model, self.listener), solver.stop_search, self.cancel)
        if status == cp_model.MODEL_INVALID:
            raise RuntimeError(f"the week model is invalid: {model.validate()}")
        used = solver.response_proto.deterministic_time
        wall = time.perf_counter() - started
        if status == cp_model.INFEASIBLE:
            # A core may hold literals of the solver's own: only those that were assumed mean something.
            named = set(solver.sufficient_assumptions_for_infeasibility()) if self.assumptions else set()
            core = tuple(n for n, literal in enumerate(self.assumptions) if literal.index in named)
            return Outcome(Verdict.INFEASIBLE, None, 0, (), used, wall, core)
        bound = max(0, -int(-solver.best_objective_bound // 1)) if self.objective is not None else 0
        if status == cp_model.UNKNOWN:
            return Outcome(Verdict.UNKNOWN, None, bound, (), used, wall)
        solution = tuple(solver.response_proto.solution)
        value = round(solver.objective_value) if self.objective is not None else 0
        if status == cp_model.OPTIMAL:
            return Outcome(Verdict.OPTIMAL, value, value, solution, used, wall)
        return Outcome(Verdict.FEASIBLE, value, bound, solution, used, wall)


def _heard(work: Callable[[], T], stop: Callable[[], None], cancel: Cancel | None) -> T:
    """Work in a thread of its own, so that Ctrl-C and a cancel are heard at once; a stop is sent until it is heard."""
    result: list[T] = []
    failure: list[BaseException] = []
    # An event, not join(): a Ctrl-C inside Thread.join() makes a running thread look finished (CPython 3.11).
    done = threading.Event()

    def working() -> None:
        try:
            result.append(work())
        except BaseException as error:
            failure.append(error)
        finally:
            done.set()

    thread = threading.Thread(target=working, name="solver", daemon=True)
    thread.start()
    while not done.is_set():
        try:
            done.wait(0.05)
        except KeyboardInterrupt:
            if cancel is None:
                stop()
                done.wait(5)
                raise
            cancel.set()
        if cancel is not None and cancel.is_set:
            stop()
    if failure:
        raise failure[0]
    return result[0]
