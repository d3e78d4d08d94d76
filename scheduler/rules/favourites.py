"""Favourites come before others, where nothing else is lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Look, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class FavouritesRule(Rule[Setting]):
    """Uses of exercises that are no favourites, over the sessions not yet done: as few as can be.

    One switch. Measure: uses. Without favourites the rule has nothing to say.
    """

    key = "favourites"
    title = "Favourites"
    meaning = "Where nothing else is lost, favourite exercises are used."
    formula = "minimise |{(s, e): e in s, e no favourite}|"
    default_mode = Mode.WISH
    tier = 6
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        if instance.brief.exercises.favourites:
            others = count_of("use of others", "uses of others")
            yield self.switch(instance, "", "Favourite exercises are used.", "{}", others)

    def looks_at(self, instance: Instance) -> Look:
        return lambda exercise: exercise in instance.brief.exercises.favourites

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        favourites = facts.instance.brief.exercises.favourites
        if not favourites:
            return {}
        others = sum(i.key not in favourites and i.role is not Role.ACTIVATION for s in facts.planned for i in s.items)
        return {self.id(""): others} if others else {}

    def post(self, week: Week) -> None:
        favourites = week.instance.brief.exercises.favourites
        if favourites:
            others = [o.uses for s in week.open_sessions for o in s.options if o.stimulus.key not in favourites]
            week.model.add(sum(others) <= week.slack(self.id(""), 100 * len(week.sessions)))
