"""A session of a kind holds only the patterns that its kind allows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class KindPatternsRule(Rule[Setting]):
    """For every main exercise e in a session s: pattern(e) in patterns(kind(s)).

    One switch a kind. Breach: exercises of other patterns. The week model makes no option for other patterns.
    """

    key = "kind_patterns"
    title = "Patterns of a kind"
    meaning = "A session holds only the patterns that its kind allows."
    formula = "for all s, main e in s: pattern(e) in patterns(kind(s))"
    default_mode = Mode.MUST
    must_only = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            sentence = f"{kind.name} sessions hold only the patterns of their kind."
            breach = f"{{}} of another pattern in {kind.name}"
            yield self.switch(instance, kind.key, sentence, breach, count_of("exercise"), mode=Mode.MUST)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found: dict[str, int] = {}
        for session in facts.planned:
            kind = facts.instance.kinds[session.kind]
            stray = sum(i.exercise.pattern not in kind.patterns for i in facts.main_items(session))
            if stray:
                found[self.id(kind.key)] = found.get(self.id(kind.key), 0) + stray
        return found

    def post(self, week: Week) -> None:
        """Nothing to post: the model has no option of another pattern."""
