"""Sessions lie inside the openings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, SLOTS_PER_HOUR
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts, Spot
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


_MOST_SLACK = 30 * SLOTS_PER_HOUR
"""More than any session of a day can lie outside an opening of that day, be the day 25 h long."""


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
        return worst(
            (self.id(DAYS[s.day].value), min((lack for _, lack in lacks(facts.instance, s)), default=s.end - s.start))
            for s in facts.planned
            if 0 <= s.day < len(DAYS)
        )

    def post(self, week: Week) -> None:
        day_starts = week.instance.clock.day_starts
        for session in week.open_sessions:
            for spot, chosen in session.spots.items():
                slack = week.slack(self.id(DAYS[spot.day].value), _MOST_SLACK)
                if spot.closed:
                    week.model.add(session.length <= slack).only_enforce_if(chosen)
                    continue
                week.model.add(session.start + slack >= spot.start).only_enforce_if(chosen)
                week.model.add(session.end <= spot.end + slack).only_enforce_if(chosen)
                if not isinstance(slack, int):
                    # However far an opening is stretched, the session stays on its day.
                    week.model.add(session.start >= day_starts[spot.day]).only_enforce_if(chosen)
                    week.model.add(session.start < day_starts[spot.day + 1]).only_enforce_if(chosen)


def lacks(instance: Instance, session: SessionFacts) -> list[tuple[Spot, int]]:
    """The openings of a session's day and place, each with the slots by which it is too short for the session."""
    return [
        (spot, max(spot.start - session.start, session.end - spot.end, 0))
        for spot in instance.spots
        if spot.day == session.day and session.place in (None, spot.place)
    ]
