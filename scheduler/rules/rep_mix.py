"""Each muscle gets a spread of heavy, moderate and light work."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import QUARTERS_PER_SET
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import SETS, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week

_WORTH_A_MIX = 8 * QUARTERS_PER_SET


class RepMixSetting(Setting):
    lean: Zone = Zone.MODERATE
    """The zone the work leans to."""


class RepMixRule(Rule[RepMixSetting]):
    """For every muscle m with an aim of 8 sets or more and every zone z that its exercises allow: direct sets of m in
    zone z >= share(z) x aim(m), in whole sets; the share of the zone leaned to is larger.

    One switch a muscle and zone. Breach: quarter sets missing in the zone. Any spread grows muscle: never a must by
    default.
    """

    key = "rep_mix"
    title = "Mix of reps"
    meaning = "Each muscle gets some heavy, some moderate and some light work."
    formula = "for all m, z: sum of direct sets(m, z) >= floor(share(z) x aim(m))"
    default_mode = Mode.WISH
    evidence = ("rep_mix_percent_lean", "rep_mix_percent_other")
    setting_model = RepMixSetting

    def floors(self, instance: Instance) -> Iterator[tuple[str, Zone, int]]:
        """Target, zone, least direct sets in it (whole sets)."""
        lean = self.setting(instance).lean
        for target in instance.targets.values():
            if target.is_group or target.aim < _WORTH_A_MIX:
                continue
            allowed = instance.direct_zones(target.key)
            for zone in Zone:
                row = "rep_mix_percent_lean" if zone is lean else "rep_mix_percent_other"
                sets = instance.catalogue.default_int(row) * target.aim // (100 * QUARTERS_PER_SET)
                if zone in allowed and sets:
                    yield target.key, zone, sets

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for key, zone, sets in self.floors(instance):
            name = instance.targets[key].name
            sentence = f"{name} gets at least {wording.counted(sets, f'{zone.value} set')} a week."
            lacks = f"{name} lacks {{}} of {zone.value} work"
            mend = _mend(name, zone, sets)
            yield self.switch(instance, f"{key}:{zone.value}", sentence, lacks, SETS, mend=mend)

    def zones_told(self, instance: Instance) -> Callable[[str], Iterable[Zone]]:
        floors = list(self.floors(instance))
        return lambda exercise: [zone for key, zone, _ in floors if instance.direct(exercise, key)]

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = []
        for key, zone, sets in self.floors(facts.instance):
            actual = sum(
                item.sets
                for s in facts.sessions
                for item in s.items
                if item.role is not Role.ACTIVATION and item.zone is zone and facts.instance.direct(item.key, key)
            )
            found.append((self.id(f"{key}:{zone.value}"), (sets - actual) * QUARTERS_PER_SET))
        return worst(found)

    def post(self, week: Week) -> None:
        direct = week.instance.direct
        for key, zone, sets in self.floors(week.instance):
            planned = [
                (s, o) for s in week.open_sessions for o in s.options if o.zone is zone and direct(o.stimulus.key, key)
            ]
            already = sum(
                i.sets
                for s in week.sessions
                if s.facts
                for i in s.facts.items
                if i.role is not Role.ACTIVATION and i.zone is zone and direct(i.key, key)
            )
            slack = week.slack(self.id(f"{key}:{zone.value}"), sets * QUARTERS_PER_SET, QUARTERS_PER_SET)
            wanted = QUARTERS_PER_SET * (sets - already)
            week.model.add(QUARTERS_PER_SET * sum(o.sets for _, o in planned) + slack >= wanted)
            week.cover(wanted, ((s, o, QUARTERS_PER_SET * o.most_sets) for s, o in planned), slack)


def _mend(name: str, zone: Zone, asked: int) -> Mend:
    return lambda amount, facts: (
        f"{name} at least {wording.sets(asked * QUARTERS_PER_SET - amount)} of {zone.value} work instead of {asked}"
    )
