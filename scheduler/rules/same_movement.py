"""A session holds one exercise of a movement, where that does."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Look, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week
    from scheduler.week.variables import OptionVars


class SameMovementRule(Rule[Setting]):
    """Exercises of a session beyond the first of each movement, over the sessions not yet done: as few as can be,
    beside as few exercises (:mod:`scheduler.rules.few_exercises`).

    One movement: the same pattern for the same muscles, trained directly; so dips with and without a disc, lying and
    seated leg curls. One switch. Measure: exercises. Common practice: a second exercise is worth its place by what it
    adds, else the first one gets more sets.
    """

    key = "same_movement"
    title = "One exercise a movement"
    meaning = "A session holds no second exercise of a movement where another serves as well."
    formula = "minimise sum over s, movement of max(0, |exercises(s) of the movement| - 1)"
    default_mode = Mode.WISH
    tier = 4
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "One exercise a movement in a session.", "{} more", count_of("exercise"))

    def looks_at(self, instance: Instance) -> Look:
        """The movement, where it has several exercises."""
        several = Counter(_movement(row) for row in instance.pool.values())
        return lambda exercise: found if several[found := _movement(instance.pool[exercise])] > 1 else None

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        further = 0
        for session in facts.planned:
            held = [_movement(i.exercise) for i in session.items if i.role is not Role.ACTIVATION]
            further += len(held) - len(set(held))
        return {self.id(""): further} if further else {}

    def post(self, week: Week) -> None:
        movement = self.looks_at(week.instance)
        further = []
        for session in week.open_sessions:
            movements: dict[Hashable, list[OptionVars]] = {}
            for option in session.options:
                # Exercises that are alone in their movements may be of one class, two of which are no repeat.
                if (own := movement(option.stimulus.key)) is not None:
                    movements.setdefault(own, []).append(option)
            for options in movements.values():
                most = sum(o.most_uses for o in options) - 1
                if most > 0:
                    more = week.model.new_int_var(0, most, f"{session.label} further {options[0].stimulus.key}")
                    week.model.add(more >= sum(o.uses for o in options) - 1)
                    further.append(more)
        week.model.add(sum(further) <= week.slack(self.id(""), 100 * len(week.sessions)))


def _movement(row: Exercise) -> Hashable:
    return row.pattern, frozenset(row.direct)
