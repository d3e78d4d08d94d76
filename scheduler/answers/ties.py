"""Where a new plan differs from a base plan only by ties, what ties is put back as it was.

Differences are put back, many at once and one by one, and the referee judges: no must broken, no tier above the
tie-break dearer. So what is left of the difference is what matters. No solver: some dozens of reviews, a few
milliseconds each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from scheduler import planning, referee
from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Plan, Role
from scheduler.domain.units import TICKS_PER_SLOT
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, SessionFacts
from scheduler.rules import RULES_BY_KEY, SAME_CONTENT_FROM, SAME_WORK_FROM
from scheduler.rules.change import PARTS, exercise_sets, match_sessions
from scheduler.week.decode import in_order

MOST_REVIEWS = 80
"""The referee is asked no more often than this: what ties beyond it stays different."""

Week = tuple[SessionFacts, ...]


def held(base: Plan, plan: Plan) -> Plan:
    """The plan, or one as good in every tier above the tie-break that differs less from the base plan."""
    if not (base.tiers and plan.tiers):
        return plan
    ours, theirs = planning.instance_of(base.brief), planning.instance_of(plan.brief)
    if ours.clock.local(0) != theirs.clock.local(0):
        return plan
    before = referee.facts_of(ours, base.sessions).planned
    facts = _facts(theirs, plan)
    nearer = _nearer(before, facts)
    if nearer is facts:
        return plan
    sessions = referee.planned_sessions(nearer)
    report = planning.check(plan.brief, sessions)
    if not report.holds:
        raise RuntimeError("the referee finds a must broken in a plan that was put back: a defect of this program")
    known = {tier.tier: tier for tier in plan.tiers}
    if _is_same_work(_changes(before, nearer)):
        known |= {tier.tier: tier for tier in base.tiers if SAME_WORK_FROM <= tier.tier < SAME_CONTENT_FROM}
    tiers = tuple(
        tier.model_copy(
            update={
                "bound": min(known[tier.tier].bound, tier.value),
                "proved": known[tier.tier].proved and tier.value == known[tier.tier].value,
            }
        )
        for tier in report.plan.tiers
    )
    return report.plan.model_copy(
        update={
            "sessions": sessions,
            "status": plan.status,
            "tiers": tiers,
            "fingerprint": plan.fingerprint,
            "timings": plan.timings,
        }
    )


def _facts(instance: Instance, plan: Plan) -> WeekFacts:
    """The facts of a plan, which session is pinned among them."""
    facts = referee.facts_of(instance, plan.sessions)
    pinned = {(s.kind, instance.clock.floor(s.start)) for s in plan.sessions if s.state == "pinned"}
    marked = (replace(s, pin=0) if (s.kind, s.start) in pinned else s for s in facts.sessions)
    return WeekFacts(instance, tuple(marked))


def _nearer(before: Week, facts: WeekFacts) -> WeekFacts:
    change = _changes(before, facts)
    costs = _costs(referee.review(facts).tiers)
    tried: set[Week] = set()
    improved = True
    while improved:
        improved = False
        for sessions in _candidates(before, facts):
            candidate = WeekFacts(facts.instance, sessions)
            changed = _changes(before, candidate)
            if sessions in tried or changed >= change or len(tried) >= MOST_REVIEWS:
                continue
            tried.add(sessions)
            # Stations are fewest for one work, not of all weeks: with the base plan's work the base plan's are.
            below = SAME_WORK_FROM if _is_same_work(changed) else SAME_CONTENT_FROM
            found = referee.costs(candidate, {tier: most for tier, most in costs.items() if tier < below})
            if found is not None:
                facts, change, costs, improved = candidate, changed, _costs(found), True
                break
    return facts


def _costs(tiers: Mapping[int, int]) -> dict[int, int]:
    """What each tier may come to: all but those that compare weeks with the same content."""
    return {tier: value for tier, value in tiers.items() if tier < SAME_CONTENT_FROM}


def _is_same_work(changes: Sequence[int]) -> bool:
    return not any(changes[PARTS.index("exercises") :])


def _changes(before: Week, facts: WeekFacts) -> tuple[int, ...]:
    """Change as re-planning counts it, the gravest part first."""
    rule = RULES_BY_KEY["change"]
    found = rule.breaches(WeekFacts(replace(facts.instance, previous=before), facts.sessions))
    return tuple(found.get(rule.id(part), 0) for part in PARTS)


def _candidates(before: Week, facts: WeekFacts) -> Iterator[Week]:
    """Weeks with less difference: contents, then times, then exercises; the most of each put back first."""
    pairs = match_sessions(before, facts.planned).pairs
    whole = [(new, _refilled(facts, old, new)) for old, new in pairs if exercise_sets(old) != exercise_sets(new)]
    fillable = [(new, filled) for new, filled in whole if filled is not None]
    if len(fillable) > 1:
        yield _with(facts, fillable)
    yield from (_with(facts, [change]) for change in fillable)
    moved = [(new, _moved_back(old, new)) for old, new in pairs if old.start != new.start]
    if len(moved) > 1:
        yield _with(facts, moved)
    yield from (_with(facts, [change]) for change in moved)
    # Two that changed places are in each other's way one by one.
    if len(moved) > 2:
        yield from (_with(facts, two) for two in combinations(moved, 2))
    edits = [(old, new, key) for old, new in pairs for key in _different(old, new)]
    rows = facts.instance.catalogue.exercises
    keys = dict.fromkeys(key for _, _, key in edits)
    patterns = dict.fromkeys(rows[key].pattern for key in keys)
    for one, other in combinations(keys, 2):
        if rows[one].pattern == rows[other].pattern and (week := _exchanged(facts, one, other)) is not None:
            yield week
    together = [[e for e in edits if rows[e[2]].pattern == pattern] for pattern in patterns]
    groups = [*together, *([e] for e in edits), *(list(two) for two in combinations(edits, 2) if _opposite(rows, *two))]
    yield from (week for group in groups if (week := _edited(facts, group)) is not None)


def _moved_back(old: SessionFacts, new: SessionFacts) -> SessionFacts:
    return replace(new, start=old.start, end=old.start + new.end - new.start, day=old.day)


def _with(facts: WeekFacts, changes: Iterable[tuple[SessionFacts, SessionFacts]]) -> Week:
    instead = {id(old): new for old, new in changes}
    return tuple(sorted((instead.get(id(s), s) for s in facts.sessions), key=lambda s: (s.start, s.end, s.kind)))


def _refilled(facts: WeekFacts, old: SessionFacts, new: SessionFacts) -> SessionFacts | None:
    """A new session with all that the old one held; None where that cannot be."""
    return _holding(facts, new, [i for i in old.items if i.role is not Role.ACTIVATION])


Edit = tuple[SessionFacts, SessionFacts, str]
"""Old session, new session, and an exercise that they do not hold alike."""


def _different(old: SessionFacts, new: SessionFacts) -> list[str]:
    one, other = exercise_sets(old), exercise_sets(new)
    return [key for key in dict.fromkeys((*one, *other)) if one.get(key) != other.get(key)]


def _opposite(rows: Mapping[str, Exercise], one: Edit, other: Edit) -> bool:
    """Whether two edits could balance: work on one pattern, more by the one and less by the other."""
    return rows[one[2]].pattern == rows[other[2]].pattern and _more(one) * _more(other) <= 0


def _more(edit: Edit) -> int:
    old, new, key = edit
    return sum(i.sets for i in old.items if i.key == key) - sum(i.sets for i in new.items if i.key == key)


def _edited(facts: WeekFacts, edits: Iterable[Edit]) -> Week | None:
    """The week with exercises as they were in the old sessions."""
    items: dict[int, tuple[SessionFacts, list[Item]]] = {}
    for old, new, key in edits:
        _, held_now = items.setdefault(id(new), (new, [i for i in new.items if i.role is not Role.ACTIVATION]))
        held_now[:] = [i for i in held_now if i.key != key]
        held_now += [i for i in old.items if i.key == key and i.role is not Role.ACTIVATION]
    changes = [(new, _holding(facts, new, held_now)) for new, held_now in items.values()]
    whole = [(new, filled) for new, filled in changes if filled is not None]
    return _with(facts, whole) if len(whole) == len(changes) else None


def _exchanged(facts: WeekFacts, one: str, other: str) -> Week | None:
    """The week with two exercises in each other's place."""
    names = {one: other, other: one}
    changes = []
    for session in facts.planned:
        if any(i.key in names for i in session.items):
            items = [replace(i, key=names.get(i.key, i.key)) for i in session.items if i.role is not Role.ACTIVATION]
            filled = _holding(facts, session, items)
            if filled is None:
                return None
            changes.append((session, filled))
    return _with(facts, changes)


def _holding(facts: WeekFacts, session: SessionFacts, items: Iterable[Item]) -> SessionFacts | None:
    """A session with other contents, as long as those take, in order; None where the place does not offer them."""
    instance = facts.instance
    if any(i.pair is not None for i in session.items):
        return None
    fresh = []
    for item in items:
        if item.pair is not None or session.place is None or item.zone is None:
            return None
        offer = instance.offers.get((item.key, session.place, item.zone))
        if offer is None:
            return None
        load = offer.load_grams
        fresh.append(replace(item, exercise=instance.pool[item.key], load_grams=load))
    fresh += [i for i in session.items if i.role is Role.ACTIVATION]
    if not fresh:
        return None
    filled = replace(session, items=tuple(fresh))
    filled = replace(filled, items=in_order(instance, filled))
    return replace(filled, end=session.start - (-facts.ticks(filled) // TICKS_PER_SLOT))


__all__ = ["held"]
