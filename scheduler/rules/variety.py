"""Enough distinct exercises and grips for a muscle, and none of a priority muscle's twice in a row."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import QUARTERS_PER_SET
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import Look, Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear, Literal
    from scheduler.week.model import Week
    from scheduler.week.variables import OptionVars, SessionVars

_WORTH_VARIETY = 8 * QUARTERS_PER_SET


class VarietySetting(Setting):
    grips: int | None = Field(default=None, ge=0, le=3)
    """Least distinct grips for a priority muscle (default 2, where its exercises have grips)."""


class VarietyRule(Rule[VarietySetting]):
    """distinct(m) >= n: distinct main exercises a week that train m directly. For a priority m also: distinct grips
    >= 2, and no exercise in two sessions one right after the other among those that train m directly.

    Up to three switches a goal. Breach: exercises or grips missing; uses twice in a row.
    """

    key = "variety"
    title = "Variety"
    meaning = "A muscle gets several distinct exercises and grips, and none twice in a row."
    formula = "|{e: direct(e, m), uses(e) > 0}| >= n(m); |grips| >= 2; use(s, e) + use(t, e) <= 1 for s, t in a row"
    default_mode = Mode.WISH
    evidence = ("distinct_exercises_priority", "distinct_exercises")
    setting_model = VarietySetting

    def distinct(self, instance: Instance) -> Iterator[tuple[str, int, bool]]:
        """Target, least distinct exercises, whether a default says so."""
        asked = instance.brief.exercises.least_distinct
        for key, number in asked.items():
            yield key, number, False
        for target in instance.targets.values():
            if target.key in asked or target.is_group:
                continue
            if target.priority is not None:
                yield target.key, instance.catalogue.default_int("distinct_exercises_priority"), True
            elif target.aim >= _WORTH_VARIETY:
                yield target.key, instance.catalogue.default_int("distinct_exercises"), True

    def grips(self, instance: Instance) -> Iterator[tuple[str, int]]:
        given = self.setting(instance).grips
        least = 2 if given is None else given
        for target in instance.priorities():
            found = {row.grip for key, row in instance.pool.items() if row.grip and instance.direct(key, target.key)}
            if least and len(found) >= least:
                yield target.key, least

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for key, least, default in self.distinct(instance):
            name = _name(instance, key)
            priority = key in instance.targets and instance.targets[key].priority is not None
            row = "distinct_exercises_priority" if priority else "distinct_exercises"
            yield self.switch(
                instance,
                f"distinct:{key}",
                f"At least {wording.counted(least, 'distinct exercise')} a week for {name}.",
                f"{{}} too few for {name}",
                count_of("exercise"),
                evidence=(row,) if default else (),
                mend=_mend(name, "distinct exercise", least),
            )
        for key, least in self.grips(instance):
            name = _name(instance, key)
            yield self.switch(
                instance,
                f"grips:{key}",
                f"At least {wording.counted(least, 'grip')} a week for {name}.",
                f"{{}} too few for {name}",
                count_of("grip"),
                evidence=(),
                mend=_mend(name, "grip", least),
            )
        for target in instance.priorities():
            yield self.switch(
                instance,
                f"repeats:{target.key}",
                f"No exercise for {target.name} comes in two sessions for it in a row.",
                "{} twice in a row",
                count_of("exercise"),
                evidence=(),
                mend=_mend_repeats(target.name),
            )

    def looks_at(self, instance: Instance) -> Look:
        asked = tuple(instance.brief.exercises.least_distinct)
        gripping = [key for key, _ in self.grips(instance)]

        def look(exercise: str) -> Hashable:
            direct = tuple(instance.direct(exercise, key) for key in asked)
            grip = any(instance.direct(exercise, key) for key in gripping)
            return direct, instance.catalogue.exercises[exercise].grip if grip else None

        return look

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        instance = facts.instance
        items = [i for s in facts.sessions for i in facts.main_items(s)]
        found = {}
        for key, least, _ in self.distinct(instance):
            found[self.id(f"distinct:{key}")] = least - len({i.key for i in items if instance.direct(i.key, key)})
        for key, least in self.grips(instance):
            grips = {i.exercise.grip for i in items if i.exercise.grip and instance.direct(i.key, key)}
            found[self.id(f"grips:{key}")] = least - len(grips)
        for target in instance.priorities():
            held = [
                ({i.key for i in facts.main_items(s) if instance.direct(i.key, target.key)}, s.done)
                for s in facts.sessions
            ]
            used = [(keys, done) for keys, done in held if keys]
            # Of two that are done the repeat is no one's to change.
            found[self.id(f"repeats:{target.key}")] = sum(
                len(one & other) for (one, was), (other, is_done) in pairwise(used) if not (was and is_done)
            )
        return {switch: breach for switch, breach in found.items() if breach > 0}

    def post(self, week: Week) -> None:
        instance = week.instance
        done = {i.key for s in week.sessions if s.facts for i in week.facts.main_items(s.facts)}
        for key, least, _ in self.distinct(instance):
            counts: list[Linear] = []
            merged: set[str] = set()
            for stimulus in week.classes:
                if not instance.direct(stimulus.key, key):
                    continue
                merged.update(stimulus.members)
                uses = [o.uses for s in week.open_sessions for o in s.main if o.stimulus is stimulus]
                already = int(stimulus.key in done)
                if not uses:
                    counts.append(already)
                    continue
                number = week.model.new_int_var(0, stimulus.size, f"distinct {stimulus.key} for {key}")
                week.model.add(number <= sum(uses) + already)
                counts.append(number)
            counts.append(sum(e not in merged and instance.direct(e, key) for e in done))
            slack = week.slack(self.id(f"distinct:{key}"), least)
            week.model.add(sum(counts) + slack >= least)
            new = [(s, o, 1) for s in week.open_sessions for o in s.main if instance.direct(o.stimulus.key, key)]
            week.cover(least - sum(instance.direct(e, key) for e in done), new, slack)
        for key, least in self.grips(instance):
            self._post_grips(week, key, least)
        for target in instance.priorities():
            self._post_repeats(week, target.key)

    def _post_grips(self, week: Week, key: str, least: int) -> None:
        instance = week.instance
        done = {
            i.exercise.grip
            for s in week.sessions
            if s.facts
            for i in week.facts.main_items(s.facts)
            if instance.direct(i.key, key)
        }
        seen: list[Linear] = []
        for grip in ("pronated", "neutral", "supinated"):
            if grip in done:
                seen.append(1)
                continue
            uses = [
                o.use
                for s in week.open_sessions
                for o in s.main
                if o.stimulus.row.grip == grip and instance.direct(o.stimulus.key, key)
            ]
            if uses:
                literal = week.bool_var(f"{grip} grip for {key}")
                week.model.add_bool_or(~literal, *uses)
                seen.append(literal)
        week.model.add(sum(seen) + week.slack(self.id(f"grips:{key}"), least) >= least)

    def _post_repeats(self, week: Week, key: str) -> None:
        """Classes are dealt out round-robin: two sessions in a row share their uses together less the members."""
        instance = week.instance
        model = week.model
        uses = {id(s): _uses(week, s, key) for s in week.sessions}
        trains: dict[int, Literal] = {}
        for session in week.sessions:
            if session.facts is not None:
                trains[id(session)] = week.one if uses[id(session)] else week.zero
                continue
            trains[id(session)] = week.bool_var(f"{session.label} trains {key}")
            used: list[Linear] = [o.use for o in session.main if instance.direct(o.stimulus.key, key)]
            model.add_max_equality(trains[id(session)], used or [0])
        repeats: list[Linear] = []
        most = 0
        for n, one in enumerate(week.sessions):
            for other in week.sessions[:n]:
                if one.fixed and other.fixed:
                    continue
                pairs = [(uses[id(one)][e], uses[id(other)][e]) for e in uses[id(one)] if e in uses[id(other)]]
                pairs = [(u, v) for u, v in pairs if u.most + v.most > u.size]
                if not pairs:
                    continue
                between = []
                for third in week.sessions:
                    if third is one or third is other:
                        continue
                    for first, last in ((one, other), (other, one)):
                        inside = week.bool_var(f"{third.label} between {first.label} and {last.label}")
                        model.add_implication(inside, trains[id(third)])
                        model.add_implication(inside, week.before(first, third))
                        model.add_implication(inside, week.before(third, last))
                        between.append(inside)
                for u, v in pairs:
                    shared = u.most + v.most - u.size
                    repeat = model.new_int_var(0, shared, f"shared by {one.label} and {other.label} in a row")
                    model.add(u.number + v.number - u.size <= repeat + shared * sum(between))
                    repeats.append(repeat)
                    most += shared
        if repeats:
            model.add(sum(repeats) <= week.slack(self.id(f"repeats:{key}"), most))


@dataclass(frozen=True)
class _Uses:
    """How many members of a class a session uses as main exercises."""

    number: Linear
    most: int
    size: int


def _uses(week: Week, session: SessionVars, key: str) -> dict[str, _Uses]:
    """Per class that trains a muscle directly, what a session uses of it."""
    if session.facts is not None:
        items = week.facts.main_items(session.facts)
        return {i.key: _Uses(1, 1, 1) for i in items if week.instance.direct(i.key, key)}
    grouped: dict[str, list[OptionVars]] = {}
    for option in session.main:
        if week.instance.direct(option.stimulus.key, key):
            grouped.setdefault(option.stimulus.key, []).append(option)
    found = {}
    for name, options in grouped.items():
        size = options[0].stimulus.size
        found[name] = _Uses(sum(o.uses for o in options), min(size, sum(o.most_uses for o in options)), size)
    return found


def _mend(name: str, noun: str, least: int) -> Mend:
    return lambda amount, facts: f"{wording.counted(least - amount, noun)} for {name} instead of {least}"


def _mend_repeats(name: str) -> Mend:
    return lambda amount, facts: f"{wording.counted(amount, 'exercise')} for {name} twice in a row"


def _name(instance: Instance, key: str) -> str:
    known = instance.catalogue.groups if key in instance.catalogue.groups else instance.catalogue.muscles
    return known[key].name
