"""A cap on counted sets for one muscle in one session."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode
from scheduler.domain.units import sets_from_quarters
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules.base import SETS, Mend, Rule, Setting, Switch, worst

if TYPE_CHECKING:
    from scheduler.week.model import Week


class SessionSetsRule(Rule[Setting]):
    """For every session s and goal m: vol(s, m) <= cap(m).

    One switch a goal. Breach: quarter sets over the cap in the fullest session.
    """

    key = "session_sets"
    title = "Sets in one session"
    meaning = "One session gives a muscle no more sets than still pay."
    formula = "for all s, m: vol(s, m) <= cap(m)"
    default_mode = Mode.WISH
    evidence = ("session_sets_cap",)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for target in instance.targets.values():
            if target.session_cap is not None:
                given = instance.brief.goals[target.key].session_cap is not None
                yield self.switch(
                    instance,
                    target.key,
                    f"One session gives {target.name} at most {wording.sets(target.session_cap)}.",
                    f"one session gives {target.name} {{}} more",
                    SETS,
                    evidence=() if given else self.evidence,
                    mend=_mend(target.name, target.session_cap),
                )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        return worst(
            (self.id(target.key), facts.volume(session, target.key) - target.session_cap)
            for target in facts.instance.targets.values()
            if target.session_cap is not None
            for session in facts.planned
        )

    def post(self, week: Week) -> None:
        counted = week.instance.counted
        for target in week.instance.targets.values():
            if target.session_cap is None:
                continue
            for session in week.open_sessions:
                volume = week.volume(session, target.key)
                step = week.step(target.key, target.session_cap)
                slack = week.slack(self.id(target.key), week.most_volume(target.key), step)
                week.model.add(volume - slack <= target.session_cap)
                takes = ((o, counted(o.stimulus.key, target.key) * o.least_sets) for o in session.main)
                week.pack(target.session_cap, takes, slack)


def _mend(name: str, cap: int) -> Mend:
    was = f"{sets_from_quarters(cap):g}"
    return lambda amount, facts: f"{wording.sets(cap + amount)} for {name} in one session instead of at most {was}"
