"""Sessions of one kind are spread over the week."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week

_NEXT = [*((day, day + 1) for day in range(len(DAYS) - 1)), (len(DAYS) - 1, 0)]
"""Days one after another; Sunday and Monday too, for one week follows another."""


class SpreadRule(Rule[Setting]):
    """For every kind k: days with a session of k that the next day has one too. As few as can be.

    The recovery of a muscle is asked for where it had hard work; this is for the many small parts of a session below
    that, of which two days in a row are more than one. One switch a kind. Measure: pairs of days. Sunday goes before
    the Monday of a week like this one, or before this one's Monday where the history holds it.
    """

    key = "spread"
    title = "Spread over the week"
    meaning = "Sessions of one kind lie on days that do not follow one another, where the calendar lets them."
    formula = "minimise for all k: |{d: s on d, t on d + 1; s, t of kind k}|"
    default_mode = Mode.WISH
    tier = 3
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in _kinds(instance):
            name = instance.kinds[kind].name
            days = count_of("pair of days in a row", "pairs of days in a row")
            yield self.switch(
                instance, kind, f"{name} sessions are spread over the week.", f"{name} lies on {{}}", days
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = {}
        for kind in _kinds(facts.instance):
            days = {s.day for s in facts.sessions if s.kind == kind}
            pairs = sum(one in days and other in days for one, other in _NEXT) + (0 in days and _before(facts, kind))
            found[self.id(kind)] = pairs
        return {name: pairs for name, pairs in found.items() if pairs}

    def post(self, week: Week) -> None:
        for kind in _kinds(week.instance):
            sessions = [s for s in week.sessions if s.kind == kind]
            held = [week.bool_var(f"{kind} on {day}") for day in DAYS]
            for session in sessions:
                for day, literal in zip(held, session.day, strict=True):
                    if literal is not week.zero:
                        week.model.add_implication(literal, day)
            pairs = [week.bool_var(f"{kind} on {DAYS[one]} and the day after") for one, _ in _NEXT]
            for pair, (one, other) in zip(pairs, _NEXT, strict=True):
                week.model.add_bool_or(pair, ~held[one], ~held[other])
            before = held[0] if _before(week.facts, kind) else 0
            week.model.add(sum(pairs) + before <= week.slack(self.id(kind), len(DAYS) + 1))


def _kinds(instance: Instance) -> Iterator[str]:
    """Kinds that may have two sessions."""
    return (kind.key for kind in instance.kinds.values() if kind.per_week.most > 1)


def _before(facts: WeekFacts, kind: str) -> bool:
    """Whether the day before the week has a session of a kind."""
    return any(s.day == -1 and s.kind == kind for s in facts.instance.history)
