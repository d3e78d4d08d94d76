"""No more walking between stations than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import OptionVars, Week


class FewStationsRule(Rule[Setting]):
    """Stations visited in each session not yet done, summed over the week: as few as can be.

    One switch. Measure: stations.
    """

    key = "few_stations"
    title = "Few stations"
    meaning = "No more changes of station than the week needs."
    formula = "minimise sum over s of |stations(s)|"
    default_mode = Mode.WISH
    tier = 5
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Few changes of station.", "{} visited", count_of("station"))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        stations = sum(
            len({i.exercise.station for i in s.items if i.role is not Role.ACTIVATION}) for s in facts.planned
        )
        return {self.id(""): stations} if stations else {}

    def post(self, week: Week) -> None:
        model = week.model
        visited = []
        for session in week.open_sessions:
            stations: dict[str, dict[int, list[OptionVars]]] = {}
            for option in session.options:
                by_class = stations.setdefault(option.stimulus.row.station, {})
                by_class.setdefault(option.stimulus.index, []).append(option)
            for station, by_class in stations.items():
                visit = week.bool_var(f"{session.label} visits {station}")
                for mine in by_class.values():
                    most = min(mine[0].stimulus.size, sum(o.most_uses for o in mine))
                    # One inequality a class is tighter than one a zone.
                    model.add(sum(o.uses for o in mine) <= most * visit)
                    if most > 1:
                        for option in mine:
                            model.add_implication(option.use, visit)
                visited.append(visit)
        model.add(sum(visited) <= week.slack(self.id(""), 40 * len(week.sessions)))
