"""No more work, time and walking than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import SETS, TIME, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week

_EXERCISES = count_of("exercise")
_STATIONS = count_of("station")


class EconomyRule(Rule[Setting]):
    """Counted sets above each goal's aim, minutes, stations visited in each session, and exercises, all summed over
    the sessions not yet done: as few as can be.

    Four switches. Measures: quarter sets, five minutes, stations, exercises.
    """

    key = "economy"
    title = "Economy"
    meaning = "Sets above the aim, minutes, changes of station and number of exercises are kept small."
    formula = "minimise sum of max(0, total(m) - aim(m)), length(s), |stations(s)|, |exercises(s)|"
    default_mode = Mode.WISH
    tier = 4
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "surplus", "Few sets above the aim.", "{} above the aim", SETS)
        yield self.switch(instance, "minutes", "Short sessions.", "{} in all", TIME)
        yield self.switch(instance, "stations", "Few changes of station.", "{} visited", _STATIONS)
        yield self.switch(instance, "exercises", "Few exercises.", "{} in all", _EXERCISES)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        surplus = sum(max(0, facts.total(t.key) - t.aim) for t in facts.instance.targets.values())
        stations = exercises = 0
        for session in facts.planned:
            items = [i for i in session.items if i.role is not Role.ACTIVATION]
            stations += len({i.exercise.station for i in items})
            exercises += len(items)
        minutes = sum(s.end - s.start for s in facts.planned)
        found = {"surplus": surplus, "minutes": minutes, "stations": stations, "exercises": exercises}
        return {self.id(name): amount for name, amount in found.items() if amount}

    def post(self, week: Week) -> None:
        model = week.model
        sessions = week.open_sessions
        over = []
        for target in week.instance.targets.values():
            most = week.most_volume(target.key) * max(1, len(week.sessions))
            surplus = model.new_int_var(0, most, f"surplus {target.key}")
            model.add(surplus >= week.total(target.key) - target.aim)
            over.append(surplus)
        if over:
            model.add(sum(over) <= week.slack(self.id("surplus"), 4000))
        model.add(sum(s.length for s in sessions) <= week.slack(self.id("minutes"), 48 * len(week.sessions)))
        uses = [o.use for s in sessions for o in s.options]
        model.add(sum(uses) <= week.slack(self.id("exercises"), 40 * len(week.sessions)))
        visited = []
        for session in sessions:
            stations: dict[str, list[object]] = {}
            for option in session.options:
                stations.setdefault(option.stimulus.row.station, []).append(option.use)
            for station, literals in stations.items():
                visit = week.bool_var(f"{session.label} visits {station}")
                for literal in literals:
                    model.add_implication(literal, visit)
                visited.append(visit)
        model.add(sum(visited) <= week.slack(self.id("stations"), 40 * len(week.sessions)))
