"""How many sessions of each kind, and in all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
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


class SessionCountRule(Rule[Setting]):
    """For every kind k: least(k) <= sessions(k) <= most(k); the same over all kinds.

    One switch a kind and one for all. Breach: sessions missing or too many.
    """

    key = "session_count"
    title = "Session count"
    meaning = "So many sessions of each kind, and so many in all."
    formula = "for all k: least(k) <= |{s: kind(s) = k}| <= most(k); least <= |S| <= most"
    default_mode = Mode.MUST

    def _ranges(self, instance: Instance) -> Iterator[tuple[str | None, CountRange]]:
        yield from ((kind.key, kind.per_week) for kind in instance.kinds.values())
        yield None, instance.sessions

    def _id(self, kind: str | None) -> str:
        return self.id("all" if kind is None else f"kind:{kind}")

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind, numbers in self._ranges(instance):
            what = "session" if kind is None else f"{instance.kinds[kind].name} session"
            settled = kind is not None or instance.brief.sessions is not None
            evidence = () if settled else (f"sessions_{instance.brief.lifter.status.value}",)
            asked = wording.between(numbers.least, numbers.most, what)
            sentence = f"{asked[0].upper()}{asked[1:]} a week."
            unit = count_of(what)
            name = self._id(kind).removeprefix(f"{self.key}:")
            mend = _mend(kind, what, numbers)
            words = partial(_words, kind, numbers)
            yield self.switch(instance, name, sentence, words, unit, evidence=evidence, mend=mend)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for kind, asked in self._ranges(facts.instance):
            mine = [s for s in facts.sessions if kind in (None, s.kind)]
            # Sessions that are done cannot be taken back: then no more may come.
            most = max(asked.most, sum(s.done for s in mine))
            found.append((self._id(kind), max(asked.least - len(mine), len(mine) - most)))
        return worst(found)

    def post(self, week: Week) -> None:
        for kind, asked in self._ranges(week.instance):
            mine = [s for s in week.sessions if kind in (None, s.kind)]
            number = sum(s.active for s in mine)
            slack = week.slack(self._id(kind), max(asked.least, len(mine)))
            week.model.add(number + slack >= asked.least)
            week.model.add(number - slack <= max(asked.most, sum(s.fixed for s in mine)))


def _number(facts: WeekFacts, kind: str | None) -> int:
    return sum(kind in (None, s.kind) for s in facts.sessions)


def _words(kind: str | None, asked: CountRange, facts: WeekFacts) -> str:
    return f"{{}} too {'few' if _number(facts, kind) < asked.least else 'many'}"


def _mend(kind: str | None, what: str, asked: CountRange) -> Mend:
    span = wording.between(asked.least, asked.most, what)

    def words(amount: int, facts: WeekFacts | None) -> str:
        number = -1 if facts is None else _number(facts, kind)
        if asked.least <= number <= asked.most or number < 0:
            return f"{span}, give or take {amount}"
        new = asked.least - amount if number < asked.least else asked.most + amount
        old = f"{asked.least}" if asked.least == asked.most else f"{asked.least} to {asked.most}"
        number_of = wording.counted(new, what) if new else f"no {what}"
        return f"{number_of}{' in all' if kind is None else ''} instead of {old}"

    return words
