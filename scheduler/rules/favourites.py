"""Favourites and lifts that the lifter does come before other exercises."""

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
    """Uses of exercises that are neither favourites nor lifts of the lifter, over the sessions not yet done: as few as
    can be, beside as few exercises (:mod:`scheduler.rules.few_exercises`): so of two that serve alike the one is taken
    whose load is known, and one that is new where it does the work of two.

    One switch. Measure: uses. Without favourites and lifts the rule has nothing to say.
    """

    key = "favourites"
    title = "Favourites"
    meaning = "Favourites, and lifts whose loads are known, are used before other exercises."
    formula = "minimise |{(s, e): e in s, e neither a favourite nor a lift}|"
    default_mode = Mode.WISH
    tier = 4
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        if _favourites(instance):
            others = count_of("use of others", "uses of others")
            yield self.switch(instance, "", "Favourites and known lifts are used.", "{}", others)

    def looks_at(self, instance: Instance) -> Look:
        favourites = _favourites(instance)
        return lambda exercise: exercise in favourites

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        favourites = _favourites(facts.instance)
        if not favourites:
            return {}
        others = sum(i.key not in favourites and i.role is not Role.ACTIVATION for s in facts.planned for i in s.items)
        return {self.id(""): others} if others else {}

    def post(self, week: Week) -> None:
        favourites = _favourites(week.instance)
        if favourites:
            others = [o.uses for s in week.open_sessions for o in s.options if o.stimulus.key not in favourites]
            week.model.add(sum(others) <= week.slack(self.id(""), 100 * len(week.sessions)))


def _favourites(instance: Instance) -> frozenset[str]:
    lifts = (lift.exercise for lift in instance.brief.lifter.lifts)
    return frozenset((*instance.brief.exercises.favourites, *lifts))
