"""The outline of a week, and how a week is fitted to it.

In outline (``Week(instance, outline=True)``) exercises and rep zones that differ only in minutes or station are one, a
session takes any time between what its shortest and its longest exercises would, and the tiers that compare weeks with
the same work are left out. So every week has an outline at the same cost: what an outline is proved to come to, no week
can be below, and a week that is fitted to the best outline is a best week. Outlines are solved in half the time (in a
fifth where a catalogue is large), and nearly all can be fitted, nine in ten with just the sessions drawn.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from ortools.sat.python import cp_model

from scheduler.domain.plan import Role, Zone
from scheduler.week.expressions import Linear
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Grace, Limits, Outcome, search
from scheduler.week.variables import OptionVars, SessionVars

_CLOSE = Limits(deterministic_seconds=0.3)
"""With sessions as in outline nearly all is settled: a hundredth of this is enough, or there is no such week."""
_NEAR = Limits(deterministic_seconds=1.0)
_AFTER_A_CANCEL = 1.0
"""Seconds that are left for fitting then."""

Cost = tuple[Linear, int, int]
"""What is counted in a week, and between what it has to lie."""


class Fit:
    """A week beside an outline that was solved."""

    def __init__(
        self, week: Week, outline: Week, sketch: Outcome, deadline: float | None, cancel: Cancel | None = None
    ) -> None:
        self.week, self.sketch, self.deadline = week, sketch, deadline
        self.cancel = Grace(cancel, _AFTER_A_CANCEL) if cancel is not None else None
        self.pairs = list(zip(week.open_sessions, outline.open_sessions, strict=True))

    def weeks(self, costs: Sequence[Cost], goal: Linear) -> Iterator[Outcome]:
        """Searches for a week at these costs, ever wider, until one finds any. They go on after a cancel,
        for a while: without them there is no week to show.

        First with the sessions as they were drawn, and of those one with the least of a goal; then with the exercises
        that were drawn, at the times that were drawn; then at any time.
        """
        yield self._as_drawn(costs, goal)
        near = _at(self.near().model, costs)
        then = near.clone()
        self._hold_times(then)
        yield search(then, None, _NEAR, cancel=self.cancel, deadline=self.deadline)
        yield search(near, None, _NEAR, cancel=self.cancel, deadline=self.deadline)

    def closest(self, costs: Sequence[Cost], goal: Linear) -> Iterator[Outcome]:
        """Searches for a week that keeps fewer of the costs: ever fewer with the sessions as drawn; else with the
        exercises that were drawn half of them, or none."""
        for kept in reversed(range(len(costs))):
            yield self._as_drawn(costs[:kept], goal)
        near = self.near().model
        for kept in (len(costs) // 2, 0):
            yield search(_at(near.clone(), costs[:kept]), None, _CLOSE, cancel=self.cancel, deadline=self.deadline)

    def near(self) -> Week:
        """The week with no exercises but those like ones drawn: not all weeks, but few, and good ones among them."""
        near = self.week.twin()
        drawn = {key for _, s in self.pairs for o in s.options if self.sketch[o.use] for key in o.stimulus.members}
        for option in (o for own, _ in self.pairs for o in own.options):
            if option.stimulus.key not in drawn:
                near.model.add(option.uses == 0)
        return near

    def _as_drawn(self, costs: Sequence[Cost], goal: Linear) -> Outcome:
        drawn = _at(self.week.model.clone(), costs)
        self._hold_times(drawn)
        for own, outlined in self.pairs:
            held = _held(own, outlined)
            for option in outlined.options:
                drawn.add(sum(o.uses for o in held[id(option)]) == self.sketch[option.uses])
                drawn.add(sum(o.sets for o in held[id(option)]) == self.sketch[option.sets])
        return search(drawn, goal, _CLOSE, cancel=self.cancel, deadline=self.deadline, light=True)

    def _hold_times(self, model: cp_model.CpModel) -> None:
        for own, outlined in self.pairs:
            for spot, literal in own.spots.items():
                model.add(literal == self.sketch[outlined.spots[spot]])


def _at(model: cp_model.CpModel, costs: Sequence[Cost]) -> cp_model.CpModel:
    for cost in costs:
        model.add_linear_constraint(*cost)
    return model


def _held(own: SessionVars, drawn: SessionVars) -> dict[int, list[OptionVars]]:
    """By the identity of an option in outline, the options of the week that it stands for."""
    found: dict[tuple[str, Role, Zone], OptionVars] = {
        (key, option.role, zone): option
        for option in drawn.options
        for key in option.stimulus.members
        for zone in option.zones
    }
    held: dict[int, list[OptionVars]] = defaultdict(list)
    for option in own.options:
        held[id(found[option.stimulus.key, option.role, option.zone])].append(option)
    return held
