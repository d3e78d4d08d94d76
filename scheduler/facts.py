"""What a plan says, in slots and quarter sets: the ground that every rule's check stands on. No solver."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from scheduler.domain.plan import Role
from scheduler.domain.units import DAYS, QUARTERS_PER_SET
from scheduler.instance import Instance, Item, SessionFacts


@dataclass(frozen=True)
class WeekFacts:
    """The sessions of one week against an instance.

    Attributes:
        instance: the settled brief.
        sessions: this week's sessions, done ones included, by start.
    """

    instance: Instance
    sessions: tuple[SessionFacts, ...]

    @property
    def planned(self) -> tuple[SessionFacts, ...]:
        """The sessions that are not yet done: only these can be blamed."""
        return tuple(s for s in self.sessions if not s.done)

    @cached_property
    def with_history(self) -> tuple[SessionFacts, ...]:
        return (*self.instance.history, *self.sessions)

    def volume(self, session: SessionFacts, target: str, *, add_ons: bool = False) -> int:
        """Counted quarter sets of a session for a muscle or group, without add-ons unless asked."""
        return sum(
            item.sets * self.instance.counted(item.key, target)
            for item in session.items
            if item.role is Role.MAIN or (add_ons and item.role is Role.ADD_ON)
        )

    def total(self, target: str, *, direct_only: bool = False) -> int:
        """Counted quarter sets of the week, add-ons included."""
        return sum(
            item.sets * self.instance.counted(item.key, target)
            for session in self.sessions
            for item in session.items
            if item.role is not Role.ACTIVATION and not (direct_only and not self.instance.direct(item.key, target))
        )

    def hits(self, target: str) -> tuple[SessionFacts, ...]:
        """This week's sessions that hit a muscle or group."""
        return tuple(s for s in self.sessions if self.is_hit(s, target))

    def is_hit(self, session: SessionFacts, target: str) -> bool:
        return self.volume(session, target) >= self.instance.hit_quarters

    def is_direct_hit(self, session: SessionFacts, muscle: str) -> bool:
        """Whether a session gives a muscle at least ``hit_sets`` direct sets, add-ons not counted."""
        return self.direct_sets(session, muscle) * QUARTERS_PER_SET >= self.instance.hit_quarters

    def direct_sets(self, session: SessionFacts, target: str) -> int:
        """Sets of a session that train a muscle or group directly, without add-ons."""
        direct = self.instance.direct
        return sum(i.sets for i in session.items if i.role is Role.MAIN and direct(i.key, target))

    def gap(self, one: SessionFacts, other: SessionFacts) -> int:
        """Elapsed slots from the end of the earlier to the start of the later; on a ring the shorter way round."""
        first, second = (one, other) if one.start <= other.start else (other, one)
        gap = second.start - first.end
        ring = self.instance.ring
        return gap if ring is None else min(gap, first.start + ring - second.end)

    def pairs(
        self, among: Callable[[SessionFacts], bool] = lambda _: True
    ) -> Iterator[tuple[SessionFacts, SessionFacts]]:
        """Pairs of sessions, of those that are meant, of which one at least is not yet done, history included."""
        meant = [session for session in self.with_history if among(session)]
        for i, later in enumerate(meant):
            for earlier in meant[:i]:
                if not (earlier.done and later.done):
                    yield earlier, later

    def trained_days(self) -> frozenset[int]:
        """Days of this week with a session; in a week with history also the negative days before it."""
        return frozenset(s.day for s in self.with_history)

    def rested_before(self, day: int) -> bool:
        """Whether the day before is a rest day; before a one-off week without history nothing is known: rested."""
        before = day - 1
        if before < 0 and self.instance.ring is not None:
            before += len(DAYS)
        return before not in self.trained_days()

    def ticks(self, session: SessionFacts) -> int:
        """Ticks of 15 s that a session takes: warm-up, set-ups, sets with their rests, less what pairs share."""
        instance = self.instance
        ticks = instance.warm_up_ticks
        for item in session.items:
            if item.role is Role.ACTIVATION:
                ticks += activation_ticks(instance, item.sets)
            elif item.zone is not None:
                ticks += instance.setup_ticks(item.exercise, item.zone)
                ticks += item.sets * instance.set_ticks(item.exercise, item.zone)
        return ticks - sum(saved_ticks(instance, a, b) for a, b in item_pairs(session.items))

    def main_items(self, session: SessionFacts) -> tuple[Item, ...]:
        return tuple(item for item in session.items if item.role is Role.MAIN)


def activation_ticks(instance: Instance, sets: int = 0) -> int:
    """Ticks of the activation sets, set-up included; more sets than are usual take as much longer."""
    usual = instance.catalogue.default_int("activation_sets")
    ticks = instance.catalogue.default_int("activation_minutes") * 4
    return -(-ticks * max(sets, usual) // usual)


def item_pairs(items: Iterable[Item]) -> Iterator[tuple[Item, Item]]:
    """Items of one session that share their rests, two by two."""
    waiting: dict[int, Item] = {}
    for item in items:
        if item.pair is None:
            continue
        if item.pair in waiting:
            yield waiting.pop(item.pair), item
        else:
            waiting[item.pair] = item


def saved_ticks(instance: Instance, one: Item, other: Item) -> int:
    """What a pair saves: for each set both have, the shorter of the two rests."""
    if one.zone is None or other.zone is None:
        return 0
    return min(one.sets, other.sets) * min(instance.rest_ticks(one.zone), instance.rest_ticks(other.zone))
