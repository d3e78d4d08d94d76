"""What rules share that shut exercises out: a breach is the number of such exercises in the plan."""

from __future__ import annotations

from scheduler.facts import WeekFacts
from scheduler.rules.base import Rule, S


class ExclusionRule(Rule[S]):
    """A rule whose whole content is :meth:`excluded`; the week model keeps what it shuts out off its options."""

    def breaches(self, facts: WeekFacts) -> dict[str, int]:
        found: dict[str, int] = {}
        for session in facts.planned:
            shut = self.excluded(facts.instance, facts.instance.kinds[session.kind])
            for item in session.items:
                for switch in shut.get(item.key, ()):
                    found[switch] = found.get(switch, 0) + 1
        return found

    def post(self, week: object) -> None:
        """Nothing to post: the week model asks :meth:`excluded` when it makes its options."""
