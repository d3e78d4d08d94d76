"""From a solution of the week model to sessions with named exercises, in order.

Members of a stimulus class are dealt out round-robin over the week's main work. So those of one session are distinct,
as many distinct ones come in the week as there are uses, as far as members go, and two sessions one right after the
other among those that use a class share no more than they must: their uses together less the members. Add-ons are
dealt after that, each to the next member that its session does not have. The sets of an option are split evenly.
"""

from __future__ import annotations

from scheduler.domain.plan import Role, Zone
from scheduler.instance import Instance, Item, SessionFacts
from scheduler.rules.order import order_key, pinned_order
from scheduler.week.classes import StimulusClass
from scheduler.week.model import Week
from scheduler.week.solver import Outcome
from scheduler.week.variables import OptionVars, SessionVars


def decode(week: Week, outcome: Outcome) -> tuple[SessionFacts, ...]:
    """The week's sessions by start, done ones as they were."""
    chosen = sorted((s for s in week.open_sessions if outcome[s.active]), key=lambda s: (outcome[s.start], s.label))
    dealt = _deal(chosen, outcome)
    sessions = [_session(week, s, outcome, dealt) for s in chosen]
    return tuple(sorted((*week.instance.done, *sessions), key=lambda s: (s.start, s.end, s.kind)))


def _deal(sessions: list[SessionVars], outcome: Outcome) -> dict[int, list[str]]:
    """The exercises of every option used, by the option's identity."""
    following: dict[int, int] = {}
    held: dict[tuple[int, int], list[str]] = {}
    dealt: dict[int, list[str]] = {}
    for role in (Role.MAIN, Role.ADD_ON):
        for session in sessions:
            for option in (o for o in session.options if o.role is role and outcome[o.use]):
                mine = held.setdefault((id(session), option.stimulus.index), [])
                dealt[id(option)] = [_next(option.stimulus, following, mine) for _ in range(outcome[option.uses])]
    return dealt


def _next(stimulus: StimulusClass, following: dict[int, int], held: list[str]) -> str:
    """The next member in turn that a session does not hold yet; one is left, as uses are no more than members."""
    turn = following.get(stimulus.index, 0)
    while stimulus.members[turn % stimulus.size] in held:
        turn += 1
    following[stimulus.index] = turn + 1
    held.append(stimulus.members[turn % stimulus.size])
    return held[-1]


def _session(week: Week, session: SessionVars, outcome: Outcome, dealt: dict[int, list[str]]) -> SessionFacts:
    instance = week.instance
    place = next(p for p, here in session.at.items() if outcome[here])
    pairs = _pairs(week, session, outcome)
    items = [
        _item(instance, place, key, o, sets=sets, pair=pairs.get(id(o)))
        for o in session.options
        if outcome[o.use]
        for key, sets in zip(dealt[id(o)], _split(outcome[o.sets], outcome[o.uses]), strict=True)
    ]
    items += _activation(week, session, outcome, place)
    start, end = outcome[session.start], outcome[session.end]
    bare = SessionFacts(session.kind, start, end, instance.clock.day(start), place, tuple(items), pin=session.pin)
    return SessionFacts(bare.kind, start, end, bare.day, place, in_order(instance, bare), done=False, pin=session.pin)


def _split(sets: int, uses: int) -> list[int]:
    """Sets over so many exercises, as evenly as may be."""
    return [sets // uses + (n < sets % uses) for n in range(uses)]


def _item(instance: Instance, place: str, key: str, option: OptionVars, *, sets: int, pair: int | None) -> Item:
    offer = instance.offers.get((key, place, option.zone))
    return Item(
        key=key,
        exercise=instance.pool[key],
        sets=sets,
        zone=option.zone,
        role=option.role,
        pair=pair,
        load_grams=offer.load_grams if offer else None,
    )


def _activation(week: Week, session: SessionVars, outcome: Outcome, place: str) -> list[Item]:
    sets = week.instance.catalogue.default_int("activation_sets")
    items = []
    for (owner, target), active in week.activations.items():
        if owner == id(session) and outcome[active]:
            key = week.activation_exercise(session, target, place)
            assert key is not None
            items.append(Item(key, week.instance.pool[key], sets, Zone.LIGHT, Role.ACTIVATION))
    return items


def _pairs(week: Week, session: SessionVars, outcome: Outcome) -> dict[int, int]:
    numbers: dict[int, int] = {}
    for owner, one, other, literal in week.pairings:
        if owner is session and outcome[literal]:
            number = len(numbers) // 2 + 1
            numbers[id(one)] = numbers[id(other)] = number
    return numbers


def in_order(instance: Instance, session: SessionFacts) -> tuple[Item, ...]:
    """A session's items in the order that the order rule asks, ties by the longer set-up (a bar before
    dumbbells before a machine), station and catalogue; partners together."""
    rank = {key: n for n, key in enumerate(instance.catalogue.exercises)}
    pinned = pinned_order(instance, session)
    rest = sorted(
        (i for i in session.items if i.key not in pinned or i.role is not Role.MAIN),
        key=lambda i: (order_key(instance, i), -i.exercise.setup_seconds, i.exercise.station, rank[i.key]),
    )
    first = [i for key in pinned for i in session.items if i.key == key and i.role is Role.MAIN]
    activation = [i for i in rest if i.role is Role.ACTIVATION]
    ordered = activation + first + [i for i in rest if i.role is not Role.ACTIVATION]
    together: list[Item] = []
    for item in ordered:
        if item in together:
            continue
        together.append(item)
        if item.pair is not None:
            together += [i for i in ordered if i.pair == item.pair and i is not item and i not in first]
    return tuple(together)
