"""No more work, time and walking than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.domain.units import TICK_SECONDS, TICKS_PER_SLOT
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import SETS, Rule, Setting, Switch, Unit, count_of

if TYPE_CHECKING:
    from scheduler.week.model import OptionVars, Week

_EXERCISES = count_of("exercise")
_TICKS = Unit("quarter minute", lambda ticks: f"{ticks * TICK_SECONDS / 60:g} min")
_VISIT_FACTOR = _EXERCISE_FACTOR = TICKS_PER_SLOT
"""A station or an exercise more is as dear as five minutes ..."""
_SURPLUS_FACTOR = 2
"""... and a whole set above the aim as two."""
LONGEST_TICKS = 48 * TICKS_PER_SLOT
_STATIONS = count_of("station")


class EconomyRule(Rule[Setting]):
    """Counted sets above each goal's aim, minutes, stations visited in each session, and exercises, all summed over
    the sessions not yet done: as few as can be. Minutes are those of warm-up, set-ups, sets and rests, before a session
    is rounded up to its whole slots.

    Four switches. Measures: quarter sets, quarter minutes, stations, exercises. A station or an exercise weighs as
    much as five minutes, a set above the aim as much as two.
    """

    key = "economy"
    title = "Economy"
    meaning = "Sets above the aim, minutes, changes of station and number of exercises are kept small."
    formula = (
        "minimise sum of 2 min x max(0, total(m) - aim(m)), minutes(s), 5 min x |stations(s)|, 5 min x |exercises(s)|"
    )
    default_mode = Mode.WISH
    tier = 4
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        new = self.switch
        yield new(instance, "surplus", "Few sets above the aim.", "{} above the aim", SETS, factor=_SURPLUS_FACTOR)
        yield new(instance, "minutes", "Short sessions.", "{} of work and rest", _TICKS)
        yield new(instance, "stations", "Few changes of station.", "{} visited", _STATIONS, factor=_VISIT_FACTOR)
        yield new(instance, "exercises", "Few exercises.", "{} in all", _EXERCISES, factor=_EXERCISE_FACTOR)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        surplus = sum(max(0, facts.total(t.key) - t.aim) for t in facts.instance.targets.values())
        stations = exercises = 0
        for session in facts.planned:
            items = [i for i in session.items if i.role is not Role.ACTIVATION]
            stations += len({i.exercise.station for i in items})
            exercises += len(items)
        minutes = sum(facts.ticks(s) for s in facts.planned)
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
        model.add(sum(s.ticks for s in sessions) <= week.slack(self.id("minutes"), LONGEST_TICKS * len(week.sessions)))
        uses = [o.uses for s in sessions for o in s.options]
        model.add(sum(uses) <= week.slack(self.id("exercises"), 100 * len(week.sessions)))
        visited = []
        for session in sessions:
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
        model.add(sum(visited) <= week.slack(self.id("stations"), 40 * len(week.sessions)))
