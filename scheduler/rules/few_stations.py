"""No more walking between stations than the week needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal
    from scheduler.week.model import Cover, OptionVars, Week


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
    tier = 7
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
        visits: dict[tuple[int, str], Literal] = {}
        for session in week.open_sessions:
            for station, classes in _stations(session.options).items():
                visit = week.bool_var(f"{session.label} visits {station}")
                visits[id(session), station] = visit
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

    def _cover(self, week: Week, cover: Cover, visits: Mapping[tuple[int, str], Literal]) -> None:
        """What exercises must give, stations must give: redundant, and tighter than class by class."""
        sessions = {id(session): session for session, _, _ in cover.gives}
        most = {id(option): most for _, option, most in cover.gives}
        gives = []
        for number, session in sessions.items():
            offered = [option for s, option, _ in cover.gives if s is session]
            for station, classes in _stations(offered).items():
                whole = sum(_most_uses(mine) * max(most[id(o)] for o in mine) for mine in classes)
                gives.append(min(cover.least, whole) * visits[number, station])
        week.model.add(sum(gives) + cover.slack >= cover.least * cover.when)


def _stations(options: Iterable[OptionVars]) -> dict[str, list[list[OptionVars]]]:
    """Options by station, and there by class."""
    found: dict[str, dict[int, list[OptionVars]]] = {}
    for option in options:
        by_class = found.setdefault(option.stimulus.row.station, {})
        by_class.setdefault(option.stimulus.index, []).append(option)
    return {station: list(by_class.values()) for station, by_class in found.items()}


def _most_uses(options: list[OptionVars]) -> int:
    """How many exercises of one class a session can hold."""
    return min(options[0].stimulus.size, sum(o.most_uses for o in options))
