"""Preferred openings are used before others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.brief import Preference
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.rules.base import Rule, Setting, Switch, count_of
from scheduler.rules.opening import OpeningRule, lacks

if TYPE_CHECKING:
    from scheduler.week.model import Week

STEPS = {Preference.PREFERRED: 0, Preference.NEUTRAL: 1, Preference.RELUCTANT: 3}


class PreferredTimesRule(Rule[Setting]):
    """Sum over sessions of the reluctance of their opening: preferred 0, neutral 1, reluctant 3. As small as can be.

    One switch. Measure: steps of reluctance.
    """

    key = "preferred_times"
    title = "Preferred days and times"
    meaning = "Openings that are preferred come before neutral ones, and those before reluctant ones."
    formula = "minimise sum over s of reluctance(opening(s))"
    default_mode = Mode.WISH
    tier = 3
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        steps = count_of("step of reluctance", "steps of reluctance")
        yield self.switch(instance, "", "Sessions use preferred openings.", "{}", steps)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        stretched = self._stretched(facts)
        steps = sum(self._steps(facts.instance, s, stretched.get(s.day, 0)) for s in facts.planned)
        return {self.id(""): steps} if steps else {}

    def _stretched(self, facts: WeekFacts) -> dict[int, int]:
        """By day, how far a session may lie outside its openings: as far as they may be stretched, or have to be."""
        switches = {s.id: s for s in OpeningRule().active_switches(facts.instance)}
        found = {}
        for day in DAYS:
            row = switches.get(f"{OpeningRule.key}:{day.value}")
            free = row is None or (row.mode is Mode.WISH and row.weight == 0)
            found[day.number] = facts.instance.clock.slots if row is None or free else row.concession
        for session in facts.planned:
            least = min((lack for _, lack in lacks(facts.instance, session)), default=0)
            found[session.day] = max(found.get(session.day, 0), least)
        return found

    def _steps(self, instance: Instance, session: SessionFacts, stretched: int) -> int:
        steps = [STEPS[spot.preference] for spot, lack in lacks(instance, session) if lack <= stretched]
        return min(steps, default=max(STEPS.values()))

    def post(self, week: Week) -> None:
        terms = [
            STEPS[spot.preference] * chosen
            for session in week.open_sessions
            for spot, chosen in session.spots.items()
            if STEPS[spot.preference]
        ]
        if terms:
            week.model.add(sum(terms) <= week.slack(self.id(""), len(week.sessions) * max(STEPS.values())))
