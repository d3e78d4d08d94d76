"""Quick sets of one pattern at the end of a session of another kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.plan import Mode, Role
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Kind, SessionFacts
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.expressions import Linear
    from scheduler.week.model import Week


def _mend(kind: str) -> Mend:
    return lambda amount, facts: f"{wording.counted(amount, f'{kind} session')} with an add-on fewer or more"


class AddOnRule(Rule[Setting]):
    """In sessions of a kind that asks for it one exercise of the named pattern, so many quick sets, may come last; as
    many sessions carry it as asked. Elsewhere there is none.

    They count for weekly sets and minutes, but make no hit: spacing, recovery and frequency do not see them. One
    switch a kind. Breach: sessions with a wrong add-on, plus sessions missing or too many.
    """

    key = "add_on"
    title = "Add-ons"
    meaning = "Quick sets may close a session of another kind where that is asked."
    formula = "for all k: sessions_least <= |{s of k: add-on(s)}| <= sessions_most; sets in range; none elsewhere"
    default_mode = Mode.MUST
    evidence = ("add_on_sets",)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for kind in instance.kinds.values():
            spec = kind.add_on
            if spec is None:
                sentence = f"{kind.name} sessions carry no add-on."
            else:
                name = instance.catalogue.patterns[spec.pattern].name.lower()
                asked = wording.between(spec.sessions.least, spec.sessions.most, f"{kind.name} session")
                quick = wording.between(spec.sets.least, spec.sets.most, "quick set")
                sentence = f"{asked[0].upper()}{asked[1:]} a week may close with {quick} of {name}."
                if spec.sessions.least:
                    sentence = sentence.replace(" may close", " close")
            yield self.switch(
                instance,
                kind.key,
                sentence,
                f"{{}} of {kind.name} with a wrong or missing add-on",
                count_of("session"),
                mend=_mend(kind.name),
            )

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = {}
        for kind in facts.instance.kinds.values():
            sessions = [s for s in facts.sessions if s.kind == kind.key]
            wrong = sum(self._wrong(kind, s) for s in sessions if not s.done)
            off = 0
            if kind.add_on is not None:
                carrying = [s for s in sessions if any(i.role is Role.ADD_ON for i in s.items)]
                asked = kind.add_on.sessions
                # Add-ons that are done cannot be taken back: then no more may come.
                most = max(asked.most, sum(s.done for s in carrying))
                off = max(asked.least - len(carrying), len(carrying) - most, 0)
            if wrong + off:
                found[self.id(kind.key)] = wrong + off
        return found

    def _wrong(self, kind: Kind, session: SessionFacts) -> bool:
        items = [i for i in session.items if i.role is Role.ADD_ON]
        if not items:
            return False
        spec = kind.add_on
        return (
            spec is None
            or len(items) > 1
            or items[0].exercise.pattern != spec.pattern
            or not spec.sets.least <= items[0].sets <= spec.sets.most
        )

    def post(self, week: Week) -> None:
        model = week.model
        for kind in week.instance.kinds.values():
            spec = kind.add_on
            if spec is None:
                continue
            sessions = [s for s in week.open_sessions if s.kind == kind.key]
            past = [s.facts for s in week.sessions if s.kind == kind.key and s.facts is not None]
            done = sum(any(i.role is Role.ADD_ON for i in facts.items) for facts in past)
            slack = week.slack(self.id(kind.key), max(spec.sessions.least, len(sessions)) + len(sessions))
            forbidden = isinstance(slack, int) and not slack
            carrying: list[Linear] = []
            wrong: list[Linear] = []
            for session in sessions:
                options = session.add_ons
                uses = sum(o.uses for o in options)
                if forbidden:
                    model.add(uses <= 1)
                    carrying.append(uses)
                elif options:
                    carries = week.bool_var(f"{session.label} carries an add-on")
                    model.add_max_equality(carries, [o.use for o in options])
                    several = week.bool_var(f"{session.label} carries several add-ons")
                    model.add(uses <= 1 + sum(o.most_uses for o in options) * several)
                    carrying.append(carries)
                    wrong.append(several)
            least, most = spec.sessions.least, max(spec.sessions.most, done)
            model.add(sum(carrying) + done + slack >= least + sum(wrong))
            model.add(sum(carrying) + done - slack <= most - sum(wrong))
            if wrong:
                model.add(sum(wrong) <= slack)
