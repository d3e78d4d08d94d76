"""What the coach has pinned stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from scheduler.domain import wording
from scheduler.domain.brief import Pin, PinnedExercise
from scheduler.domain.plan import Mode, Role, Zone
from scheduler.facts import WeekFacts
from scheduler.instance import Instance, SessionFacts
from scheduler.rules.base import Mend, Rule, Setting, Switch, count_of

if TYPE_CHECKING:
    from scheduler.week.model import Week
    from scheduler.week.variables import SessionVars


class PinnedRule(Rule[Setting]):
    """For every pin there is a session of its kind, its own, with the pinned day, start, place, exercises, sets and
    rep zones.

    One switch a pin. Breach: pinned parts that do not hold, the order of its exercises one of them; a plan is put into
    that order when it is read off the solver.
    """

    key = "pinned"
    title = "Pinned"
    meaning = "What the coach has pinned stands."
    formula = (
        "for all pins n exists its own s: kind, day, start, place, exercises, sets, zones and order are those of n"
    )
    default_mode = Mode.MUST

    def switches(self, instance: Instance) -> Iterable[Switch]:
        for number, pin in enumerate(instance.pins):
            kind = instance.kinds[pin.kind].name
            what = " ".join([f"{kind} is pinned", *pin_words(instance, pin)])
            breach = f"{{}} of the pinned {kind}"
            yield self.switch(instance, str(number), f"{what}.", breach, count_of("part"), mend=_mend(what))

    def zones_told(self, instance: Instance) -> Callable[[str], Iterable[Zone]]:
        settled = {e.exercise for pin in instance.pins for e in pin.exercises if e.rep_zone is not None}
        return lambda exercise: Zone if exercise in settled else ()

    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        sessions = self.assigned(facts)
        missed = (
            (self.id(str(number)), self._missed(facts.instance, pin, sessions.get(number)))
            for number, pin in enumerate(facts.instance.pins)
        )
        return {name: parts for name, parts in missed if parts}

    def assigned(self, facts: WeekFacts) -> dict[int, SessionFacts]:
        """By the number of a pin the session that is its own: of all ways to share them out one that misses least."""
        instance = facts.instance
        found: dict[int, SessionFacts] = {}
        switches = {s.id: s for s in self.switches(instance)}
        for kind in instance.kinds:
            pins = [(number, pin) for number, pin in enumerate(instance.pins) if pin.kind == kind]
            if not pins:
                continue
            sessions: list[SessionFacts | None] = [s for s in facts.planned if s.kind == kind]
            sessions += [None] * (len(pins) - len(sessions))
            costs = [
                [_cost(switches[self.id(str(number))], self._missed(instance, pin, s)) for s in sessions]
                for number, pin in pins
            ]
            for (number, _), column in zip(pins, cheapest(costs), strict=True):
                session = sessions[column]
                if session is not None:
                    found[number] = session
        return found

    def _missed(self, instance: Instance, pin: Pin, session: SessionFacts | None) -> int:
        parts = 1 + (pin.day is not None) + (pin.start is not None) + (pin.place is not None)
        parts += sum(1 + (e.sets is not None) + (e.rep_zone is not None) for e in pin.exercises)
        if session is None:
            return parts
        held = {item.key: item.sets for item in session.items if item.role is not Role.ACTIVATION}
        zones = {item.key: item.zone for item in session.items if item.role is not Role.ACTIVATION}
        missed = int(pin.day is not None and session.day != pin.day.number)
        missed += int(pin.start is not None and session.start != _start(instance, pin))
        missed += int(pin.place is not None and session.place != pin.place)
        for row in pin.exercises:
            missed += int(row.exercise not in held)
            missed += int(row.sets is not None and held.get(row.exercise) != row.sets)
            missed += int(row.rep_zone is not None and zones.get(row.exercise) != row.rep_zone)
        return missed + int(pin.in_this_order and _out_of_order(pin, session))

    def post(self, week: Week) -> None:
        for session in week.open_sessions:
            if session.pin is not None:
                self._post_pin(week, session, week.instance.pins[session.pin])

    def _post_pin(self, week: Week, session: SessionVars, pin: Pin) -> None:
        model = week.model
        slack = week.slack(self.id(str(session.pin)), 50)
        hard = isinstance(slack, int) and not slack
        broken = []

        def part(name: str) -> object:
            """A literal under which a part holds; true where the pin is a must."""
            if hard:
                return week.one
            literal = week.bool_var(f"{session.label} {name} holds")
            broken.append(1 - literal)
            model.add_implication(literal, session.active)
            return literal

        model.add(session.active == 1).only_enforce_if(part("session"))
        if pin.day is not None:
            model.add(session.day[pin.day.number] == 1).only_enforce_if(part("day"))
        if pin.start is not None:
            model.add(session.start == _start(week.instance, pin)).only_enforce_if(part("start"))
        if pin.place is not None:
            model.add(session.at[pin.place] == 1).only_enforce_if(part("place"))
        for row in pin.exercises:
            mine = [o for o in session.options if o.stimulus.key == row.exercise]
            model.add(sum(o.use for o in mine) >= 1).only_enforce_if(part(row.exercise))
            if row.sets is not None:
                model.add(sum(o.sets for o in mine) == row.sets).only_enforce_if(part(f"{row.exercise} sets"))
            if row.rep_zone is not None:
                fit = [o.use for o in mine if o.zone == row.rep_zone]
                model.add(sum(fit) >= 1).only_enforce_if(part(f"{row.exercise} {row.rep_zone}"))
        if broken:
            model.add(sum(broken) <= slack)


def _out_of_order(pin: Pin, session: SessionFacts) -> bool:
    """Whether a session holds what is pinned, and in another order."""
    asked = list(dict.fromkeys(row.exercise for row in pin.exercises))
    held = [item.key for item in session.items if item.role is Role.MAIN and item.key in asked]
    return set(held) == set(asked) and held != asked


def pin_words(instance: Instance, pin: Pin) -> Iterator[str]:
    """What a pin settles of its session: 'on Thursday', 'at 18:00', 'at Home gym', 'with Leg press (4 sets)'."""
    if pin.day is not None:
        yield f"on {pin.day.full_name}"
    if pin.start is not None:
        yield f"at {pin.start:%H:%M}"
    if pin.place is not None:
        yield f"at {instance.venues[pin.place].name}"
    if pin.exercises:
        ordered = ", in this order" if pin.in_this_order and len(pin.exercises) > 1 else ""
        yield f"with {wording.listed(_held(instance, row) for row in pin.exercises)}{ordered}"


def _held(instance: Instance, row: PinnedExercise) -> str:
    """'Leg press (4 heavy sets)'; a number or a zone that it cannot have is said, for that is no demand of its own."""
    exercise = instance.catalogue.exercises[row.exercise]
    noun = f"{row.rep_zone} set" if row.rep_zone else "set"
    parts = []
    if row.sets is not None:
        parts.append(wording.counted(row.sets, noun))
    elif row.rep_zone is not None:
        parts.append(f"{noun}s")
    asked = instance.sets_of(row.exercise)
    if row.sets is not None and not asked.least <= row.sets <= asked.most:
        parts.append(f"where an exercise has {wording.between(asked.least, asked.most, 'set')}")
    if row.rep_zone is not None and row.rep_zone not in instance.fitting_zones(exercise):
        parts.append(f"where it has no {row.rep_zone} ones")
    return f"{exercise.name} ({', '.join(parts)})" if parts else exercise.name


def _mend(what: str) -> Mend:
    return lambda amount, facts: f"{wording.counted(amount, 'part')} given up of: {what}"


def _start(instance: Instance, pin: Pin) -> int:
    assert pin.day is not None
    assert pin.start is not None
    return instance.clock.floor(instance.clock.at(pin.day.number, pin.start))


def _cost(switch: Switch, missed: int) -> int:
    """What counts when sessions are told apart: a must that is kept before all else, then as few parts as can be."""
    over = max(0, missed - switch.concession) if switch.mode is Mode.MUST else 0
    return 1000 * over + missed


def cheapest(costs: Sequence[Sequence[int]]) -> list[int]:
    """For each row a column of its own, so that the costs add up to the least: shortest augmenting paths."""
    columns = range(len(costs[0]))
    owner: dict[int, int] = {}
    row_price, column_price = [0] * len(costs), [0] * len(columns)
    for start in range(len(costs)):
        distance: dict[int, int] = {}
        before: dict[int, int | None] = {}
        settled: set[int] = set()
        row, at, column = start, 0, None
        while True:
            for c in columns:
                reduced = at + costs[row][c] - row_price[row] - column_price[c]
                if c not in settled and reduced < distance.get(c, reduced + 1):
                    distance[c], before[c] = reduced, column
            column = min((c for c in columns if c not in settled), key=lambda c: distance[c])
            settled.add(column)
            at = distance[column]
            if column not in owner:
                break
            row = owner[column]
        row_price[start] += at
        for c in settled:
            if c in owner:
                row_price[owner[c]] += at - distance[c]
            column_price[c] -= at - distance[c]
        while True:
            previous = before[column]
            owner[column] = start if previous is None else owner[previous]
            if previous is None:
                break
            column = previous
    taken = {row: column for column, row in owner.items()}
    return [taken[row] for row in range(len(costs))]
