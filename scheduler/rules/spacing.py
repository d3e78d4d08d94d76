"""Hours between sessions of two kinds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from pydantic import ConfigDict, Field

from scheduler.domain import wording
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault, unknown
from scheduler.domain.plan import Mode
from scheduler.domain.units import Frozen, slots_from_hours
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class SpacedPair(Frozen):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    kind: str = Field(alias="from")
    other: str = Field(alias="to")
    hours: float = Field(gt=0, le=168)


class SpacingSetting(Setting):
    pairs: tuple[SpacedPair, ...] = ()


class SpacingRule(Rule[SpacingSetting]):
    """For sessions s of kind A and t of kind B, in either order: start(later) - end(earlier) >= hours.

    One switch a pair of kinds. Breach: hours missing between the two closest. Sessions of the history count.
    """

    key = "spacing"
    title = "Spacing"
    meaning = "Sessions of one kind lie some hours from sessions of another, in either order."
    formula = "for all s in A, t in B: gap(s, t) >= hours, from the end of the earlier to the start of the later"
    default_mode = Mode.MUST
    setting_model = SpacingSetting

    def faults(self, setting: SpacingSetting, brief: Brief, catalogue: Catalogue) -> Iterator[Fault]:
        asked: set[frozenset[str]] = set()
        for number, pair in enumerate(setting.pairs):
            kinds = frozenset((pair.kind, pair.other))
            if kinds in asked:
                where = f"rules.spacing.pairs[{number}]"
                yield Fault(where, f"{pair.kind} and {pair.other} are spaced twice", "Keep the longer of the two")
            asked.add(kinds)
            for field, kind in (("from", pair.kind), ("to", pair.other)):
                where = f"rules.spacing.pairs[{number}].{field}"
                yield from unknown(where, "session kind", (kind,), brief.kinds)

    def _id(self, pair: SpacedPair) -> str:
        return self.id(self._name(pair))

    def _name(self, pair: SpacedPair) -> str:
        """The names of two kinds; a hyphen of their own is marked, so that no other two are named so."""
        return "-".join(kind.replace("\\", "\\\\").replace("-", "\\-") for kind in (pair.kind, pair.other))

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for pair in self.setting(instance).pairs:
            one, other = instance.kinds[pair.kind].name, instance.kinds[pair.other].name
            asked = wording.duration(slots_from_hours(pair.hours))
            sentence = f"{one} sessions lie at least {asked} from {other} sessions, in either order."
            if pair.kind == pair.other:
                sentence = f"{one} sessions lie at least {asked} from each other."
            yield self.switch(
                instance,
                self._name(pair),
                sentence,
                f"{one} and {other} are {{}} too close",
                TIME,
                mend=_mend(one, other, slots_from_hours(pair.hours)),
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        return worst(
            (self._id(pair), slots_from_hours(pair.hours) - facts.gap(earlier, later))
            for pair in self.setting(facts.instance).pairs
            for earlier, later in facts.pairs()
            if (pair.kind, pair.other) in ((earlier.kind, later.kind), (later.kind, earlier.kind))
        )

    def post(self, week: Week) -> None:
        for pair in self.setting(week.instance).pairs:
            slots = slots_from_hours(pair.hours)
            slack = week.slack(self._id(pair), slots)
            for one, other in week.all_pairs():
                if (pair.kind, pair.other) in ((one.kind, other.kind), (other.kind, one.kind)):
                    week.apart(one, other, slots, (), slack)


def _mend(one: str, other: str, slots: int) -> Mend:
    asked = wording.duration(slots)
    which = f"{one} sessions" if one == other else f"{one} and {other}"
    return lambda amount, facts: f"{which} {wording.duration(slots - amount)} apart instead of {asked}"
