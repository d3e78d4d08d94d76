"""Sessions lie inside the openings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class OpeningRule(Rule[Setting]):
    """For every session s there is an opening o at its place: start(o) <= start(s) and end(s) <= end(o).

    One switch a day. Breach: by how much the nearest opening of that day and place would have to be longer at either
    end; where there is none, the length of the session.
    """

    key = "opening"
    title = "Openings"
    meaning = "A session lies inside an opening, at its place."
    formula = "for all s exists o: place(o) = place(s), start(o) <= start(s), end(s) <= end(o)"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for number, day in enumerate(DAYS):
            spots = [s for s in instance.spots if s.day == number]
            if spots:
                times = wording.listed(
                    f"{instance.clock.local(s.start):%H:%M} to {instance.clock.local(s.end):%H:%M} "
                    f"({instance.venues[s.place].name})"
                    for s in spots
                )
                sentence = f"On {day.full_name} sessions lie within {times}."
            else:
                sentence = f"{day.full_name} has no opening."
            yield self.switch(instance, day.value, sentence, f"{day.full_name}'s opening is {{}} too short", TIME)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        def lack(start: int, end: int, day: int, place: str | None) -> int:
            spots = [s for s in facts.instance.spots if s.day == day and place in (None, s.place)]
            return min((max(s.start - start, end - s.end, 0) for s in spots), default=end - start)

        return worst(
            (self.id(DAYS[s.day].value), lack(s.start, s.end, s.day, s.place))
            for s in facts.planned
            if 0 <= s.day < len(DAYS)
        )

    def post(self, week: Week) -> None:
        for session in week.open_sessions:
            for spot, chosen in session.spots.items():
                slack = week.slack(self.id(DAYS[spot.day].value), spot.end - spot.start)
                week.model.add(session.start + slack >= spot.start).only_enforce_if(chosen)
                week.model.add(session.end <= spot.end + slack).only_enforce_if(chosen)
