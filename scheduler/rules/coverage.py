"""Patterns that a session kind, or the week, must hold; planes in which a muscle must be trained."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue, Exercise
from scheduler.domain.errors import Fault, unknown
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind, SessionFacts
from scheduler.rules.base import Look, Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear
    from scheduler.week.model import Week

LAT_PLANES = ("adduction", "extension")


class CoverageSetting(Setting):
    week_patterns: tuple[str, ...] = ()
    """Patterns that the week must hold somewhere."""
    lat_planes: bool | None = None
    """Whether the lats need both shoulder adduction and extension; left out: when they have a priority."""


class CoverageRule(Rule[CoverageSetting]):
    """Every session of kind k holds each pattern k requires; the week holds each of ``week_patterns``; the lats, where
    they are a priority, are trained directly in shoulder adduction and in extension.

    One switch a kind and pattern, a pattern of the week, a plane. Breach: sessions (or weeks) that lack it. Only main
    work covers; quick add-on sets do not.
    """

    key = "coverage"
    title = "Coverage"
    meaning = "Sessions and the week hold the patterns they are there for."
    formula = "for all s, p in required(kind(s)) exists e in s: pattern(e) = p; the same over the week"
    default_mode = Mode.MUST
    setting_model = CoverageSetting

    def faults(self, setting: CoverageSetting, brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
        yield from unknown("rules.coverage.week_patterns", "pattern", setting.week_patterns, catalogue.patterns)

    def notes(self, facts: WeekFacts) -> Iterable[str]:
        """Sessions for the whole body in which the legs have nothing: what is required of a kind is for the brief."""
        instance = facts.instance
        if self.mode(instance) is Mode.OFF:
            return
        for key, kind in instance.kinds.items():
            legless = [
                DAYS[s.day].full_name
                for s in facts.planned
                if s.kind == key and kind.lower_body and not any(i.exercise.lower_body for i in s.items)
            ]
            if legless:
                yield (
                    f"{kind.name} on {wording.listed(legless)} holds nothing for legs or hips. The kind can require "
                    "it: required: [squat], or [hinge]."
                )

    def _planes(self, instance: Instance) -> tuple[str, ...]:
        wanted = self.setting(instance).lat_planes
        if wanted is None:
            wanted = any("lats" in t.members for t in instance.priorities())
        return LAT_PLANES if wanted else ()

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            for pattern in kind.required:
                name = instance.catalogue.patterns[pattern].name.lower()
                yield self.switch(
                    instance,
                    f"kind:{kind.key}:{pattern}",
                    f"Every {kind.name} session holds a {name}.",
                    f"{{}} of {kind.name} without a {name}",
                    count_of("session"),
                    mend=_mend(f"{kind.name} session", name),
                )
        for pattern in self.setting(instance).week_patterns:
            name = instance.catalogue.patterns[pattern].name.lower()
            sentence = f"The week holds a {name}."
            breach = f"{{}} without a {name}"
            mend = _mend("week", name)
            yield self.switch(instance, f"week:{pattern}", sentence, breach, count_of("week"), mend=mend)
        for plane in self._planes(instance):
            yield self.switch(
                instance,
                f"plane:lats:{plane}",
                f"The lats are trained in shoulder {plane}.",
                f"{{}} without shoulder {plane} for the lats",
                count_of("week"),
            )

    def looks_at(self, instance: Instance) -> Look:
        required = {pattern for kind in instance.kinds.values() for pattern in kind.required}
        needs = [provides for _, provides in self._week_needs(instance)]

        def look(exercise: str) -> Hashable:
            row = instance.catalogue.exercises[exercise]
            return row.pattern if row.pattern in required else None, tuple(provides(row) for provides in needs)

        return look

    def _week_needs(self, instance: Instance) -> Iterator[tuple[str, Callable[[Exercise], bool]]]:
        """What the week must hold: switch, and whether an exercise provides it."""
        for pattern in self.setting(instance).week_patterns:
            yield self.id(f"week:{pattern}"), partial(_is_of, pattern)
        for plane in self._planes(instance):
            yield self.id(f"plane:lats:{plane}"), partial(_trains_lats_in, plane)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        instance = facts.instance
        found: dict[str, int] = {}
        for kind in instance.kinds.values():
            for pattern in kind.required:
                lacking = sum(s.kind == kind.key and not self._holds(facts, s, pattern) for s in facts.planned)
                found[self.id(f"kind:{kind.key}:{pattern}")] = lacking
        everything = [item for s in facts.sessions for item in facts.main_items(s)]
        for switch, provides in self._week_needs(instance):
            found[switch] = int(not any(provides(item.exercise) for item in everything))
        return {switch: breach for switch, breach in found.items() if breach}

    def _holds(self, facts: WeekFacts, session: SessionFacts, pattern: str) -> bool:
        return any(item.exercise.pattern == pattern for item in facts.main_items(session))

    def post(self, week: Week) -> None:
        for kind in week.instance.kinds.values():
            self._post_kind(week, kind)
        for switch, provides in self._week_needs(week.instance):
            items = (i for s in week.sessions if s.facts for i in week.facts.main_items(s.facts))
            done = any(provides(item.exercise) for item in items)
            if not done:
                provided = [(s, o, 1) for s in week.open_sessions for o in s.main if provides(o.stimulus.row)]
                slack = week.slack(switch, 1)
                week.model.add(sum(o.use for _, o, _ in provided) + slack >= 1)
                week.cover(1, provided, slack)

    def _post_kind(self, week: Week, kind: Kind) -> None:
        sessions = [s for s in week.open_sessions if s.kind == kind.key]
        for pattern in kind.required:
            slack = week.slack(self.id(f"kind:{kind.key}:{pattern}"), len(sessions))
            lacking = []
            for session in sessions:
                provided = [(session, o, 1) for o in session.main if o.stimulus.row.pattern == pattern]
                lacks: Linear = 0
                if not isinstance(slack, int) or slack:
                    lacks = week.bool_var(f"{session.label} lacks {pattern}")
                    lacking.append(lacks)
                week.model.add(sum(o.use for _, o, _ in provided) + lacks >= session.active)
                week.cover(1, provided, lacks, session.active)
            if lacking:
                week.model.add(sum(lacking) <= slack)


def _is_of(pattern: str, row: Exercise) -> bool:
    return row.pattern == pattern


def _trains_lats_in(plane: str, row: Exercise) -> bool:
    return row.plane == plane and "lats" in row.direct


def _mend(noun: str, pattern: str) -> Mend:
    return lambda amount, facts: f"{wording.counted(amount, noun)} without a {pattern}"
