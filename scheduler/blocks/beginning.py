"""How a path begins: which of the usual week's exercises a week needs to have its aims."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from scheduler.blocks.figures import instance_alone
from scheduler.blocks.weeks import placed
from scheduler.domain.brief import Brief, SessionRecord
from scheduler.facts import WeekFacts
from scheduler.rules import RULES

_WISHES = 1


def with_needed(
    usual: Sequence[SessionRecord],
    brief: Brief,
    main: Collection[str],
    known: Iterable[SessionRecord] = (),
    out: Collection[str] = (),
) -> list[SessionRecord]:
    """Usual sessions without the exercises that only take muscles above what the week aims at.

    The usual week is that of the top of the path. Where an exercise may not have few sets, its exercises come to more
    than the first weeks aim at, and nothing could rise. So one after another goes, the one first whose going leaves
    least above the aims, as long as no wish and no must is broken by more and no muscle loses its only direct exercise.

    Args:
        usual: sessions in the week, each exercise with its fewest sets.
        brief: of the week, with its aims.
        main: exercises that stay.
        known: the sessions of the week before, by kind and order of time those of the usual week: what they hold comes
            first and stays.
        out: exercises of the usual week that do not come.
    """
    queues: dict[str, list[SessionRecord]] = defaultdict(list)
    for record in sorted(known, key=lambda r: r.start):
        queues[record.kind].append(record)
    ordered, stays = [], []
    for record in sorted(usual, key=lambda r: r.start):
        queue = queues[record.kind]
        before = queue.pop(0).exercises if queue else ()
        held = {e.exercise for e in before}
        rest = (e for e in record.exercises if e.exercise not in held and e.exercise not in out)
        ordered.append(record.model_copy(update={"exercises": (*before, *rest)}))
        stays.append(held.union(main))
    settled = instance_alone(brief.model_copy(update={"previous": tuple(placed(r, brief) for r in ordered)}))
    facts = WeekFacts(settled, settled.previous)
    broken = _broken(facts)
    left = [(n, item.key) for n, s in enumerate(facts.sessions) for item in s.items if item.key not in stays[n]]
    gone: set[tuple[int, str]] = set()
    while left:
        number, key = min(left, key=lambda spot: _above(_without(facts, *spot)))
        fewer = _without(facts, number, key)
        if _above(fewer) >= _above(facts):
            break
        left.remove((number, key))
        found = _broken(fewer)
        if _direct(fewer) == _direct(facts) and all(n <= broken.get(switch, 0) for switch, n in found.items()):
            facts, broken = fewer, found
            gone.add((number, key))
    return [
        record.model_copy(update={"exercises": tuple(e for e in record.exercises if (n, e.exercise) not in gone)})
        for n, record in enumerate(ordered)
    ]


def _without(facts: WeekFacts, number: int, key: str) -> WeekFacts:
    sessions = list(facts.sessions)
    sessions[number] = replace(sessions[number], items=tuple(i for i in sessions[number].items if i.key != key))
    return replace(facts, sessions=tuple(sessions))


def _above(facts: WeekFacts) -> int:
    """Quarter sets above the aims, summed over the goals."""
    return sum(max(0, facts.total(key) - target.aim) for key, target in facts.instance.targets.items())


def _direct(facts: WeekFacts) -> set[str]:
    """The goals that have direct work."""
    instance = facts.instance
    held = {item.key for session in facts.sessions for item in session.items}
    return {target for target in instance.targets if any(instance.direct(key, target) for key in held)}


def _broken(facts: WeekFacts) -> Mapping[str, int]:
    """By switch how far each must and each wish of the first tier is broken."""
    found: dict[str, int] = {}
    for rule in RULES:
        active = {switch.id for switch in rule.active_switches(facts.instance)} if rule.tier == _WISHES else ()
        if active:
            found |= {switch: breach for switch, breach in rule.breaches(facts).items() if switch in active}
    return found
