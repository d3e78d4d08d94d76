"""Of weeks alike in all else, the one whose rep zones take less time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.domain.units import TICK_SECONDS, TICKS_PER_SLOT
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, Unit

if TYPE_CHECKING:
    from scheduler.week.model import Week


_TICKS = Unit("quarter minute", lambda ticks: f"{ticks * TICK_SECONDS / 60:g} min")
LONGEST_TICKS = 48 * TICKS_PER_SLOT


class ShortSessionsRule(Rule[Setting]):
    """Minutes of warm-up, set-ups, sets and rests of the sessions not yet done, before a session is rounded up to whole
    slots: as few as can be, among weeks with the same exercises and sets in each session. Then rep zones decide.

    One switch. Measure: quarter minutes.
    """

    key = "short_sessions"
    title = "Short sessions"
    meaning = "Of plans with the same exercises and sets, the one whose sets and rests take less time."
    formula = "minimise sum over s of minutes(s)"
    default_mode = Mode.WISH
    tier = 7
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Short sessions.", "{} of work and rest", _TICKS)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        ticks = sum(facts.ticks(s) for s in facts.planned)
        return {self.id(""): ticks} if ticks else {}

    def post(self, week: Week) -> None:
        ticks = [s.ticks for s in week.open_sessions]
        week.model.add(sum(ticks) <= week.slack(self.id(""), LONGEST_TICKS * len(week.sessions)))
