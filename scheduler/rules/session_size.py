"""Sets and minutes of a session of each kind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import SLOT_MINUTES
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind
from scheduler.rules.base import TIME, Mend, Rule, Setting, Switch, Unit, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week

_WORKING_SETS = count_of("working set")


class SessionSizeRule(Rule[Setting]):
    """For every session s of kind k: sets_least(k) <= sets(s) <= sets_most(k), and the same for minutes.

    Sets are working sets without add-ons and activation; minutes are the whole session. Minutes are rounded inwards
    to whole slots of five. Up to four switches a kind. Breach: sets or minutes outside the range, worst session.
    """

    key = "session_size"
    title = "Size of a session"
    meaning = "A session of a kind has so many working sets and lasts so many minutes."
    formula = "for all s: least(k) <= sum of sets(s) <= most(k); least(k) <= minutes(s) <= most(k)"
    default_mode = Mode.MUST

    def _bounds(self, kind: Kind) -> Iterator[tuple[str, bool, int, Unit]]:
        """Name, whether it is a lower end, the number in base units, the unit."""
        if kind.sets.least:
            yield "sets_least", True, kind.sets.least, _WORKING_SETS
        yield "sets_most", False, kind.sets.most, _WORKING_SETS
        if kind.minutes.least:
            yield "minutes_least", True, -(-kind.minutes.least // SLOT_MINUTES), TIME
        yield "minutes_most", False, kind.minutes.most // SLOT_MINUTES, TIME

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            for name, lower, number, unit in self._bounds(kind):
                verb = "has" if unit is _WORKING_SETS else "lasts"
                amount = wording.counted(number, "working set") if unit is _WORKING_SETS else wording.duration(number)
                sentence = f"Every {kind.name} session {verb} at {'least' if lower else 'most'} {amount}."
                breach = f"a {kind.name} session is {{}} {'under' if lower else 'over'}"
                mend = _mend(kind.name, lower, number, unit)
                yield self.switch(instance, f"{name}:{kind.key}", sentence, breach, unit, mend=mend)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for session in facts.planned:
            kind = facts.instance.kinds[session.kind]
            for name, lower, number, unit in self._bounds(kind):
                is_sets = unit is _WORKING_SETS
                actual = sum(i.sets for i in facts.main_items(session)) if is_sets else session.end - session.start
                found.append((self.id(f"{name}:{kind.key}"), number - actual if lower else actual - number))
        return worst(found)

    def post(self, week: Week) -> None:
        for session in week.open_sessions:
            kind = week.instance.kinds[session.kind]
            sets = sum(o.sets for o in session.main)
            for name, lower, number, unit in self._bounds(kind):
                actual = sets if unit is _WORKING_SETS else session.length
                slack = week.slack(self.id(f"{name}:{kind.key}"), number if lower else 60)
                # A session that is not there has no sets and no length.
                if lower:
                    week.model.add(actual + slack >= number * session.active)
                else:
                    week.model.add(actual - slack <= number * session.active)
                if unit is _WORKING_SETS and lower:
                    gives = ((session, o, o.most_sets) for o in session.main)
                    week.cover(number, gives, slack, session.active)
                elif unit is _WORKING_SETS:
                    week.pack(number, ((o, o.least_sets) for o in session.main), slack, session.active)


def _mend(kind: str, lower: bool, number: int, unit: Unit) -> Mend:
    def words(amount: int, facts: WeekFacts | None) -> str:
        new = number - amount if lower else number + amount
        old = f"{number}" if unit is _WORKING_SETS else unit.text(number)
        return f"{kind} sessions of at {'least' if lower else 'most'} {unit.text(new)} instead of {old}"

    return words
