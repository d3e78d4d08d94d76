"""No more exercises than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class FewExercisesRule(Rule[Setting]):
    """Exercises of each session not yet done, add-ons included, summed over the week: as few as can be.

    One switch. Measure: exercises. Each is set up, warmed up for and learnt; the count being small and whole, the
    solver also proves it fast.
    """

    key = "few_exercises"
    title = "Few exercises"
    meaning = "No more exercises than the week needs."
    formula = "minimise sum over s of |exercises(s)|"
    default_mode = Mode.WISH
    tier = 4
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Few exercises.", "{} in all", count_of("exercise"))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        exercises = sum(item.role is not Role.ACTIVATION for s in facts.planned for item in s.items)
        return {self.id(""): exercises} if exercises else {}

    def post(self, week: Week) -> None:
        uses = [o.uses for s in week.open_sessions for o in s.options]
        week.model.add(sum(uses) <= week.slack(self.id(""), 100 * len(week.sessions)))
