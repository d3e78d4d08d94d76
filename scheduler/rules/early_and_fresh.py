"""The first hit of a priority muscle comes early in the week, and the day after a rest day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, Day
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Target
from scheduler.rules.base import Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class EarlyAndFreshSetting(Setting):
    latest: Day | None = None
    """Day by which the first hit should come."""


class EarlyAndFreshRule(Rule[EarlyAndFreshSetting]):
    """For every priority muscle m with first hit f: day(f) <= latest, and the day before day(f) has no session.

    Two switches a muscle. Breach: days too late; 1 where the day before is a training day. Before a one-off week
    without history nothing is known, and the Sunday counts as rest. Within a session the order rule puts it first.
    """

    key = "early_and_fresh"
    title = "Early and fresh"
    meaning = "The weak point is trained early in the week, on the day after a rest day."
    formula = "day(f(m)) <= latest; not trained(day(f(m)) - 1), f(m) = first s with hit(s, m)"
    default_mode = Mode.WISH
    tier = 3
    evidence = ("latest_first_hit",)
    setting_model = EarlyAndFreshSetting

    def latest(self, instance: Instance) -> int:
        return (self.setting(instance).latest or Day(str(instance.catalogue.evidence["latest_first_hit"].value))).number

    def targets(self, instance: Instance) -> Iterator[Target]:
        yield from instance.priorities()

    def switches(self, instance: Instance) -> Iterable[Switch]:
        day = DAYS[self.latest(instance)].full_name
        for target in self.targets(instance):
            yield self.switch(
                instance,
                f"early:{target.key}",
                f"{target.name} is first hit by {day}.",
                f"the first hit of {target.name} comes {{}} later",
                count_of("day"),
                factor=target.factor,
            )
            yield self.switch(
                instance,
                f"fresh:{target.key}",
                f"{target.name} is first hit on the day after a rest day.",
                f"the day before the first hit of {target.name} is {{}}",
                count_of("training day"),
                factor=target.factor,
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for target in self.targets(facts.instance):
            hits = facts.hits(target.key)
            # Where a hit is done, the first one is no longer to be chosen.
            if hits and not any(s.done for s in hits):
                day = hits[0].day
                found.append((self.id(f"early:{target.key}"), day - self.latest(facts.instance)))
                found.append((self.id(f"fresh:{target.key}"), int(not facts.rested_before(day))))
        return worst(found)

    def post(self, week: Week) -> None:
        instance = week.instance
        latest = self.latest(instance)
        model = week.model
        for target in self.targets(instance):
            if any(s.fixed and week.hit(s, target.key) is week.one for s in week.sessions):
                continue
            late = week.slack(self.id(f"early:{target.key}"), len(DAYS) - 1)
            stale = week.slack(self.id(f"fresh:{target.key}"), 1)
            sessions = week.open_sessions
            hits = {id(s): week.hit(s, target.key) for s in sessions}
            firsts = []
            for session in sessions:
                first = week.bool_var(f"{session.label} first hits {target.key}")
                model.add_implication(first, hits[id(session)])
                for other in sessions:
                    if other is not session:
                        model.add_bool_or(~first, ~hits[id(other)], week.before(session, other))
                for day in range(len(DAYS)):
                    on_day = session.day[day]
                    if on_day is week.zero:
                        continue
                    model.add(late >= day - latest).only_enforce_if(first, on_day)
                    eve = week.trained((day - 1) % len(DAYS) if instance.ring is not None else day - 1)
                    if eve is not week.zero:
                        model.add(stale >= 1).only_enforce_if(first, on_day, eve)
                firsts.append(first)
            # Some hit is the first, unless there is none.
            for hit in hits.values():
                model.add_bool_or(~hit, *firsts)
            model.add_at_most_one(firsts)
