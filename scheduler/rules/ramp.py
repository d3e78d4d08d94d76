"""Weekly sets rise over last week's by no more than so much."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, unknown
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, QUARTERS_PER_SET, Sets, quarter_sets, sets_from_quarters
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.rules.base import SETS, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week

_WEEK = len(DAYS)


class RampSetting(Setting):
    percent: int | None = Field(default=None, ge=0, le=200)
    before_missed: Mapping[str, Sets] = Field(default_factory=dict)
    """By muscle or group: sets of the week before sessions were missed. The ramp starts from these where they are more
    than last week's, for a missed session detrains nobody."""


class RampRule(Rule[RampSetting]):
    """With a history, for every goal m: total(m) <= max(last(m) x (1 + percent/100), last(m) + free sets).

    last(m) are the counted sets of the seven days before the week; where those days are empty this is the first week
    back, last(m) are those of the seven days before them, and the rule is a must. Where ``before_missed`` says more,
    last(m) is that. One switch a goal. Breach: quarter sets above the ramp. Without a history the rule has nothing to
    say.
    """

    key = "ramp"
    title = "Ramp"
    meaning = "Weekly sets rise gradually over last week's."
    formula = "for all m: total(m) <= max(last(m) x (1 + percent / 100), last(m) + free)"
    default_mode = Mode.WISH
    evidence = ("ramp_percent", "ramp_free_sets")
    setting_model = RampSetting

    def faults(self, setting: RampSetting, brief: Brief, catalogue: Catalogue) -> Iterable[Fault]:
        known = [*catalogue.muscles, *catalogue.groups]
        return unknown("rules.ramp.before_missed", "muscle or group", setting.before_missed, known)

    def mode(self, instance: Instance) -> Mode:
        return self.setting(instance).mode or (Mode.MUST if self._first_week_back(instance) else Mode.WISH)

    def _last_week(self, instance: Instance) -> tuple[SessionFacts, ...]:
        return tuple(s for s in instance.history if s.day >= -_WEEK)

    def _first_week_back(self, instance: Instance) -> bool:
        return bool(instance.history) and not self._last_week(instance)

    def limits(self, instance: Instance) -> Iterable[tuple[str, str, int]]:
        """Target, what the ramp starts from in words, the most quarter sets that it allows."""
        if not instance.history:
            return
        base = self._last_week(instance) or instance.history
        last_week = WeekFacts(instance, base)
        usual = "before the break" if self._first_week_back(instance) else "last week"
        setting = self.setting(instance)
        percent = setting.percent if setting.percent is not None else instance.catalogue.default_int("ramp_percent")
        free = instance.catalogue.default_int("ramp_free_sets") * QUARTERS_PER_SET
        for key in instance.targets:
            last, when = max(
                (last_week.total(key), usual),
                (quarter_sets(setting.before_missed.get(key, 0)), "before sessions were missed"),
                key=lambda start: start[0],
            )
            yield key, f"{wording.sets(last)} {when}", max(last * (100 + percent) // 100, last + free)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for key, start, most in self.limits(instance):
            name = instance.targets[key].name
            yield self.switch(
                instance,
                key,
                f"{name} rises to at most {wording.sets(most)} ({start}).",
                f"{name} is {{}} above the ramp",
                SETS,
                mend=_mend(name, most),
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        return worst(
            (self.id(key), facts.total(key) - max(most, _done(facts, key)))
            for key, _, most in self.limits(facts.instance)
        )

    def post(self, week: Week) -> None:
        for key, _, most in self.limits(week.instance):
            week.at_most(self.id(key), key, most)


def _done(facts: WeekFacts, key: str) -> int:
    return sum(facts.volume(s, key, add_ons=True) for s in facts.sessions if s.done)


def _mend(name: str, most: int) -> Mend:
    was = f"{sets_from_quarters(most):g}"
    return lambda amount, facts: f"{name} rises to {wording.sets(most + amount)} instead of at most {was}"
