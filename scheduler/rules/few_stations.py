"""No more walking between stations than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Look, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal
    from scheduler.week.model import Week
    from scheduler.week.variables import Cover, OptionVars, SessionVars


class FewStationsRule(Rule[Setting]):
    """Stations visited in each session not yet done, summed over the week: as few as can be.

    One switch. Measure: stations. Of weeks with the same work in each session only: the fewest stations of all weeks
    take longer to prove than all else together, and a walk is not worth that wait.
    """

    key = "few_stations"
    title = "Few stations"
    meaning = "No more changes of station than the week needs."
    formula = "minimise sum over s of |stations(s)|"
    default_mode = Mode.WISH
    tier = 6
    measure = True

    def switches(self, instance: Instance) -> Iterable[Switch]:
        yield self.switch(instance, "", "Few changes of station.", "{} visited", count_of("station"))

    def looks_at(self, instance: Instance) -> Look:
        return lambda exercise: instance.catalogue.exercises[exercise].station

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        stations = sum(
            len({i.exercise.station for i in s.items if i.role is not Role.ACTIVATION}) for s in facts.planned
        )
        return {self.id(""): stations} if stations else {}

    def post(self, week: Week) -> None:
        model = week.model
        visits: dict[Place, Literal] = {}
        for place, classes in _by_place((s, o) for s in week.open_sessions for o in s.options).items():
            visits[place] = visit = week.bool_var(f"{place[0]} visits {place[1]}")
            for mine in classes:
                most = _most_uses(mine)
                # One inequality a class is tighter than one a zone.
                model.add(sum(o.uses for o in mine) <= most * visit)
                if most > 1:
                    for option in mine:
                        model.add_implication(option.use, visit)
        for cover in week.covers:
            self._cover(week, cover, visits)
        model.add(sum(visits.values()) <= week.slack(self.id(""), 40 * len(week.sessions)))

    def _cover(self, week: Week, cover: Cover, visits: Mapping[Place, Literal]) -> None:
        """What exercises must give, stations must give: redundant, and tighter than class by class."""
        most = {id(option): most for _, option, most in cover.gives}
        gives = []
        for place, classes in _by_place((s, o) for s, o, _ in cover.gives).items():
            whole = sum(_most_uses(mine) * max(most[id(o)] for o in mine) for mine in classes)
            gives.append(min(cover.least, whole) * visits[place])
        week.model.add(sum(gives) + cover.slack >= cover.least * cover.when)


Place = tuple[str, str]
"""A session, by its label, and a station."""


def _by_place(options: Iterable[tuple[SessionVars, OptionVars]]) -> dict[Place, list[list[OptionVars]]]:
    """Options by session and station, and there by class."""
    found: dict[Place, dict[int, list[OptionVars]]] = {}
    for session, option in options:
        by_class = found.setdefault((session.label, option.stimulus.row.station), {})
        by_class.setdefault(option.stimulus.index, []).append(option)
    return {place: list(by_class.values()) for place, by_class in found.items()}


def _most_uses(options: list[OptionVars]) -> int:
    """How many exercises of one class a session can hold."""
    return min(options[0].stimulus.size, sum(o.most_uses for o in options))
