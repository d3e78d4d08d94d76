"""Sessions of one kind are about as long."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode
from scheduler.domain.units import SLOTS_PER_HOUR
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


_LONGEST = 4 * SLOTS_PER_HOUR
"""As long as any session: the minutes of the kind may be a wish."""


class EvenLengthsRule(Rule[Setting]):
    """For every kind k: the longest of its sessions that are not yet done, less the shortest. As small as can be.

    One switch a kind that may have two sessions or more. Measure: five minutes.
    """

    key = "even_lengths"
    title = "Even lengths"
    meaning = "Sessions of one kind are about as long."
    formula = "minimise for all k: max length(s) - min length(s), s of kind k"
    default_mode = Mode.WISH
    tier = 3
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            if kind.per_week.most > 1:
                sentence = f"{kind.name} sessions are about as long."
                yield self.switch(instance, kind.key, sentence, f"{kind.name} sessions differ by {{}}", TIME)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for kind in facts.instance.kinds:
            lengths = [s.end - s.start for s in facts.planned if s.kind == kind]
            if len(lengths) > 1:
                found.append((self.id(kind), max(lengths) - min(lengths)))
        return worst(found)

    def post(self, week: Week) -> None:
        for kind in week.instance.kinds.values():
            sessions = [s for s in week.open_sessions if s.kind == kind.key]
            # A kind that may come once has no switch, though a concession can give it a second session.
            if len(sessions) < 2 or self.id(kind.key) not in week.switches:
                continue
            slack = week.slack(self.id(kind.key), _LONGEST)
            shortest = week.model.new_int_var(0, _LONGEST, f"shortest {kind.key}")
            for session in sessions:
                week.model.add(session.length >= shortest).only_enforce_if(session.active)
                week.model.add(session.length - slack <= shortest)
