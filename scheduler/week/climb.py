"""The tiers of one model, solved one after another, each frozen before the next begins."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from ortools.sat.python import cp_model

from scheduler.domain.plan import Role, TierResult
from scheduler.instance import SessionFacts
from scheduler.rules import RULES, SAME_CONTENT_FROM, SAME_WORK_FROM, TIER_NAMES
from scheduler.week.decode import decode
from scheduler.week.expressions import Linear
from scheduler.week.goals import Summand, goals, objective, parts, together
from scheduler.week.lengths import tell_time_by_zone
from scheduler.week.model import Week
from scheduler.week.neighbourhoods import improved
from scheduler.week.outline import Fit
from scheduler.week.solver import Cancel, Limits, Outcome, Progress, Verdict, search
from scheduler.week.unavoidable import Unavoidable
from scheduler.week.variables import OptionVars

TIE_BREAK = max(TIER_NAMES)
EARLY = tuple(sorted({rule.tier for rule in RULES if rule.tier < SAME_WORK_FROM}))
LATE = tuple(sorted({rule.tier for rule in RULES if rule.tier >= SAME_WORK_FROM}))

_TO_REACH = 0.15
"""Deterministic seconds for a week at a floor."""
_UNAVOIDABLE = 0.02
"""Share of the deterministic seconds for what all weeks break alike, where goals together are not soon proved."""
_UNAVOIDABLE_AT_LENGTH = 0.1
"""The same where one goal is not."""
_MOSTLY = 0.9
"""Where so much of the breaches is known to be unavoidable, goals are tried together once more."""
_AT_ONCE = 0.01
"""Deterministic seconds in which only that is shown which the relaxation sees by itself."""
_QUICK = Limits(deterministic_seconds=1.0)

TierProgress = Callable[[int, str, int, int, float], None]
"""Called with tier, its name, best value, bound, seconds."""


@dataclass(frozen=True)
class Solved:
    """What the tiers came to.

    Attributes:
        verdict: OPTIMAL when every tier is proved; FEASIBLE with a plan but not every proof; INFEASIBLE; UNKNOWN.
        sessions: the week, done sessions included; empty without a plan.
        tiers: one result a tier that was reached.
        seconds: wall-clock seconds a tier; what tiers took together stands at the first of them.
        deterministic_seconds: the solver's deterministic time a tier, likewise.
        build_seconds: wall-clock seconds in which models were built and nothing was searched.
    """

    verdict: Verdict
    sessions: tuple[SessionFacts, ...]
    tiers: tuple[TierResult, ...]
    seconds: tuple[float, ...]
    deterministic_seconds: tuple[float, ...]
    stopped: bool = False
    build_seconds: float = 0.0


@dataclass
class _Clock:
    """Wall-clock and deterministic seconds: those of every tier, and those spent on the tier to come."""

    tiers: list[tuple[float, float]] = field(default_factory=list)
    wall: float = 0.0
    deterministic: float = 0.0

    def spend(self, outcome: Outcome) -> None:
        self.wall += outcome.wall_seconds
        self.deterministic += outcome.deterministic_seconds

    def lap(self) -> None:
        self.tiers.append((self.wall, self.deterministic))
        self.wall = self.deterministic = 0.0

    def add(self, other: _Clock) -> None:
        """What another climb took in vain belongs to the tier to come."""
        for wall, deterministic in (*other.tiers, (other.wall, other.deterministic)):
            self.wall += wall
            self.deterministic += deterministic


@dataclass
class Climb:
    """The tiers of one model, one after another.

    Attributes:
        best: the best week so far.
        results: one a tier that was reached.
        frozen: bound and value of every goal that was reached.
        started_well: whether it began from a good week, not just any.
        ahead: proved values of goals that come next, each with its tier.
        looks_ahead: whether goals are still tried together.
        broken: of tiers proved above 0, what is known of their breaches.
    """

    week: Week
    limits: Limits
    cancel: Cancel | None
    progress: TierProgress | None
    deadline: float | None
    best: Outcome = field(default_factory=lambda: Outcome(Verdict.UNKNOWN, None, 0))
    results: list[TierResult] = field(default_factory=list)
    frozen: list[tuple[int, int]] = field(default_factory=list)
    started_well: bool = False
    ahead: list[tuple[int, int]] = field(default_factory=list)
    looks_ahead: bool = True
    broken: list[Unavoidable] = field(default_factory=list)
    clock: _Clock = field(default_factory=_Clock)

    def begin(self, floors: Mapping[int, int]) -> bool:
        """Look for a week that breaks no wish, as most can, else for any that keeps the musts.

        That there is none of the first, or one of the second, is found in a hundredth of the time that a best one
        takes. Where nothing is known of later tiers, of the weeks that break no wish at once a best one is looked for.
        """
        wishes = objective(self.week, EARLY[0])
        later = [] if floors else together(self.week, EARLY[1:])
        if later:
            if self._least_of(later, self._with_at_most(wishes, 0)):
                return True
        elif not isinstance(wishes, int) and self._reach(wishes, 0):
            return True
        self.best = search(self.week.model, None, self.limits, cancel=self.cancel, deadline=self.deadline, light=True)
        self.clock.spend(self.best)
        return bool(self.best.solution)

    def fit(self, sketch: Climb, floors: Mapping[int, int]) -> None:
        """Fit a week to an outline, and go on from there as if the tiers had been solved here.

        Where none fits, a good week is looked for among those with like exercises.
        """
        early = [goal for tier in EARLY for goal in goals(self.week, tier)]
        costs = [(goal, bound, value) for goal, (bound, value) in zip(early, sketch.frozen, strict=True)]
        stations = objective(self.week, SAME_WORK_FROM)
        fit = Fit(self.week, sketch.week, sketch.best, self.deadline, self.cancel)
        found = self._first(fit.weeks(costs, stations))
        if found is None:
            # Of the outlines at these costs a short one: where it was time that did not fit, it does more often.
            minutes = sum(session.ticks for session in sketch.week.open_sessions)
            shorter = self._first([sketch.least(minutes)])
            if shorter is not None:
                fit = Fit(self.week, sketch.week, shorter, self.deadline, self.cancel)
                found = self._first(fit.weeks(costs, stations))
        if found is not None:
            for cost in costs:
                self.week.model.add_linear_constraint(*cost)
            self.best, self.results, self.clock.tiers = found, sketch.results, sketch.clock.tiers
            return
        self.clock.add(sketch.clock)
        found = self._first(fit.closest(costs, stations))
        if found is not None:
            near = Climb(fit.near(), _QUICK, self.cancel, None, self.deadline, best=found, started_well=True)
            near.go(EARLY, joined(floors, sketch.floors()))
            self.clock.add(near.clock)
            # The near week may have been told more, with variables of its own: they come after those of this one.
            ours = near.best.solution[: len(self.week.model.proto.variables)]
            self.best, self.started_well = replace(near.best, solution=ours), True

    def least(self, goal: Linear, progress: Progress | None = None, model: cp_model.CpModel | None = None) -> Outcome:
        """The least of any goal, from the best week so far, or how far that comes in a short while.

        Args:
            model: this week's, or a clone in which fewer weeks are.
        """
        return search(
            model or self.week.model,
            goal,
            self.limits,
            hint=self.best.solution,
            cancel=self.cancel,
            progress=progress,
            deadline=self.deadline,
            briefly=True,
        )

    def _first(self, searches: Iterable[Outcome]) -> Outcome | None:
        """The first that finds a week."""
        for found in searches:
            self.clock.spend(found)
            if found.solution:
                return found
        return None

    def floors(self) -> dict[int, int]:
        """What no week can be below, tier by tier; see :func:`solve_week`."""
        found = {}
        for result in self.results:
            found[result.tier] = result.bound
            if not result.proved:
                break
        return found

    def go(self, tiers: Iterable[int], floors: Mapping[int, int]) -> None:
        """Solve tiers, beginning from a week. Floors hold as long as every tier comes to its own."""
        for tier in tiers:
            if tier == SAME_WORK_FROM:
                for work in self.week.work:
                    self.week.model.add(work == self.best[work])
            if tier == SAME_CONTENT_FROM:
                _keep_content(self.week, self.best)
            if tier == TIE_BREAK:
                # Zones are settled too: only the times still move.
                for option in (o for s in self.week.open_sessions for o in s.options):
                    self.week.model.add(option.uses == self.best[option.uses])
                    self.week.model.add(option.sets == self.best[option.sets])
            result = self._tier(tier, floors.get(tier))
            if result.value != floors.get(tier):
                floors = {}
            self.results.append(result)
            self.clock.lap()
            if result.proved and result.value and tier < SAME_WORK_FROM:
                self.broken.append(Unavoidable.of(self.week, tier, self.best))

    def _tier(self, tier: int, floor: int | None) -> TierResult:
        """Solve one tier and freeze it."""
        todo = goals(self.week, tier)
        alone = len(todo) == 1
        if todo and floor is None and tier in EARLY[1:] and self.looks_ahead and not self.ahead:
            self._look_ahead(tier)
        known = floor if alone and floor else 0
        value = bound = 0
        proved = True
        for goal in todo:
            if self.ahead and self.ahead[0][0] == tier:
                low = high = self.ahead.pop(0)[1]
            else:
                low, high = self._goal(goal, known, tier)
            # What comes after a stage without proof could only be shown best beside it: it adds nothing to the bound.
            bound += low if proved else 0
            value += high
            proved = proved and low == high
            # The bound too: that one exercise less is not enough says much of sets.
            self.week.model.add_linear_constraint(goal, low, high)
            self.frozen.append((low, high))
        return TierResult(tier=tier, name=TIER_NAMES[tier], value=value, bound=bound, proved=proved)

    def _look_ahead(self, tier: int) -> None:
        """Minimise the goals from this tier to the last early one as one weighted sum, for a short while.

        No sum of later goals outweighs one unit of an earlier one, so goals are proved in their order as far as value
        and bound of the sum agree. Most are: the cuts that one goal needs the next needs too, and weeks that are good
        for one goal only are not gone through. Where some are not, the week that was found is a good one to begin with.
        It may be the breaches of earlier tiers that keep the bound low: then it is asked how much of them all weeks
        have in common, and tried once more where that is most.
        """
        if not (found := together(self.week, (early for early in EARLY if early >= tier))):
            return
        self.looks_ahead = self._least_of(found, self.week.model) and self.looks_ahead
        if not self.looks_ahead and self.broken:
            news = [self._ask(broken, _UNAVOIDABLE) for broken in self.broken]
            if any(news) and all(broken.share >= _MOSTLY for broken in self.broken):
                proved, self.ahead = self.ahead, []
                self.looks_ahead = self._least_of(found, self.week.model) and self.looks_ahead
                self.ahead = max(self.ahead, proved, key=len)

    def _least_of(self, summands: Sequence[Summand], model: cp_model.CpModel) -> bool:
        """Minimise the sum in a model of weeks that are best in the tiers before; whether that finds a week."""
        tier, weight, _ = summands[0]
        total = sum(weight * goal for _, weight, goal in summands)
        found = self.least(total, _reporter(self.progress, tier, TIER_NAMES[tier], weight), model)
        self.clock.spend(found)
        if found.value is None:
            return False
        value = found.value
        if self.best.solution and self.best[total] < value:
            value = self.best[total]
        else:
            self.best = found
        for early, unit, goal in summands:
            if value // unit != found.bound // unit:
                break
            self.ahead.append((early, self.best[goal]))
        self.looks_ahead = len(self.ahead) == len(summands)
        return True

    def _goal(self, goal: Linear, floor: int, tier: int) -> tuple[int, int]:
        """Bound and value of the least of one goal; the week that has it is then ``best``."""
        if self.best[goal] < floor:
            raise RuntimeError(f"tier {tier} lies below what no week can be below: a defect of this program")
        if self.best[goal] <= floor:
            # Already at the least that a sum of breaches can be, or at the floor.
            return floor, floor
        if floor and self._reach(goal, floor):
            return floor, floor
        if floor:
            self.week.model.add(goal >= floor)
        outcome = search(
            self.week.model,
            goal,
            self.limits,
            parts=parts(self.week, tier),
            tighten=self._tell_more,
            improve=partial(self._improve, goal),
            # Any week is no good start, only better than none.
            hint=self.best.solution if self.results or self.started_well else (),
            spare=self.best.solution,
            cancel=self.cancel,
            progress=_reporter(self.progress, tier, TIER_NAMES[tier]),
            deadline=self.deadline,
        )
        self.clock.spend(outcome)
        if outcome.verdict is Verdict.INFEASIBLE:
            raise RuntimeError(f"tier {tier} lost the solution of the tier before: a defect of the solver or the model")
        if outcome.solution and outcome[goal] <= self.best[goal]:
            self.best = outcome
        return max(floor, outcome.bound), self.best[goal]

    def _improve(self, goal: Linear, found: Outcome) -> Outcome:
        """What is near the best week so far, or near what a search has found since."""
        best = found if found.solution and found[goal] <= self.best[goal] else self.best
        known = replace(best, verdict=Verdict.FEASIBLE, value=best[goal], bound=found.bound)
        return improved(self.week, goal, known, self.limits, cancel=self.cancel, deadline=self.deadline)

    def _tell_more(self) -> None:
        """What follows from the model and helps a proof that does not soon end."""
        tell_time_by_zone(self.week)
        for broken in self.broken:
            self._ask(broken, _UNAVOIDABLE_AT_LENGTH)

    def _ask(self, broken: Unavoidable, share: float) -> bool:
        """Ask what all weeks that are left break alike, and tell it to the week where it is news; whether it is."""
        if broken.share == 1:
            return False
        limits = replace(self.limits, deterministic_seconds=share * self.limits.deterministic_seconds)
        model, common = broken.question()
        found = search(model, common, limits, cancel=self.cancel, deadline=self.deadline, once=True)
        self.clock.spend(found)
        if news := found.deterministic_seconds > _AT_ONCE:
            broken.tell(found.bound)
        return news

    def _reach(self, goal: Linear, floor: int) -> bool:
        """Whether a week at the floor is soon found: a search for any such week is far quicker than one for the best.

        So it is tried where there may be one: in the first tier at 0, in others at what is known of them.
        """
        model = self._with_at_most(goal, floor)
        limits = replace(self.limits, deterministic_seconds=min(_TO_REACH, self.limits.deterministic_seconds))
        found = search(model, None, limits, cancel=self.cancel, deadline=self.deadline)
        self.clock.spend(found)
        if found.solution:
            self.best = found
        return bool(found.solution)

    def _with_at_most(self, goal: Linear, most: int) -> cp_model.CpModel:
        model = self.week.model.clone()
        model.add_linear_constraint(goal, 0, most)
        return model

    def solved(self) -> Solved:
        """What the tiers came to, or that no week was found."""
        stopped = self.cancel is not None and self.cancel.is_set
        if not self.best.solution:
            return Solved(self.best.verdict, (), (), (self.clock.wall,), (self.clock.deterministic,), stopped)
        proved = all(r.proved for r in self.results)
        wall, deterministic = zip(*self.clock.tiers, strict=True)
        verdict = Verdict.OPTIMAL if proved else Verdict.FEASIBLE
        return Solved(verdict, decode(self.week, self.best), tuple(self.results), wall, deterministic, stopped)


def joined(floors: Mapping[int, int], found: Mapping[int, int]) -> dict[int, int]:
    """Floors that were known, and those that were found since, which are no lower.

    What was known of a tier holds where every tier before comes to its floor as it was known: so it goes where one of
    them was raised.
    """
    both: dict[int, int] = {}
    as_known = True
    for tier in EARLY:
        if tier in found:
            both[tier] = found[tier]
            as_known = as_known and found[tier] == floors.get(tier)
        elif as_known and tier in floors:
            both[tier] = floors[tier]
    return both


def _keep_content(week: Week, best: Outcome) -> None:
    """From here on each session keeps its exercises and sets; their rep zones may still change."""
    for session in week.open_sessions:
        groups: dict[tuple[int, Role], list[OptionVars]] = {}
        for option in session.options:
            groups.setdefault((option.stimulus.index, option.role), []).append(option)
        for options in groups.values():
            week.model.add(sum(o.uses for o in options) == sum(best[o.uses] for o in options))
            week.model.add(sum(o.sets for o in options) == sum(best[o.sets] for o in options))


def _reporter(progress: TierProgress | None, tier: int, name: str, weight: int = 1) -> Progress | None:
    """Tells of a goal, which the objective counts with a weight."""
    if progress is None:
        return None
    return lambda value, bound, elapsed: progress(tier, name, value // weight, bound // weight, elapsed)
