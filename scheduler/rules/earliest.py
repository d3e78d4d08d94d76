"""The documented tie-break: of plans alike in all else and with the same content, the one that starts earlier."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch

if TYPE_CHECKING:
    from scheduler.week.model import Week


class EarliestRule(Rule[Setting]):
    """Sum of the starts of the sessions not yet done, from Monday 00:00: as small as can be, among weeks with the same
    exercises and sets in each session.

    One switch. Measure: five minutes. What is still alike after it is settled by the solver's fixed seed.
    """

    key = "earliest"
    title = "Tie-break"
    meaning = "Of plans with the same content and alike in all else, the one whose sessions start earlier."
    formula = "minimise sum of start(s)"
    default_mode = Mode.WISH
    tier = 8
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Sessions start early.", "{} after Monday 00:00, summed", TIME)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        starts = sum(s.start for s in facts.planned)
        return {self.id(""): starts} if starts else {}

    def post(self, week: Week) -> None:
        sessions = week.open_sessions
        total = week.slack(self.id(""), len(sessions) * week.instance.clock.slots)
        week.model.add(sum(s.start for s in sessions) <= total)
