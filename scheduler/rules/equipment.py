"""A place has what an exercise needs, and can load it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.domain.units import GRAMS_PER_KG
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, Venue
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear
    from scheduler.week.model import Week


class EquipmentRule(Rule[Setting]):
    """For every exercise e in a session at place p: equipment(e) is in equipment(p), and the load prescribed is at
    most p's heaviest and on its steps.

    Where a recent lift is known, a zone whose load is too heavy for a place is not offered there: the plan takes more
    reps or another exercise. One switch a place. Breach: exercises that the place cannot serve.
    """

    key = "equipment"
    title = "Equipment"
    meaning = "Every exercise finds its equipment at the place, heavy and fine enough."
    formula = "for all s, e in s: equipment(e) in place(s); load(e) <= heaviest(place(s)), on its steps"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        lifted = {instance.catalogue.exercises[lift.exercise].loaded_by for lift in instance.brief.lifter.lifts}
        for venue in instance.venues.values():
            ends = [
                f"{instance.catalogue.equipment[name].name.lower()} end at {limits.heaviest / GRAMS_PER_KG:g} kg"
                for name, limits in venue.equipment.items()
                if limits is not None and limits.heaviest is not None and name in lifted
            ]
            sentence = f"{venue.name} has what its sessions use"
            sentence += f"; {wording.listed(ends)}." if ends else "."
            unit = count_of("exercise")
            yield self.switch(instance, venue.key, sentence, "{} it cannot serve", unit, mend=self._mend(venue))

    def _mend(self, venue: Venue) -> Mend:
        def words(amount: int, facts: WeekFacts | None) -> str:
            sessions = [s for s in facts.planned if s.place == venue.key] if facts is not None else []
            items = [i for s in sessions for i in s.items if facts and not self._served(facts.instance, i, venue)]
            if not items:
                return f"{wording.counted(amount, 'exercise')} beyond what {venue.name} has"
            return f"{venue.name} equipped for: {wording.listed(dict.fromkeys(i.exercise.name for i in items))}"

        return words

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found: dict[str, int] = {}
        for session in facts.planned:
            if session.place is None:
                continue
            venue = facts.instance.venues[session.place]
            unserved = sum(not self._served(facts.instance, item, venue) for item in session.items)
            if unserved:
                switch = self.id(session.place)
                found[switch] = found.get(switch, 0) + unserved
        return found

    def _served(self, instance: Instance, item: Item, venue: Venue) -> bool:
        if any(name not in venue.equipment for name in item.exercise.equipment):
            return False
        if item.role is not Role.ACTIVATION and _too_heavy(instance, item.key, item.zone, venue):
            return False
        limits = venue.equipment[item.exercise.loaded_by] if item.exercise.loaded_by else None
        if item.load_grams is None or limits is None:
            return True
        too_heavy = limits.heaviest is not None and item.load_grams > limits.heaviest
        return not too_heavy and (item.load_grams - limits.lightest) % limits.step == 0

    def post(self, week: Week) -> None:
        bad: dict[str, list[Linear]] = {}
        for session in week.open_sessions:
            for place, here in session.at.items():
                if here is week.zero:
                    continue
                slack = week.slack(self.id(place), 1000)
                for option in session.options:
                    stimulus, zone = option.stimulus, option.zone
                    if place in stimulus.offers[zone]:
                        continue
                    spared = place not in stimulus.short[zone]
                    if spared or (isinstance(slack, int) and not slack):
                        week.model.add_implication(option.use, ~here)
                    else:
                        name = f"{option.use.name} unserved at {place}"
                        unserved = week.model.new_int_var(0, option.most_uses, name)
                        week.model.add(unserved >= option.uses).only_enforce_if(here)
                        bad.setdefault(place, []).append(unserved)
        for place, unserved_uses in bad.items():
            week.model.add(sum(unserved_uses) <= week.slack(self.id(place), 1000))


def shortage(instance: Instance, key: str, zone: Zone, venue: Venue) -> bool:
    """Whether equipment stands against an exercise in a zone at a place: missing, or too light for its load."""
    return not instance.served(key, venue.key) or _too_heavy(instance, key, zone, venue)


def _too_heavy(instance: Instance, key: str, zone: Zone | None, venue: Venue) -> bool:
    """Whether the load that a recent lift tells is too heavy for a place: then the zone is not offered there.

    Without a lift nothing is known of loads; where the reps do not suit the exercise, equipment is not what is wrong.
    """
    if zone is None:
        return False
    fits = zone in instance.fitting_zones(instance.catalogue.exercises[key])
    known = key in instance.pool and any(lift.exercise == key for lift in instance.brief.lifter.lifts)
    return fits and known and (key, venue.key, zone) not in instance.offers
