"""What all weeks that are best in a tier break alike.

Where wishes must be broken, the best weeks mostly break the same ones by the same. The relaxation breaks a part of each
instead, and spends on later tiers what it saves of one, so that their bounds are low. Told how much of the breaches is
common to all, it can not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler.week.expressions import Linear
from scheduler.week.goals import summed
from scheduler.week.model import Week
from scheduler.week.solver import Outcome


@dataclass
class Unavoidable:
    """How much of what one best week breaks, all do: the weighted sum of breaches, of each at most what it is there.

    Attributes:
        breaches: by switch, the breach of that week; none that are 0.
        least: what the sum is at least in all of them, as far as it is known.
    """

    week: Week
    breaches: Mapping[str, int]
    least: int = 0

    @classmethod
    def of(cls, week: Week, tier: int, best: Outcome) -> Unavoidable:
        """Of the weeks that are left in the model, when a tier is frozen at a best week; nothing is known yet.

        What one switch alone says of a tier, and stages, is frozen already.
        """
        terms = summed(week, tier)
        found = {switch.id: breach for switch, slack in terms if (breach := best[slack])}
        return cls(week, found if len(terms) > 1 else {})

    @property
    def share(self) -> float:
        """How much of the sum in that week is known to be unavoidable: 1 when all best weeks break the same."""
        most = sum(self.week.switches[name].weight * breach for name, breach in self.breaches.items())
        return self.least / most if most else 1.0

    def question(self) -> tuple[cp_model.CpModel, Linear]:
        """The weeks that are left, and the sum of which the least is asked for."""
        model = self.week.model.clone()
        terms = []
        for name, most in self.breaches.items():
            common, less = model.new_int_var(0, most, f"common:{name}"), model.new_bool_var(f"less:{name}")
            model.add(common >= self.week.slacks[name]).only_enforce_if(less)
            model.add(common >= most).only_enforce_if(~less)
            terms.append(self.week.switches[name].weight * common)
        return model, sum(terms)

    def tell(self, least: int) -> None:
        """Post what is known now to the week."""
        if least <= self.least:
            return
        self.least = least
        model, slacks = self.week.model, self.week.slacks
        if self.share == 1:
            for name, breach in self.breaches.items():
                model.add(slacks[name] >= breach)
            return
        terms = []
        for name, most in self.breaches.items():
            common = model.new_int_var(0, most, f"common:{name}")
            model.add(common <= slacks[name])
            terms.append(self.week.switches[name].weight * common)
        model.add(sum(terms) >= least)
