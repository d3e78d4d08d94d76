"""Light sets that wake the priority muscle before its first hard set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts, activation_ticks
from scheduler.instance import Instance, SessionFacts, Target
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal
    from scheduler.week.model import Week
    from scheduler.week.variables import SessionVars

MUSCLE_OF_PRIORITY = 1


class ActivationRule(Rule[Setting]):
    """For the muscle m of priority 1 and every session s with hit(s, m): light sets of an exercise that trains m
    directly come before the first main exercise for m.

    They cost minutes and count no sets. One switch a muscle. Breach: sessions without.
    """

    key = "activation"
    title = "Activation"
    meaning = "A few light sets, not to failure, come before the first hard set of the priority muscle."
    formula = "for all s, hit(s, m): exists activation a in s, direct(a, m), before the first main e, direct(e, m)"
    default_mode = Mode.WISH
    takes_time = True
    evidence = ("activation_sets", "activation_minutes")

    def targets(self, instance: Instance) -> Iterator[Target]:
        yield from (t for t in instance.priorities() if t.priority == MUSCLE_OF_PRIORITY and not t.is_group)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        sets = wording.counted(instance.catalogue.default_int("activation_sets"), "light set")
        for target in self.targets(instance):
            sentence = f"{sets[0].upper()}{sets[1:]} for {target.name} before its first hard set of a session."
            unit = count_of("session")
            yield self.switch(instance, target.key, sentence, "{} without", unit, mend=_mend(target.name))

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = {}
        for target in self.targets(facts.instance):
            without = sum(
                facts.is_hit(s, target.key) and not self._activated(facts, s, target.key) for s in facts.planned
            )
            if without:
                found[self.id(target.key)] = without
        return found

    def _activated(self, facts: WeekFacts, session: SessionFacts, target: str) -> bool:
        for item in session.items:
            if facts.instance.direct(item.key, target):
                return item.role is Role.ACTIVATION
        return False

    def post(self, week: Week) -> None:
        targets = list(self.targets(week.instance))
        for target in targets:
            for session in week.open_sessions:
                active = week.bool_var(f"{session.label} activates {target.key}")
                week.model.add_implication(active, week.hit(session, target.key))
                week.model.add_bool_or(~active, *self._places(week, session, target.key))
                session.extra_ticks.append(activation_ticks(week.instance) * active)
                week.activations[id(session), target.key] = active
        for target in targets:
            without = []
            for session in week.open_sessions:
                lacking = week.bool_var(f"{session.label} lacks activation of {target.key}")
                # What wakes one muscle may train another directly too.
                woken = [self._woken(week, session, other.key, target.key) for other in targets]
                week.model.add_bool_or(~week.hit(session, target.key), *woken, lacking)
                without.append(lacking)
            slack = week.slack(self.id(target.key), len(without))
            week.model.add(sum(without) <= slack)

    def _places(self, week: Week, session: SessionVars, target: str) -> list[Literal]:
        return [
            here for place, here in session.at.items() if week.activation_exercise(session, target, place) is not None
        ]

    def _woken(self, week: Week, session: SessionVars, target: str, other: str) -> Literal:
        """Whether a session wakes one muscle with what trains another directly too, at its place."""
        active = week.activations[id(session), target]
        found = {here: week.activation_exercise(session, target, place) for place, here in session.at.items()}
        fit = [here for here, key in found.items() if key is not None and week.instance.direct(key, other)]
        if len(fit) == sum(key is not None for key in found.values()):
            return active
        woken = week.bool_var(f"{session.label} wakes {other} with {target}")
        week.model.add_implication(woken, active)
        week.model.add_bool_or(~woken, *fit)
        return woken


def _mend(name: str) -> Mend:
    return lambda amount, facts: f"{wording.counted(amount, 'session')} without light sets first for {name}"
