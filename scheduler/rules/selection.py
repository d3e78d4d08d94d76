"""Exercises that are wanted, avoided, or used at most so often."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week


class SelectionSetting(Setting):
    wanted: Mode | None = None
    """Mode for wanted exercises (default: wish); ``mode`` is that of avoided ones and of weekly numbers."""


def _mend(name: str, most: int) -> Mend:
    asked = f"instead of {most}" if most else "although it is avoided"
    return lambda amount, facts: f"{name} in {wording.counted(most + amount, 'session')} {asked}"


def _mend_wanted(name: str) -> Mend:
    return lambda amount, facts: f"the week without {name}"


class SelectionRule(Rule[SelectionSetting]):
    """Every wanted exercise is in the week; no avoided one is, nor one outside ``only``; uses(e) <= most_per_week(e).

    One switch an exercise, and one for the list ``only``. Breach: uses missing or too many.
    """

    key = "selection"
    title = "Wanted and avoided exercises"
    meaning = "Wanted exercises are in the week, avoided ones are not, and some come at most so often."
    formula = "uses(e) >= 1 for wanted e; uses(e) = 0 for avoided e; uses(e) <= most_per_week(e)"
    default_mode = Mode.MUST
    setting_model = SelectionSetting

    def switches(self, instance: Instance) -> Iterable[Switch]:
        pool = instance.brief.exercises
        uses = count_of("use")
        rows = instance.catalogue.exercises
        for key in pool.wanted:
            wish = self.setting(instance).wanted or Mode.WISH
            yield self.switch(
                instance,
                f"wanted:{key}",
                f"{rows[key].name} is in the week.",
                "{} missing",
                uses,
                mode=wish,
                mend=_mend_wanted(rows[key].name),
            )
        for key in pool.avoided:
            sentence = f"{rows[key].name} is not in the week."
            mend = _mend(rows[key].name, 0)
            yield self.switch(instance, f"avoided:{key}", sentence, "{} of it", uses, mend=mend)
        for key, most in pool.most_per_week.items():
            sentence = f"{rows[key].name} comes in at most {wording.counted(most, 'session')} a week."
            mend = _mend(rows[key].name, most)
            yield self.switch(instance, f"most:{key}", sentence, "{} too many", uses, mend=mend)
        if pool.only is not None:
            sentence = "Only exercises of the brief's own list are used."
            yield self.switch(instance, "only", sentence, "{} of others", uses)

    def excluded(self, instance: Instance, kind: Kind) -> Mapping[str, tuple[str, ...]]:
        return {key: (self.id(f"avoided:{key}"),) for key in instance.brief.exercises.avoided}

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        pool = facts.instance.brief.exercises
        found: dict[str, int] = {}

        def uses(key: str, *, planned_only: bool = False) -> int:
            sessions = facts.planned if planned_only else facts.sessions
            return sum(i.key == key and i.role is not Role.ACTIVATION for s in sessions for i in s.items)

        for key in pool.wanted:
            found[self.id(f"wanted:{key}")] = int(not uses(key))
        for key in pool.avoided:
            found[self.id(f"avoided:{key}")] = sum(i.key == key for s in facts.planned for i in s.items)
        for key, most in pool.most_per_week.items():
            found[self.id(f"most:{key}")] = uses(key) - max(most, uses(key) - uses(key, planned_only=True))
        if pool.only is not None:
            found[self.id("only")] = sum(i.key not in facts.instance.pool for s in facts.planned for i in s.items)
        return {switch: breach for switch, breach in found.items() if breach > 0}

    def post(self, week: Week) -> None:
        pool = week.instance.brief.exercises
        done = [i.key for s in week.sessions if s.facts for i in s.facts.items if i.role is not Role.ACTIVATION]
        options = [o for s in week.open_sessions for o in s.options]
        if (self.setting(week.instance).wanted or Mode.WISH) is not Mode.OFF:
            for key in pool.wanted:
                uses = sum(o.uses for o in options if o.stimulus.key == key) + done.count(key)
                week.model.add(uses + week.slack(self.id(f"wanted:{key}"), 1) >= 1)
        # What is named here stands alone in its class.
        for key, most in pool.most_per_week.items():
            uses = sum(o.uses for o in options if o.stimulus.key == key)
            slack = week.slack(self.id(f"most:{key}"), len(week.sessions))
            week.model.add(uses - slack <= max(0, most - done.count(key)))
