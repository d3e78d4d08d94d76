"""Counted weekly sets of each muscle or group: least, aimed at, most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role
from scheduler.domain.units import QUARTERS_PER_SET, sets_from_quarters
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import SETS, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class WeeklySetsSetting(Setting):
    most: Mode | None = None
    """Mode of the upper end; ``mode`` is that of the other two."""
    least: Mode | None = None
    aim: Mode | None = None


class WeeklySetsRule(Rule[WeeklySetsSetting]):
    """For every goal m: least(m) <= total(m) <= most(m), and total(m) >= aim(m).

    total(m) sums sets x count over the week, add-ons included; a group counts a set once. Three switches a goal.
    Breach: quarter sets missing or too many; below the least a set costs on both counts. Priority muscles cost more.
    """

    key = "weekly_sets"
    title = "Weekly sets"
    meaning = "Every muscle gets enough counted sets a week and none too many."
    formula = "for all m: least(m) <= total(m) <= most(m); total(m) >= aim(m)"
    default_mode = Mode.WISH
    evidence = ("weekly_sets_least", "weekly_sets_aim", "weekly_sets_most", "indirect_share_quarters")
    setting_model = WeeklySetsSetting

    def _modes(self, instance: Instance) -> dict[str, Mode]:
        setting = self.setting(instance)
        base = self.mode(instance)
        return {"least": setting.least or base, "aim": setting.aim or base, "most": setting.most or Mode.MUST}

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for target in instance.targets.values():
            goal = instance.brief.goals[target.key]
            words = {
                "least": (f"{target.name} gets at least {{}} a week.", f"{target.name} is {{}} under its least"),
                "aim": (f"{target.name} aims at {{}} a week.", f"{target.name} falls {{}} short of its aim"),
                "most": (f"{target.name} gets at most {{}} a week.", f"{target.name} is {{}} over its most"),
            }
            for end, mode in self._modes(instance).items():
                sentence, breach = words[end]
                yield self.switch(
                    instance,
                    f"{end}:{target.key}",
                    sentence.format(wording.sets(getattr(target, end))),
                    breach,
                    SETS,
                    factor=target.factor,
                    mode=mode,
                    evidence=() if getattr(goal, end) is not None else (f"weekly_sets_{end}",),
                    mend=_mend(target.name, end, getattr(target, end)),
                )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for target in facts.instance.targets.values():
            total = facts.total(target.key)
            done = sum(facts.volume(s, target.key, add_ons=True) for s in facts.sessions if s.done)
            found += [
                (self.id(f"least:{target.key}"), target.least - total),
                (self.id(f"aim:{target.key}"), target.aim - total),
                (self.id(f"most:{target.key}"), total - max(target.most, done)),
            ]
        return worst(found)

    def notes(self, facts: WeekFacts) -> Iterable[str]:
        """What the figures of a goal hide: nothing trains it directly, or all that does is of one movement."""
        instance = facts.instance
        if self.mode(instance) is Mode.OFF:
            return
        catalogue = instance.catalogue
        possible = tuple(instance.possible())
        for target in instance.targets.values():
            sets = _direct_sets(facts, target.key)
            if target.aim and not any(instance.direct(key, target.key) for key in possible):
                yield f"{target.name}: nothing that can be done here trains it directly; what counts is indirect work."
            elif target.aim and not sets and facts.total(target.key):
                yield (
                    f"{target.name}: no set trains it directly; what counts is indirect work. Where it is to have its "
                    "own, name an exercise as wanted."
                )
            elif len(sets) == 1 and target.is_group and not catalogue.groups[target.key].recovers_as_one:
                ((pattern, count),) = sets.items()
                if count * QUARTERS_PER_SET >= 2 * instance.hit_quarters:
                    yield (
                        f"{target.name}: all of its {count} direct sets are of one movement "
                        f"({catalogue.patterns[pattern].name.lower()}). Goals for its muscles ask for others."
                    )

    def post(self, week: Week) -> None:
        active = self._modes(week.instance)
        for target in week.instance.targets.values():
            total = week.total(target.key)
            done = week.done_volume(target.key)
            counts = [
                (s, o, week.instance.counted(o.stimulus.key, target.key) * o.most_sets)
                for s in week.open_sessions
                for o in s.options
            ]
            for end, wanted in (("least", target.least), ("aim", target.aim)):
                if active[end] is not Mode.OFF:
                    slack = week.slack(self.id(f"{end}:{target.key}"), wanted, week.step(target.key, wanted - done))
                    week.model.add(total + slack >= wanted)
                    week.cover(wanted - done, counts, slack)
            if active["most"] is not Mode.OFF:
                week.at_most(self.id(f"most:{target.key}"), target.key, target.most)


def _mend(name: str, end: str, asked: int) -> Mend:
    verb = {"least": "at least", "aim": "aims at", "most": "at most"}[end]

    def words(amount: int, facts: WeekFacts | None) -> str:
        new = asked + amount if end == "most" else asked - amount
        return f"{name} {verb} {wording.sets(new)} instead of {sets_from_quarters(asked):g}"

    return words


def _direct_sets(facts: WeekFacts, target: str) -> Counter[str]:
    """Direct sets of the week for a muscle or group, by pattern."""
    sets = Counter[str]()
    for session in facts.sessions:
        for item in session.items:
            if item.role is not Role.ACTIVATION and facts.instance.direct(item.key, target):
                sets[item.exercise.pattern] += item.sets
    return sets
