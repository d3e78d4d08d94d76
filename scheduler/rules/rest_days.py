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
            mend=lambda amount, facts: f"{wording.counted(least - amount, 'rest day')} instead of {least}",
        )
        yield self.switch(
            instance,
            "in_a_row",
            f"At most {wording.counted(run, 'training day')} in a row.",
            "{} too many in a row",
            count_of("day"),
            evidence=("training_days_in_a_row",),
            mend=lambda amount, facts: f"{run + amount} training days in a row instead of {run}",
        )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        instance = facts.instance
        trained = facts.trained_days()
        past = _past_days(instance)
        # Days that are done are no one's to change: they only take no further one.
        most = max(_WEEK - self.least(instance), _this_week(past))
        return worst(
            (
                (self.id("least"), _this_week(trained) - most),
                (self.id("in_a_row"), self._longest(trained, past, instance) - self.in_a_row(instance)),
            )
        )

    def _longest(self, trained: frozenset[int], past: frozenset[int], instance: Instance) -> int:
        """Longest run of training days, one of them still to come, that ends in this week; on a ring round it; at most
        7."""
        longest = 0
        for last in range(_WEEK):
            run: list[int] = []
            for day in _run(instance, last, _WEEK):
                if day not in trained:
                    break
                run.append(day)
            if not past.issuperset(run):
                longest = max(longest, len(run))
        return longest

    def post(self, week: Week) -> None:
        instance = week.instance
        trained = [week.trained(d) for d in range(_WEEK)]
        least = week.slack(self.id("least"), _WEEK)
        past = _past_days(instance)
        week.model.add(sum(trained) <= max(_WEEK - self.least(instance), _this_week(past)) + least)
        allowed = self.in_a_row(instance)
        slack = week.slack(self.id("in_a_row"), _WEEK - allowed)
        for excess in range(1, _WEEK - allowed + 1):
            length = allowed + excess
            for last in range(_WEEK):
                days = _run(instance, last, length)
                run = [week.trained(d) for d in days]
                if past.issuperset(days) or any(literal is week.zero for literal in run):
                    continue
                # All of the run trained: the slack is at least its excess.
                week.model.add(excess * (sum(run) - length + 1) <= slack)
            if isinstance(slack, int) and excess > slack:
                break


def _run(instance: Instance, last: int, length: int) -> list[int]:
    """So many days back from the last one; round the ring of a repeating week."""
    return [d % _WEEK if instance.ring is not None else d for d in range(last, last - length, -1)]


def _past_days(instance: Instance) -> frozenset[int]:
    """Days of the history, and of this week, on which a session is done."""
    return frozenset(s.day for s in (*instance.history, *instance.done))


def _this_week(days: frozenset[int]) -> int:
    return sum(0 <= d < _WEEK for d in days)
