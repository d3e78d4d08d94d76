"""A caution of the lifter leaves out the exercises that carry it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduler.domain.catalogue import Caution
from scheduler.domain.plan import Mode
from scheduler.instance import Instance, Kind
from scheduler.rules.base import Setting, Switch, count_of
from scheduler.rules.exclusion import ExclusionRule


class CautionsRule(ExclusionRule[Setting]):
    """For every exercise e in the plan: cautions(e) and cautions(lifter) share none.

    Which exercise carries which caution stands in the catalogue (common practice). One switch a caution. Breach:
    exercises that carry it. A caution changes the plan; it never promises safety.
    """

    key = "cautions"
    title = "Cautions"
    meaning = "Exercises that a caution of the lifter speaks against are left out."
    formula = "for all e in plan: cautions(e) and cautions(lifter) are disjoint"
    default_mode = Mode.MUST

    def mendable(self, switch: str, instance: Instance) -> bool:
        return False

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for caution in _flagged(instance):
            sentence = f"With the {caution.full_name} caution, exercises that the catalogue marks for it are left out."
            yield self.switch(instance, caution.value, sentence, "{} against it", count_of("exercise"))

    def excluded(self, instance: Instance, kind: Kind) -> Mapping[str, tuple[str, ...]]:
        # An exercise may be marked for several cautions, and each speaks for itself: none is conceded by another.
        flagged = _flagged(instance)
        marked = {
            key: tuple(self.id(caution.value) for caution in flagged if caution in row.cautions)
            for key, row in instance.catalogue.exercises.items()
        }
        return {key: switches for key, switches in marked.items() if switches}


def _flagged(instance: Instance) -> list[Caution]:
    return [c for c in Caution if c in instance.brief.lifter.cautions]
