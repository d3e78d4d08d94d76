"""Nothing that is still to be planned starts before a moment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class NotBeforeRule(Rule[Setting]):
    """start(s) >= not_before for all sessions s that are not done, where the brief names such a moment.

    One switch. Breach: by how much the earliest session starts too early.
    """

    key = "not_before"
    title = "Not before"
    meaning = "Nothing that is still to be planned starts before the moment that the week has come to."
    formula = "for all s not done: start(s) >= not_before"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        moment = instance.brief.not_before
        if moment is None:
            return
        local = instance.clock.instant(moment).astimezone(instance.clock.tz)
        yield self.switch(
            instance,
            "",
            f"Nothing more starts before {wording.day_time(local)}.",
            "{} too early",
            TIME,
        )

    def mendable(self, switch: str, instance: Instance) -> bool:
        """Time does not run backwards."""
        return False

    def first_slot(self, instance: Instance) -> int | None:
        moment = instance.brief.not_before
        return None if moment is None else instance.clock.ceil(moment)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        first = self.first_slot(facts.instance)
        return {} if first is None else worst((self.id(""), first - s.start) for s in facts.planned)

    def post(self, week: Week) -> None:
        first = self.first_slot(week.instance)
        if first is None or first <= 0:
            return
        slack = week.slack(self.id(""), first)
        for session in week.open_sessions:
            week.model.add(session.start + slack >= first).only_enforce_if(session.active)
