"""The order of exercises inside a session."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING

from scheduler.domain.brief import Pin
from scheduler.domain.catalogue import Exercise
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, Item, SessionFacts
from scheduler.rules.base import Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week

_ROLES = (Role.ACTIVATION, Role.MAIN, Role.ADD_ON)
_ZONES = (Zone.HEAVY, Zone.MODERATE, Zone.LIGHT)
_NO_PRIORITY = 9


def order_key(instance: Instance, item: Item) -> tuple[int, int, int, int, int, int]:
    """Where an exercise stands: role, priority of what it trains, multi before single joint, the whole body before
    parts, large before small muscles, heavy before light. Smaller comes first."""
    ranks = [t.priority or _NO_PRIORITY for t in instance.priorities() if instance.direct(item.key, t.key)]
    priority = min(ranks, default=_NO_PRIORITY)
    if item.role is Role.ADD_ON:
        priority = _NO_PRIORITY
    return (
        _ROLES.index(item.role),
        priority,
        int(item.exercise.joints == "single"),
        int(not is_whole_body(item.exercise)),
        int(not instance.is_large(item.exercise)),
        _ZONES.index(item.zone) if item.zone is not None else 0,
    )


def is_whole_body(exercise: Exercise) -> bool:
    """A pull from the floor or a free squat: a tired back does these worst, so they stand before rows and hinges."""
    return exercise.from_floor or (exercise.pattern == "squat" and not exercise.supported)


class OrderRule(Rule[Setting]):
    """Activation, then the priority muscle, then multi-joint before single-joint, large before small muscles, heavy
    before light, add-ons last (ACSM 2009); what comes first gains most (Nunes 2021), so a priority muscle goes first.
    Of multi-joint work pulls from the floor and free squats come first (common practice).

    The planner orders every session so; an order that the coach pins stands. The second exercise of an antagonist
    pair follows its partner. One switch. Breach: neighbours in the wrong order.
    """

    key = "order"
    title = "Order inside a session"
    meaning = "The priority muscle first, multi-joint before single-joint, large before small, heavy before light."
    formula = "for e before f in s: rank(e) <= rank(f), rank = (role, priority, joints, whole body, size, zone)"
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        sentence = (
            "Each session goes: activation, priority muscle, multi-joint before single-joint (floor pulls and free "
            "squats first), large before small, heavy before light, add-ons last."
        )
        pairs = count_of("pair of neighbours", "pairs of neighbours")
        yield self.switch(instance, "", sentence, "{} in the wrong order", pairs)

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        wrong = sum(self._wrong(facts.instance, s) for s in facts.planned)
        return {self.id(""): wrong} if wrong else {}

    def _wrong(self, instance: Instance, session: SessionFacts) -> int:
        # Whose pin it is a plan does not say: what stands in a pinned order by any is out of this one.
        pinned = {key for pin in _ordered_pins(instance, session) for key in _named(pin)}
        leaders: list[Item] = []
        seen: set[int] = set()
        for item in session.items:
            follows = item.pair is not None and item.pair in seen
            if item.pair is not None:
                seen.add(item.pair)
            if item.key not in pinned and not follows:
                leaders.append(item)
        return sum(order_key(instance, a) > order_key(instance, b) for a, b in pairwise(leaders))

    def post(self, week: Week) -> None:
        """Nothing to post: a plan is put into this order when it is read off the solver."""


def pinned_order(instance: Instance, session: SessionFacts) -> tuple[str, ...]:
    """Exercises whose order in a session the coach has pinned, in that order: by its own pin before another's."""
    pins = _ordered_pins(instance, session)
    own = instance.pins[session.pin] if session.pin is not None else None
    return _named(own if own in pins else pins[0]) if pins else ()


def _ordered_pins(instance: Instance, session: SessionFacts) -> list[Pin]:
    """Pins that say an order of exercises, all of which a session of their kind holds."""
    held = {item.key for item in session.items}
    return [p for p in instance.pins if p.in_this_order and p.kind == session.kind and held.issuperset(_named(p))]


def _named(pin: Pin) -> tuple[str, ...]:
    return tuple(row.exercise for row in pin.exercises)
