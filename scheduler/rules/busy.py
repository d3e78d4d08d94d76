"""Sessions clear the busy times of the calendar, and the travel on both sides."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, LONGEST_SLOTS
from scheduler.facts import WeekFacts
from scheduler.instance import Busy, Instance, Spot
from scheduler.rules.base import TIME, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class BusyRule(Rule[Setting]):
    """For every session s and busy time b: start(s) >= end(b) + travel or end(s) <= start(b) - travel.

    One switch an event, named by its day and time, so that what is conceded of it stays with it whatever other events
    come and go. Breach: by how much the event would have to end earlier, or start later.
    """

    key = "busy"
    title = "Busy times"
    meaning = "A session clears the busy times of the calendar, and the travel to its place."
    formula = "for all s, b: start(s) - end(b) >= travel(place(s)) or start(b) - end(s) >= travel(place(s))"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        travel = sorted({v.travel for v in instance.venues.values()})
        margin = ""
        if travel[-1]:
            shown = wording.listed((wording.duration(t) for t in travel), "or")
            margin = f", with {shown} of travel on either side"
        for name, busy in named_events(instance):
            start, end = instance.clock.local(busy.start), instance.clock.local(busy.end)
            until = f"{end:%H:%M}" if end.date() == start.date() else f"{DAYS[end.weekday()].full_name} {end:%H:%M}"
            title = busy.title
            sentence = f"“{title}”, {DAYS[start.weekday()].full_name} {start:%H:%M} to {until}, stays clear{margin}."
            yield self.switch(instance, name, sentence, f"“{title}” is in the way by {{}}", TIME, mend=_mend(title))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        venues = facts.instance.venues

        def clash(start: int, end: int, travel: int, busy: Busy) -> int:
            return min(busy.end + travel - start, end - busy.start + travel)

        return worst(
            (self.id(name), clash(s.start, s.end, venues[s.place].travel if s.place else 0, busy))
            for name, busy in named_events(facts.instance)
            for s in facts.planned
        )

    def post(self, week: Week) -> None:
        reach = {spot: _reach(week, spot) for spot in week.spots}
        farthest = max((venue.travel for venue in week.instance.venues.values()), default=0)
        for name, busy in named_events(week.instance):
            most = busy.end - busy.start + farthest + LONGEST_SLOTS
            for session in week.open_sessions:
                after = None
                for spot, chosen in session.spots.items():
                    travel = week.instance.venues[spot.place].travel
                    blocked_from, blocked_to = busy.start - travel, busy.end + travel
                    first, last = reach[spot]
                    if blocked_to <= first or blocked_from >= last:
                        continue
                    if after is None:
                        after = week.bool_var(f"{session.label} after {busy.title}")
                    slack = week.slack(self.id(name), most)
                    week.model.add(session.start + slack >= blocked_to).only_enforce_if(chosen, after)
                    week.model.add(session.end - slack <= blocked_from).only_enforce_if(chosen, ~after)


def named_events(instance: Instance) -> Iterator[tuple[str, Busy]]:
    """Events with their names: 'mon-1820', a second one that starts then 'mon-1820-2'; one from before the week by its
    date."""
    seen: Counter[str] = Counter()
    for busy in instance.busy:
        start = instance.clock.local(busy.start)
        in_week = 0 <= busy.start < instance.clock.slots
        name = f"{DAYS[start.weekday()]}-{start:%H%M}" if in_week else f"{start:%Y-%m-%d-%H%M}"
        seen[name] += 1
        yield (name if seen[name] == 1 else f"{name}-{seen[name]}"), busy


def _mend(title: str) -> Mend:
    return lambda amount, facts: f"“{title}” moved {wording.duration(amount)} out of the way"


def _reach(week: Week, spot: Spot) -> tuple[int, int]:
    """Between which slots a session of an opening may lie. Where the opening may give way it still starts on its day:
    then an event outside the opening can be in the way."""
    if not week.may_be_broken(f"opening:{DAYS[spot.day].value}"):
        return spot.start, spot.end
    day_starts = week.instance.clock.day_starts
    return day_starts[spot.day], day_starts[spot.day + 1] + LONGEST_SLOTS
