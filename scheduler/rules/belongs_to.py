"""Lower-body work belongs to lower-body sessions; a pull from the floor is lower-body work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduler.domain.plan import Mode
from scheduler.instance import Instance, Kind
from scheduler.rules.base import Setting, Switch, count_of
from scheduler.rules.exclusion import ExclusionRule


class BelongsToRule(ExclusionRule[Setting]):
    """For every exercise e in a session of kind k: lower_body(e) implies lower_body(k).

    That a pull from the floor is lower-body work, and one from blocks or a rack may serve a back session, is a fact
    of the catalogue. One switch a kind. Breach: exercises that do not belong.
    """

    key = "belongs_to"
    title = "Where an exercise belongs"
    meaning = "Lower-body work, a pull from the floor included, stays in sessions that are for the lower body."
    formula = "for all s, e in s: lower_body(e) => lower_body(kind(s))"
    default_mode = Mode.MUST

    def mendable(self, switch: str, instance: Instance) -> bool:
        return False

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            if not kind.lower_body:
                sentence = f"{kind.name} sessions hold no lower-body work; a pull from the floor counts as such."
                breach = f"{{}} in {kind.name} sessions"
                yield self.switch(instance, kind.key, sentence, breach, count_of("lower-body exercise"))

    def excluded(self, instance: Instance, kind: Kind) -> Mapping[str, tuple[str, ...]]:
        if kind.lower_body:
            return {}
        return {key: (self.id(kind.key),) for key, row in instance.catalogue.exercises.items() if row.lower_body}
