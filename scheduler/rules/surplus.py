"""No more counted sets than were aimed at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.domain.units import QUARTERS_PER_SET
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class SurplusRule(Rule[Setting]):
    """Whole counted sets above each goal's aim, summed over the goals: as few as can be. Less than a set is nothing: it
    comes of halves for indirect work, and counting it made the proof long and the week no better.

    One switch. Measure: sets.
    """

    key = "surplus"
    title = "Sets above aims"
    meaning = "Few counted sets above what was aimed at."
    formula = "minimise sum over m of max(0, floor(total(m) - aim(m)))"
    default_mode = Mode.WISH
    tier = 7
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Few sets above the aims.", "{} above", count_of("whole set"))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        surplus = sum(max(0, facts.total(t.key) - t.aim) // QUARTERS_PER_SET for t in facts.instance.targets.values())
        return {self.id(""): surplus} if surplus else {}

    def post(self, week: Week) -> None:
        over = []
        for target in week.instance.targets.values():
            most = week.most_volume(target.key) * max(1, len(week.sessions))
            above = week.model.new_int_var(0, most, f"surplus {target.key}")
            part = QUARTERS_PER_SET - 1
            week.model.add(QUARTERS_PER_SET * above + part >= week.total(target.key) - target.aim)
            over.append(above)
        if over:
            week.model.add(sum(over) <= week.slack(self.id(""), 4000))
