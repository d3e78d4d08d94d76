"""Full rest days, and training days in a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week

_WEEK = len(DAYS)


class RestDaysSetting(Setting):
    least: int | None = Field(default=None, ge=0, le=7)
    in_a_row: int | None = Field(default=None, ge=1, le=7)


class RestDaysRule(Rule[RestDaysSetting]):
    """At least so many days of the week have no session; no longer run of training days than so many.

    Two switches. Breach: rest days missing; days by which the longest run is too long. The run looks back into the
    history; in a repeating week it goes round the ring.
    """

    key = "rest_days"
    title = "Rest days"
    meaning = "Some days of the week are free of training, and training days in a row are few."
    formula = "|{d: trained(d)}| <= 7 - least; every run of trained days is at most in_a_row long"
    default_mode = Mode.MUST
    evidence = ("rest_days_least", "training_days_in_a_row")
    setting_model = RestDaysSetting

    def least(self, instance: Instance) -> int:
        given = self.setting(instance).least
        return given if given is not None else instance.catalogue.default_int("rest_days_least")

    def in_a_row(self, instance: Instance) -> int:
        return self.setting(instance).in_a_row or instance.catalogue.default_int("training_days_in_a_row")

    def switches(self, instance: Instance) -> Iterable[Switch]:
        least, run = self.least(instance), self.in_a_row(instance)
        yield self.switch(
            instance,
            "least",
            f"At least {wording.counted(least, 'rest day')} a week.",
            "{} too few",
            count_of("rest day"),
            evidence=("rest_days_least",),
        )
        yield self.switch(
            instance,
            "in_a_row",
            f"At most {wording.counted(run, 'training day')} in a row.",
            "{} too many in a row",
            count_of("day"),
            evidence=("training_days_in_a_row",),
        )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        trained = facts.trained_days()
        this_week = {d for d in trained if 0 <= d < _WEEK}
        instance = facts.instance
        return worst(
            (
                (self.id("least"), self.least(instance) - (_WEEK - len(this_week))),
                (self.id("in_a_row"), self._longest(trained, instance) - self.in_a_row(instance)),
            )
        )

    def _longest(self, trained: frozenset[int], instance: Instance) -> int:
        """Longest run of training days that ends in this week; on a ring round it, at most 7."""

        def is_trained(day: int) -> bool:
            return (day % _WEEK if instance.ring is not None else day) in trained

        longest = 0
        for last in range(_WEEK):
            run = 0
            while is_trained(last - run) and run < _WEEK:
                run += 1
            longest = max(longest, run)
        return longest

    def post(self, week: Week) -> None:
        instance = week.instance
        trained = [week.trained(d) for d in range(_WEEK)]
        least = week.slack(self.id("least"), _WEEK)
        week.model.add(sum(trained) <= _WEEK - self.least(instance) + least)
        allowed = self.in_a_row(instance)
        slack = week.slack(self.id("in_a_row"), _WEEK - allowed)
        for excess in range(1, _WEEK - allowed + 1):
            length = allowed + excess
            for last in range(_WEEK):
                run = [
                    week.trained(d % _WEEK if instance.ring is not None else d)
                    for d in range(last - length + 1, last + 1)
                ]
                if any(literal is week.zero for literal in run):
                    continue
                # All of the run trained: the slack is at least its excess.
                week.model.add(excess * (sum(run) - length + 1) <= slack)
            if isinstance(slack, int):
                break
