"""Some session kinds are bound to days or places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class KindDaysRule(Rule[Setting]):
    """For every session s of kind k: day(s) in days(k) and place(s) in places(k), where the kind names them.

    One switch a kind. Breach: sessions elsewhere. The week model only offers a kind its own openings.
    """

    key = "kind_days"
    title = "Days and places of a kind"
    meaning = "A kind that is bound to days or places stays there."
    formula = "for all s: day(s) in days(kind(s)) and place(s) in places(kind(s))"
    default_mode = Mode.MUST
    must_only = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            parts = []
            if kind.days is not None:
                parts.append(f"on {wording.listed((DAYS[d].full_name for d in kind.days), 'or')}")
            if kind.places is not None:
                parts.append(f"at {wording.listed((instance.venues[p].name for p in kind.places), 'or')}")
            if parts:
                yield self.switch(
                    instance,
                    kind.key,
                    f"{kind.name} sessions are {' '.join(parts)}.",
                    f"{{}} of {kind.name} elsewhere",
                    count_of("session"),
                    mode=Mode.MUST,
                    mend=_mend(kind),
                )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found: dict[str, int] = {}
        for session in facts.planned:
            kind = facts.instance.kinds[session.kind]
            if not kind.allows(session.day, session.place):
                found[self.id(kind.key)] = found.get(self.id(kind.key), 0) + 1
        return found

    def post(self, week: Week) -> None:
        # But where it may give way, a session has no variable for an opening outside its kind's days and places.
        for kind in week.instance.kinds.values():
            astray = [
                chosen
                for session in week.open_sessions
                if session.kind == kind.key
                for spot, chosen in session.spots.items()
                if not kind.allows(spot.day, spot.place)
            ]
            if astray:
                week.model.add(sum(astray) <= week.slack(self.id(kind.key), len(astray)))


def _mend(kind: Kind) -> Mend:
    where = ["on another day"] if kind.days is not None else []
    where += ["at another place"] if kind.places is not None else []
    elsewhere = wording.listed(where, "or")
    return lambda amount, facts: f"{wording.counted(amount, f'{kind.name} session')} {elsewhere}"
