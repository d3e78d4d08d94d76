"""No more sets than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class FewSetsRule(Rule[Setting]):
    """Working sets of each session not yet done, add-ons included, summed over the week: as few as can be.

    One switch. Measure: sets. They are what a session's minutes go to; with the fewest, none is above the aims in vain.
    """

    key = "few_sets"
    title = "Few sets"
    meaning = "No more sets, and so no longer sessions, than the week needs."
    formula = "minimise sum over s, e in s of sets(s, e)"
    default_mode = Mode.WISH
    tier = 5
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Few sets.", "{} in all", count_of("set"))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        sets = sum(item.sets for s in facts.planned for item in s.items if item.role is not Role.ACTIVATION)
        return {self.id(""): sets} if sets else {}

    def post(self, week: Week) -> None:
        week.count(self.id(""), ((s, o.sets) for s in week.open_sessions for o in s.options), 200)
