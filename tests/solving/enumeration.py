"""Every week of a tiny brief, in plain Python: the naive twin of the solver.

Written from the meaning of a week, not from the week model: choose how many sessions of each kind; for each one its
place, its start on the five-minute grid and what it holds (exercises, rep zones, sets, activation, pairs); its length
follows from what it holds. Whether a week keeps the musts and what its wishes cost is left to the rules' own checks.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement, product
from math import ceil, prod

from scheduler import referee
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Exercise, Size
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, Kind, SessionFacts
from scheduler.planning import instance_of
from scheduler.rules import SAME_CONTENT_FROM, SAME_WORK_FROM, TIER_NAMES

SLOT_SECONDS = 300
_WORK_AT = SAME_WORK_FROM - 1
"""Where in a tuple of values the tiers begin that compare weeks with the same work; the first tier is 1."""
ROLES = (Role.ACTIVATION, Role.MAIN, Role.ADD_ON)
ZONES = tuple(Zone)


@dataclass(frozen=True)
class Naive:
    """What enumeration finds.

    Attributes:
        best: the least tuple of tier values over all weeks that keep every must; None where there is none.
        week: a week that reaches it.
        tried: weeks looked at.
        kept: weeks that keep every must.
        alike: of the weeks that are best before the tiers which compare weeks with the same work only: values by work,
            then by content.
    """

    best: tuple[int, ...] | None
    week: WeekFacts | None
    tried: int
    kept: int
    alike: dict[Hashable, dict[Hashable, tuple[int, ...]]]

    def best_like(self, facts: WeekFacts) -> tuple[int, ...]:
        """The least tier values for one who had this week when those tiers began, as the tiers are defined."""
        assert self.best is not None
        same_work = self.alike[_work(facts)]
        stations = min(values[_WORK_AT] for values in same_work.values())
        return (*self.best[:_WORK_AT], stations, *same_work[_content(facts)][_WORK_AT + 1 :])


def judged(facts: WeekFacts) -> tuple[int, ...] | None:
    """Tier values in order, or None where a must is broken: the referee's sum without its words."""
    costs = referee.costs(facts)
    return None if costs is None else tuple(costs.values())


def enumerate_best(brief: Brief, *, stretch: int = 0, sample: int = 997) -> Naive:
    """The best week by looking at all of them.

    Args:
        stretch: slots by which starts and ends may lie outside an opening (for briefs in which openings are a wish).
        sample: every so many-th week the quick sum is held against the referee's full review.
    """
    instance = instance_of(brief)
    best: tuple[int, ...] | None = None
    best_week: WeekFacts | None = None
    alike: dict[Hashable, dict[Hashable, tuple[int, ...]]] = {}
    tried = kept = 0
    for sessions in weeks(instance, stretch=stretch):
        facts = WeekFacts(instance, sessions)
        values = judged(facts)
        if tried % sample == 0:
            assert_same(facts, values)
        tried += 1
        if values is None:
            continue
        kept += 1
        if best is None or values < best:
            if best is None or values[:_WORK_AT] < best[:_WORK_AT]:
                alike.clear()
            best, best_week = values, facts
        if values[:_WORK_AT] == best[:_WORK_AT]:
            like = alike.setdefault(_work(facts), {})
            content = _content(facts)
            like[content] = min(values, like.get(content, values))
    if best_week is not None:
        assert_same(best_week, best)
    return Naive(best, best_week, tried, kept, alike)


def tiers_compared(one: WeekFacts, other: WeekFacts) -> int:
    """How many tiers, from the first on, say which of two weeks is better."""
    if _work(one) != _work(other):
        return SAME_WORK_FROM - 1
    return max(TIER_NAMES) if _content(one) == _content(other) else SAME_CONTENT_FROM - 1


def _work(facts: WeekFacts) -> Hashable:
    """What each session and the week give each goal."""
    targets = facts.instance.targets
    sessions = tuple((s.kind, *(facts.volume(s, t) for t in targets)) for s in _by_kind(facts))
    return sessions, tuple(facts.total(t) for t in targets)


def _content(facts: WeekFacts) -> Hashable:
    """Exercises, roles and sets of each session; zones and times may differ."""
    return tuple((s.kind, tuple(sorted((i.key, i.role, i.sets) for i in s.items))) for s in _by_kind(facts))


def _by_kind(facts: WeekFacts) -> list[SessionFacts]:
    """The first session of a kind stays the first: its work is not the second's."""
    return sorted(facts.planned, key=lambda s: (s.kind, s.pin is None, s.pin or 0))


def assert_same(facts: WeekFacts, values: tuple[int, ...] | None) -> None:
    """The sum without words says what the referee's review says."""
    review = referee.review(facts)
    if review.broken_musts:
        assert values is None
    else:
        assert values == tuple(review.tiers.values())


def weeks(instance: Instance, *, stretch: int) -> Iterator[tuple[SessionFacts, ...]]:
    """Every week: for each kind every number of sessions, each at every place, start and with every content."""
    per_kind: list[list[tuple[SessionFacts, ...]]] = []
    for kind in instance.kinds.values():
        done = sum(s.kind == kind.key for s in instance.done)
        options = list(sessions_of(instance, kind, stretch=stretch))
        chosen: list[tuple[SessionFacts, ...]] = []
        for number in range(kind.per_week.most - done + 1):
            chosen += combinations_with_replacement(options, number)
        per_kind.append(chosen)
    for combination in product(*per_kind):
        sessions = [*instance.done, *(s for part in combination for s in part)]
        yield tuple(sorted(sessions, key=lambda s: (s.start, s.end, s.kind)))


def count_weeks(instance: Instance) -> int:
    """How many weeks there are to look at, at most."""
    return prod(
        sum(len(list(sessions_of(instance, k, stretch=0))) ** n for n in range(k.per_week.most + 1))
        for k in instance.kinds.values()
    )


def sessions_of(instance: Instance, kind: Kind, *, stretch: int) -> Iterator[SessionFacts]:
    """Every session that a kind could have: content, place and start."""
    for items in contents(instance, kind):
        ordered = in_order(instance, items)
        length = ceil(seconds(instance, ordered) / SLOT_SECONDS)
        if length == 0:
            continue
        seen = set()
        for spot in instance.spots:
            if (kind.days is not None and spot.day not in kind.days) or (
                kind.places is not None and spot.place not in kind.places
            ):
                continue
            first, last = spot.start, spot.end - length
            for start in range(first - stretch, last + stretch + 1):
                if (start, spot.place) not in seen:
                    seen.add((start, spot.place))
                    yield SessionFacts(kind.key, start, start + length, spot.day, spot.place, ordered)


def contents(instance: Instance, kind: Kind) -> Iterator[tuple[Item, ...]]:
    """Every set of exercises with zones and sets that a session of a kind could hold."""
    choices: list[list[Item | None]] = []
    for key, row in instance.pool.items():
        options: list[Item | None] = [None]
        zones = [z for z in ZONES if row.reps.least <= instance.zones[z].reps <= row.reps.most]
        if row.pattern in kind.patterns:
            sets = instance.sets_per_exercise
            options += [Item(key, row, n, z, Role.MAIN) for z in zones for n in range(sets.least, sets.most + 1)]
        if kind.add_on is not None and row.pattern == kind.add_on.pattern:
            sets = kind.add_on.sets
            # Quick sets are not heavy.
            quick = [z for z in zones if z is not Zone.HEAVY]
            options += [Item(key, row, n, z, Role.ADD_ON) for z in quick for n in range(sets.least, sets.most + 1)]
        choices.append(options)
    for choice in product(*choices):
        items = tuple(i for i in choice if i is not None)
        main = [i for i in items if i.role is Role.MAIN]
        if not kind.sets.least <= sum(i.sets for i in main) <= kind.sets.most and not _is_wish(instance):
            continue
        for paired in pairings(instance, items):
            yield from with_activation(instance, paired)


def _is_wish(instance: Instance) -> bool:
    mode = instance.settings["session_size"].mode
    return mode is not None and mode is not Mode.MUST


def pairings(instance: Instance, items: tuple[Item, ...]) -> Iterator[tuple[Item, ...]]:
    """Every way to pair main exercises, where the brief asks for pairs at all."""
    if (instance.settings["pairing"].mode or Mode.OFF) is Mode.OFF:
        yield items
        return
    for matching in matchings([n for n, i in enumerate(items) if i.role is Role.MAIN]):
        numbers = {n: pair for pair, both in enumerate(matching, 1) for n in both}
        yield tuple(replace(item, pair=numbers.get(n)) for n, item in enumerate(items))


def matchings(things: Sequence[int]) -> Iterator[tuple[tuple[int, int], ...]]:
    """Every set of disjoint pairs."""
    pairs = list(combinations(things, 2))
    for size in range(len(things) // 2 + 1):
        for chosen in combinations(pairs, size):
            if len({n for pair in chosen for n in pair}) == 2 * size:
                yield chosen


def with_activation(instance: Instance, items: tuple[Item, ...]) -> Iterator[tuple[Item, ...]]:
    """A session with and without light sets for each muscle of first priority, where the rule is on."""
    yield items
    if instance.settings["activation"].mode is Mode.OFF:
        return
    first = [t.key for t in instance.priorities() if t.priority == 1 and not t.is_group]
    sets = instance.catalogue.default_int("activation_sets")
    flagged, avoided = set(instance.brief.lifter.cautions), instance.brief.exercises.avoided
    shut = [key for key, row in instance.pool.items() if key in avoided or flagged & set(row.cautions)]
    for size in range(1, len(first) + 1):
        for muscles in combinations(first, size):
            keys = [instance.activation_exercise(m, place, shut) for m in muscles for place in instance.venues]
            if None not in keys and len(keys) == len(muscles):
                rows = instance.pool
                light = tuple(Item(k, rows[k], sets, Zone.LIGHT, Role.ACTIVATION) for k in keys if k is not None)
                yield (*light, *items)


def seconds(instance: Instance, items: Sequence[Item]) -> int:
    """Warm-up, set-ups, and for each set the work and the rest in steps of 15 s; a pair shares the rests of the sets
    both have."""
    default = instance.catalogue.default_int
    asked = instance.brief.prescription
    warm_up = asked.warm_up_minutes if asked.warm_up_minutes is not None else default("warm_up_minutes")
    total = warm_up * 60
    pairs: dict[int, list[Item]] = {}
    for item in items:
        if item.role is Role.ACTIVATION:
            total += default("activation_minutes") * 60
            continue
        assert item.zone is not None
        total += item.exercise.setup_seconds + item.sets * one_set(instance, item.exercise, item.zone)
        if item.zone is Zone.HEAVY and item.exercise.loaded_by:
            minutes = asked.build_up_minutes
            total += 60 * (minutes if minutes is not None else default("build_up_minutes"))
        if item.pair is not None:
            pairs.setdefault(item.pair, []).append(item)
    for one, other in pairs.values():
        assert one.zone is not None
        assert other.zone is not None
        rest = min(instance.zones[one.zone].rest_seconds, instance.zones[other.zone].rest_seconds)
        total -= min(one.sets, other.sets) * (rest // 15 * 15)
    return total


def one_set(instance: Instance, row: Exercise, zone: Zone) -> int:
    numbers = instance.zones[zone]
    sides = 2 if row.unilateral else 1
    return ceil((numbers.reps * row.seconds_per_rep * sides + numbers.rest_seconds) / 15) * 15


def in_order(instance: Instance, items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Activation, the priority muscle, multi-joint before single-joint, large before small, heavy before light,
    add-ons last (ACSM 2009; a priority muscle may go first, Nunes 2021); the second of a pair follows the first."""

    def rank(item: Item) -> tuple[int, ...]:
        goals = instance.brief.goals
        ranks = [g.priority for key, g in goals.items() if g.priority and instance.direct(item.key, key)]
        large = any(instance.catalogue.muscles[m].size is Size.LARGE for m in item.exercise.direct)
        return (
            ROLES.index(item.role),
            9 if item.role is Role.ADD_ON else min(ranks, default=9),
            int(item.exercise.joints != "multi"),
            int(not large),
            ZONES.index(item.zone) if item.zone else 0,
        )

    ordered: list[Item] = []
    for item in sorted(items, key=rank):
        if item not in ordered:
            ordered.append(item)
            ordered += [i for i in items if item.pair is not None and i.pair == item.pair and i is not item]
    return tuple(ordered)
