"""Hours between two hits of one muscle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.brief import AgeBand
from scheduler.domain.plan import Mode
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import TIME, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal
    from scheduler.week.model import Week


class RecoveryRule(Rule[Setting]):
    """For sessions s, t that both hit muscle m: gap(s, t) >= recovery(m).

    One switch a muscle. Breach: hours missing between its two closest hits. Hits of the history count; add-ons make
    no hit. The hours a brief gives are taken to the letter; the default is the study's hours less an allowance for
    counting from the end of a session (see the evidence).
    """

    key = "recovery"
    title = "Recovery"
    meaning = "Two hits of one muscle lie some hours apart."
    formula = "for all m, s, t: hit(s, m) and hit(t, m) => gap(s, t) >= recovery(m)"
    default_mode = Mode.MUST
    evidence = ("recovery_hours", "recovery_hours_50_plus", "recovery_allowance_minutes", "hit_sets")

    def switches(self, instance: Instance) -> Iterable[Switch]:
        older = instance.brief.lifter.age_band in (AgeBand.FIFTY, AgeBand.SIXTY_FIVE)
        for target in instance.targets.values():
            if target.recovery is None:
                continue
            asked = wording.duration(target.recovery)
            given = instance.brief.goals[target.key].recovery_hours is not None
            rows = ("recovery_hours_50_plus" if older else "recovery_hours", "recovery_allowance_minutes", "hit_sets")
            sentence = f"Two sessions that hit {target.name} lie at least {asked} apart, end to start."
            yield self.switch(
                instance,
                target.key,
                sentence,
                f"two hits of {target.name} are {{}} too close",
                TIME,
                evidence=("hit_sets",) if given else rows,
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        return worst(
            (self.id(target.key), target.recovery - facts.gap(earlier, later))
            for target in facts.instance.targets.values()
            if target.recovery is not None
            for earlier, later in facts.pairs()
            if facts.is_hit(earlier, target.key) and facts.is_hit(later, target.key)
        )

    def post(self, week: Week) -> None:
        # Muscles with the same hours share one literal "these two sessions lie far enough apart".
        far: dict[tuple[int, int, int], Literal] = {}
        for target in week.instance.targets.values():
            if target.recovery is None:
                continue
            slack = week.slack(self.id(target.key), target.recovery)
            for one, other in week.all_pairs():
                hits = (week.hit(one, target.key), week.hit(other, target.key))
                if any(hit is week.zero for hit in hits):
                    continue
                if not isinstance(slack, int):
                    week.apart(one, other, target.recovery, hits, slack)
                    continue
                key = (id(one), id(other), target.recovery)
                if key not in far:
                    far[key] = week.bool_var(f"{one.label} and {other.label} {target.recovery} slots apart")
                    week.apart(one, other, target.recovery, (far[key],))
                week.model.add_bool_or(hits[0].negated(), hits[1].negated(), far[key])
