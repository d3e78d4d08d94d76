"""How many sessions a week hit a muscle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import CountRange
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class FrequencyRule(Rule[Setting]):
    """For every goal m with a frequency: least(m) <= |{s: hit(s, m)}| <= most(m).

    One switch a goal. Breach: hits missing or too many. Groups only where their goal names a frequency.
    """

    key = "frequency"
    title = "Frequency"
    meaning = "A muscle is hit so many times a week."
    formula = "for all m: least(m) <= |{s: hit(s, m)}| <= most(m)"
    default_mode = Mode.WISH
    evidence = ("frequency", "hit_sets")

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for target in instance.targets.values():
            if target.frequency is not None:
                asked = wording.between(target.frequency.least, target.frequency.most, "session")
                given = instance.brief.goals[target.key].frequency is not None
                yield self.switch(
                    instance,
                    target.key,
                    f"{target.name} is hit in {asked} a week.",
                    partial(_words, target.key, target.name, target.frequency),
                    count_of("hit"),
                    factor=target.factor,
                    evidence=("hit_sets",) if given else self.evidence,
                    mend=_mend(target.key, target.name, target.frequency),
                )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for target in facts.instance.targets.values():
            if target.frequency is not None:
                hits = facts.hits(target.key)
                # Hits that are done cannot be taken back: then no more may come.
                most = max(target.frequency.most, sum(s.done for s in hits))
                off = max(target.frequency.least - len(hits), len(hits) - most)
                found.append((self.id(target.key), off))
        return worst(found)

    def post(self, week: Week) -> None:
        for target in week.instance.targets.values():
            if target.frequency is None:
                continue
            hits = sum(week.hit(s, target.key) for s in week.sessions)
            slack = week.slack(self.id(target.key), max(target.frequency.least, len(week.sessions)))
            week.model.add(hits + slack >= target.frequency.least)
            done = sum(s.fixed and week.hit(s, target.key) is week.one for s in week.sessions)
            week.model.add(hits - slack <= max(target.frequency.most, done))


def _words(key: str, name: str, asked: CountRange, facts: WeekFacts) -> str:
    return f"{name} has {{}} too {'few' if len(facts.hits(key)) < asked.least else 'many'}"


def _mend(key: str, name: str, asked: CountRange) -> Mend:
    span = wording.between(asked.least, asked.most, "session")

    def words(amount: int, facts: WeekFacts | None) -> str:
        number = -1 if facts is None else len(facts.hits(key))
        if asked.least <= number <= asked.most or number < 0:
            return f"{name} hit in {span}, give or take {amount}"
        new = asked.least - amount if number < asked.least else asked.most + amount
        return f"{name} hit in {wording.counted(new, 'session')} instead of {span}"

    return words
