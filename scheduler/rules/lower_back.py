"""Heavy unsupported work for the lower back is budgeted; with the caution flag only supported variants are used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.catalogue import Caution, Exercise
from scheduler.domain.plan import Mode, Role
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, Kind, SessionFacts
from scheduler.rules.base import Look, Mend, Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear, Literal
    from scheduler.week.model import Week
    from scheduler.week.variables import SessionVars


_FLOOR_FACTOR = 4
"""A second hinge from the floor is as dear as the load of its two least sets."""


class LowerBackSetting(Setting):
    session_budget: int | None = Field(default=None, ge=0, le=200)
    two_day_budget: int | None = Field(default=None, ge=0, le=400)


class LowerBackRule(Rule[LowerBackSetting]):
    """load(s) = sum of sets(e) x load(e), e unsupported: 2 heavy, 1 some, 0 none. load(s) <= session budget; for
    sessions s, t of one day or of neighbouring days: load(s) + load(t) <= two-day budget; where t is past and over
    it by itself, s adds nothing. A session holds at most one hinge from the floor.

    With the lower-back caution both are musts, and exercises of load 2 are shut out. Three or four switches. Breach:
    load sets over the budget; hinges too many; unsupported exercises used.
    """

    key = "lower_back"
    title = "Load on the lower back"
    meaning = (
        "Heavy unsupported hinges, rows and squats are budgeted per session and on neighbouring days; a session holds "
        "at most one hinge from the floor."
    )
    formula = (
        "for all s: load(s) <= B1, load(s) <= B2, hinges from the floor in s <= 1; "
        "for all s, t, |day(s) - day(t)| <= 1: load(s) + load(t) <= B2"
    )
    default_mode = Mode.WISH
    evidence = ("lower_back_session_budget", "lower_back_two_day_budget", "lower_back_from_floor")
    setting_model = LowerBackSetting

    def mode(self, instance: Instance) -> Mode:
        return self.setting(instance).mode or (Mode.MUST if self._flagged(instance) else Mode.WISH)

    def _flagged(self, instance: Instance) -> bool:
        return Caution.LOWER_BACK in instance.brief.lifter.cautions

    def budgets(self, instance: Instance) -> tuple[int, int]:
        setting = self.setting(instance)
        default = instance.catalogue.default_int
        one, two = setting.session_budget, setting.two_day_budget
        return (
            one if one is not None else default("lower_back_session_budget"),
            two if two is not None else default("lower_back_two_day_budget"),
        )

    def mendable(self, switch: str, instance: Instance) -> bool:
        # With the caution the budgets are part of what it asks.
        return not self._flagged(instance)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        one, two = self.budgets(instance)
        unit = count_of("load set")
        yield self.switch(
            instance,
            "session",
            f"One session loads the lower back with at most {wording.counted(one, 'load set')} "
            "(a set of a heavy unsupported hinge, row or squat counts 2).",
            "one session is {} over",
            unit,
            evidence=("lower_back_session_budget",),
            mend=_mend("one session", one),
        )
        yield self.switch(
            instance,
            "two_days",
            f"Two neighbouring days load the lower back with at most {wording.counted(two, 'load set')}.",
            "two neighbouring days are {} over",
            unit,
            evidence=("lower_back_two_day_budget",),
            mend=_mend("two neighbouring days", two),
        )
        yield self.switch(
            instance,
            "from_floor",
            "A session holds at most one hinge from the floor.",
            "{} too many",
            count_of("hinge from the floor", "hinges from the floor"),
            factor=_FLOOR_FACTOR,
            evidence=("lower_back_from_floor",),
            mend=_mend_floor,
        )
        if self._flagged(instance):
            sentence = "With the lower-back caution only supported variants of hinges, rows and squats are used."
            unsupported = count_of("heavy unsupported exercise")
            yield self.switch(instance, "supported_only", sentence, "{} used", unsupported, evidence=())

    def looks_at(self, instance: Instance) -> Look:
        rows = instance.catalogue.exercises
        return lambda key: (rows[key].lower_back_load, _from_floor(rows[key]))

    def excluded(self, instance: Instance, kind: Kind) -> Mapping[str, tuple[str, ...]]:
        if not self._flagged(instance):
            return {}
        switch = self.id("supported_only")
        return {key: (switch,) for key, row in instance.catalogue.exercises.items() if row.lower_back_load == 2}

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        one, two = self.budgets(facts.instance)

        shut = self.excluded(facts.instance, next(iter(facts.instance.kinds.values())))
        unsupported = sum(item.key in shut for s in facts.planned for item in s.items)

        def most(a: SessionFacts, b: SessionFacts) -> int:
            return max([two, *(_load_of(s) for s in (a, b) if s.done)])

        return worst(
            [
                *((self.id("session"), _load_of(s) - one) for s in facts.planned),
                *((self.id("two_days"), _load_of(s) - two) for s in facts.planned),
                *(
                    (self.id("two_days"), _load_of(a) + _load_of(b) - most(a, b))
                    for a, b in facts.pairs()
                    if _neighbours(facts.instance, a.day, b.day)
                ),
                *((self.id("from_floor"), sum(_from_floor(i.exercise) for i in _items(s)) - 1) for s in facts.planned),
                (self.id("supported_only"), unsupported),
            ]
        )

    def post(self, week: Week) -> None:
        one, two = self.budgets(week.instance)
        loads = {id(s): _load(week, s) for s in (*week.past, *week.sessions)}
        most = 400
        for session in week.open_sessions:
            week.model.add(loads[id(session)] - week.slack(self.id("session"), most) <= one)
        floor = [[o for o in session.options if _from_floor(o.stimulus.row)] for session in week.open_sessions]
        most_hinges = max((sum(o.most_uses for o in options) for options in floor), default=0)
        for options in filter(None, floor):
            week.model.add(sum(o.uses for o in options) <= 1 + week.slack(self.id("from_floor"), most_hinges))
        slack = week.slack(self.id("two_days"), most)
        for session in week.open_sessions:
            week.model.add(loads[id(session)] - slack <= two)
        for a, b in week.all_pairs():
            near = [
                (first, second)
                for d, first in _days(a)
                for e, second in _days(b)
                if _neighbours(week.instance, d, e) and first is not week.zero and second is not week.zero
            ]
            if not near or (_is_zero(loads[id(a)]) or _is_zero(loads[id(b)])):
                continue
            close = week.bool_var(f"{a.label} next to {b.label}")
            for first, second in near:
                week.model.add_bool_or(first.negated(), second.negated(), close)
            allowed = max([two, *(loads[id(s)] for s in (a, b) if s.fixed)])
            week.model.add(loads[id(a)] + loads[id(b)] - slack <= allowed).only_enforce_if(close)


def _from_floor(row: Exercise) -> bool:
    return row.pattern == "hinge" and row.from_floor


def _items(session: SessionFacts) -> list[Item]:
    """What loads the back: light activation sets do not count."""
    return [item for item in session.items if item.role is not Role.ACTIVATION]


def _load_of(session: SessionFacts) -> int:
    return sum(item.sets * item.exercise.lower_back_load for item in _items(session))


def _load(week: Week, session: SessionVars) -> Linear:
    if session.facts is not None:
        return _load_of(session.facts)
    return sum(o.stimulus.row.lower_back_load * o.sets for o in session.options if o.stimulus.row.lower_back_load)


def _is_zero(load: Linear) -> bool:
    return isinstance(load, int) and load == 0


def _days(session: SessionVars) -> list[tuple[int, Literal]]:
    if session.facts is not None:
        return [(session.facts.day, session.active)]
    return list(enumerate(session.day))


def _neighbours(instance: Instance, one: int, other: int) -> bool:
    apart = abs(one - other)
    return apart <= 1 or (instance.ring is not None and apart == len(DAYS) - 1)


def _mend_floor(amount: int, facts: WeekFacts | None) -> str:
    return f"{amount + 1} hinges from the floor in one session"


def _mend(what: str, budget: int) -> Mend:
    return lambda amount, facts: (
        f"{what} with {wording.counted(budget + amount, 'load set')} on the lower back instead of at most {budget}"
    )
