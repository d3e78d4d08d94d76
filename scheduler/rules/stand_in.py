"""A week without a squat, or without a pull from the floor, holds direct trunk-extension work instead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Mode
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Look, Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


_PATTERN = "trunk_extension"


class StandInSetting(Setting):
    sets: int | None = Field(default=None, ge=1, le=20)


class StandInRule(Rule[StandInSetting]):
    """squat in week and hinge from the floor in week, or trunk-extension sets >= n.

    One switch. Breach: trunk-extension sets missing.
    """

    key = "stand_in"
    title = "Stand-in for squat and floor pull"
    meaning = "If the week holds no squat or no hinge from the floor, it holds direct trunk-extension work."
    formula = "(exists squat and exists floor hinge) or sum of direct trunk-extension sets >= n"
    default_mode = Mode.MUST
    evidence = ("stand_in_sets",)
    setting_model = StandInSetting

    def sets(self, instance: Instance) -> int:
        return self.setting(instance).sets or instance.catalogue.default_int("stand_in_sets")

    def switches(self, instance: Instance) -> Iterable[Switch]:
        asked = wording.counted(self.sets(instance), "direct trunk-extension set")
        sentence = f"A week without a squat, or without a hinge from the floor, holds at least {asked}"
        offered = {pattern for kind in instance.kinds.values() for pattern in kind.patterns}
        if _PATTERN not in offered:
            # Else whoever reads it looks for what it clashes with, and there is nothing: only a pattern is missing.
            sentence += f", which no kind of session offers (its patterns would have to name {_PATTERN})"
        unit = count_of("trunk-extension set")
        yield self.switch(instance, "", f"{sentence}.", "{} missing", unit, mend=_mend(self.sets(instance)))

    def looks_at(self, instance: Instance) -> Look:
        rows = instance.catalogue.exercises
        return lambda key: (_squat(rows[key]), _floor_hinge(rows[key]), _trunk_extension(rows[key]))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        items = [i for s in facts.sessions for i in facts.main_items(s)]
        if any(_squat(i.exercise) for i in items) and any(_floor_hinge(i.exercise) for i in items):
            return {}
        missing = self.sets(facts.instance) - sum(i.sets for i in items if _trunk_extension(i.exercise))
        return {self.id(""): missing} if missing > 0 else {}

    def post(self, week: Week) -> None:
        options = [o for s in week.open_sessions for o in s.main]
        done = [i for s in week.sessions if s.facts for i in week.facts.main_items(s.facts)]
        both = week.bool_var("squat and floor hinge")
        for needed in (_squat, _floor_hinge):
            if not any(needed(i.exercise) for i in done):
                week.model.add_bool_or(~both, *(o.use for o in options if needed(o.stimulus.row)))
        sets = self.sets(week.instance)
        trunk = sum(o.sets for o in options if _trunk_extension(o.stimulus.row))
        already = sum(i.sets for i in done if _trunk_extension(i.exercise))
        week.model.add(trunk + already + sets * both + week.slack(self.id(""), sets) >= sets)


def _squat(row: Exercise) -> bool:
    return row.pattern == "squat"


def _floor_hinge(row: Exercise) -> bool:
    return row.pattern == "hinge" and row.from_floor


def _trunk_extension(row: Exercise) -> bool:
    return row.pattern == _PATTERN and "erectors" in row.direct


def _mend(asked: int) -> Mend:
    return lambda amount, facts: f"{wording.counted(asked - amount, 'trunk-extension set')} instead of {asked}"
