"""Hours between two hits of one muscle."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.brief import AgeBand
from scheduler.domain.plan import Mode
from scheduler.domain.units import DAYS, SLOTS_PER_HOUR
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.instance.settle import default_recovery
from scheduler.rules.base import TIME, Look, Mend, Rule, Setting, Switch, count_of, worst

if TYPE_CHECKING:
    from scheduler.week.expressions import Literal
    from scheduler.week.model import Week


class RecoverySetting(Setting):
    others: Mode | None = None
    """Mode for muscles without a goal (default: wish)."""


class RecoveryRule(Rule[RecoverySetting]):
    """For sessions s, t that both hit muscle m: gap(s, t) >= recovery(m).

    One switch a muscle. Breach: hours missing between its two closest hits. Hits of the history count; add-ons make
    no hit. The hours a brief gives are taken to the letter; the default is the study's hours less an allowance for
    counting from the end of a session (see the evidence).

    A muscle without a goal is looked after too: sessions that give it ``hit_sets`` direct sets should lie the default
    hours apart. That is a wish by default, and costs by the whole hour. So is a group that recovers as one and whose
    goal names no hours, in place of its muscles.
    """

    key = "recovery"
    title = "Recovery"
    meaning = "Two hits of one muscle lie some hours apart."
    formula = "for all m, s, t: hit(s, m) and hit(t, m) => gap(s, t) >= recovery(m)"
    default_mode = Mode.MUST
    setting_model = RecoverySetting
    evidence = ("recovery_hours", "recovery_hours_50_plus", "recovery_allowance_minutes", "hit_sets")

    def others(self, instance: Instance) -> dict[str, str]:
        """Names of the muscles without a goal that are looked after, and of the groups that recover as one."""
        if (self.setting(instance).others or Mode.WISH) is Mode.OFF:
            return {}
        groups = instance.catalogue.groups
        whole = {t.key: t for t in instance.targets.values() if t.is_group and groups[t.key].recovers_as_one}
        parts = {member for target in whole.values() for member in target.members}
        muscles = {
            key: row.name
            for key, row in instance.catalogue.muscles.items()
            if key not in instance.targets and key not in parts
        }
        return muscles | {key: target.name for key, target in whole.items() if target.recovery is None}

    def default_slots(self, instance: Instance) -> int:
        return default_recovery(instance.brief, instance.catalogue)

    def switches(self, instance: Instance) -> Iterable[Switch]:
        asked_of_others = wording.duration(self.default_slots(instance))
        for muscle, name in self.others(instance).items():
            yield self.switch(
                instance,
                f"other:{muscle}",
                f"Two sessions that train {name} hard and directly lie at least {asked_of_others} apart.",
                partial(self._words, muscle, name),
                count_of("hour"),
                mode=self.setting(instance).others or Mode.WISH,
                mend=_mend(name, self.default_slots(instance), SLOTS_PER_HOUR),
            )
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
                mend=_mend(target.name, target.recovery, 1),
            )

    def looks_at(self, instance: Instance) -> Look:
        others = self._hit_twice(instance)
        return lambda exercise: frozenset(key for key in others if instance.direct(exercise, key))

    def _hit_twice(self, instance: Instance) -> frozenset[str]:
        """Muscles without a goal that two sessions may train directly: only for those is there anything to keep apart.

        Where a kind may have a session more than it says, that is not looked into: by a concession, as a wish, or while
        questions are posed of musts.
        """
        others = self.others(instance)
        brief = instance.brief
        more = brief.musts or brief.concessions or instance.settings["session_count"].mode not in (None, Mode.MUST)
        if self.setting(instance).others is Mode.MUST or more:
            return frozenset(others)
        counts = Counter[str]()
        for kind in instance.kinds.values():
            mine = [key for key, row in instance.pool.items() if row.pattern in kind.patterns]
            trained = [other for other in others if any(instance.direct(key, other) for key in mine)]
            counts.update(dict.fromkeys(trained, kind.per_week.most))
        for session in (*instance.history, *instance.done):
            counts.update(o for o in others if any(instance.direct(item.key, o) for item in session.items))
        return frozenset(muscle for muscle, sessions in counts.items() if sessions > 1)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        found = worst(
            (self.id(target.key), target.recovery - facts.gap(earlier, later))
            for target in facts.instance.targets.values()
            if target.recovery is not None
            for earlier, later in facts.pairs(partial(facts.is_hit, target=target.key))
        )
        others = worst(
            (self.id(f"other:{muscle}"), -(-self._too_close(facts, muscle) // SLOTS_PER_HOUR))
            for muscle in self.others(facts.instance)
        )
        return found | others

    def _too_close(self, facts: WeekFacts, muscle: str) -> int:
        """Slots that are missing between the closest two hard sessions for a muscle without a goal."""
        hard = facts.pairs(partial(facts.is_direct_hit, muscle=muscle))
        return max((self.default_slots(facts.instance) - facts.gap(*pair) for pair in hard), default=0)

    def _words(self, muscle: str, name: str, facts: WeekFacts) -> str:
        """To the minute, as for a muscle with a goal; only the cost goes by the whole hour."""
        return f"two sessions that train {name} are {wording.duration(self._too_close(facts, muscle))} too close"

    def notes(self, facts: WeekFacts) -> Iterable[str]:
        """What lies close though nothing is broken: less work than a hit near one; hits of a group without hours."""
        if self.mode(facts.instance) is Mode.OFF:
            return
        yield from self._less_than_hits(facts)
        slots, others = self.default_slots(facts.instance), self.others(facts.instance)
        for target in facts.instance.targets.values():
            if target.recovery is None and target.key not in others:
                close = [p for p in facts.pairs(partial(facts.is_hit, target=target.key)) if facts.gap(*p) < slots]
                if close:
                    yield _close_hits_of_group(facts, target.name, *min(close, key=lambda pair: facts.gap(*pair)))

    def _less_than_hits(self, facts: WeekFacts) -> Iterable[str]:
        instance = facts.instance
        others = self.others(instance)
        for key in (*(t.key for t in instance.targets.values() if t.recovery is not None), *others):
            name = others[key] if key in others else instance.targets[key].name
            asked = self.default_slots(instance) if key in others else instance.targets[key].recovery or 0
            is_hit = partial(facts.is_direct_hit, muscle=key) if key in others else partial(facts.is_hit, target=key)
            sets = partial(facts.direct_sets, target=key)
            for pair in facts.pairs():
                less, hit = sorted(pair, key=is_hit)
                if is_hit(hit) and not is_hit(less) and sets(hit) and sets(less) and facts.gap(less, hit) < asked:
                    yield _close_to_a_hit(facts, name, sets(less), less, hit)

    def post(self, week: Week) -> None:
        slots = self.default_slots(week.instance)
        for muscle in self.others(week.instance):
            slack = week.slack(self.id(f"other:{muscle}"), -(-slots // SLOTS_PER_HOUR))
            for one, other in week.all_pairs():
                hits = (week.direct_hit(one, muscle), week.direct_hit(other, muscle))
                if not any(hit is week.zero for hit in hits):
                    week.apart(one, other, slots, hits, SLOTS_PER_HOUR * slack)
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
                slots = target.recovery - slack
                key = (id(one), id(other), slots)
                if key not in far:
                    far[key] = week.bool_var(f"{one.label} and {other.label} {slots} slots apart")
                    week.apart(one, other, slots, (far[key],))
                week.model.add_bool_or(hits[0].negated(), hits[1].negated(), far[key])


def _close_to_a_hit(facts: WeekFacts, name: str, sets: int, less: SessionFacts, hit: SessionFacts) -> str:
    days = [DAYS[session.day % len(DAYS)].full_name for session in (less, hit)]
    apart = wording.duration(facts.gap(less, hit))
    few = wording.sets(facts.instance.hit_quarters)
    return (
        f"{name}: {wording.counted(sets, 'direct set')} on {days[0]}, {apart} from the hard work on {days[1]}. "
        f"Fewer than {few} in a session make no hit, and recovery looks at hits only."
    )


def _close_hits_of_group(facts: WeekFacts, name: str, earlier: SessionFacts, later: SessionFacts) -> str:
    days = [DAYS[session.day % len(DAYS)].full_name for session in (earlier, later)]
    return (
        f"{name}: hard work on {days[0]} and {days[1]}, {wording.duration(facts.gap(earlier, later))} apart. "
        "Recovery looks at its muscles one by one; recovery_hours of its goal keeps the whole apart too."
    )


def _mend(name: str, slots: int, step: int) -> Mend:
    def words(amount: int, facts: WeekFacts | None) -> str:
        left = max(0, slots - step * amount)
        return f"{name} trained again after {wording.duration(left)} instead of {wording.duration(slots)}"

    return words
