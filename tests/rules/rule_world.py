"""What the cases of every rule are written in: a small brief, hand-made sessions, and how the solver is held to them.

A case is a brief (a patch on one tiny brief), a plan written by hand, and the breach of every switch it breaks. All
other rules are off, so nothing but the rule and the identities of the week model can speak.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from itertools import combinations, permutations
from typing import Any

from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Role, Zone
from scheduler.domain.units import TICKS_PER_SLOT, Day
from scheduler.facts import WeekFacts, item_pairs
from scheduler.instance import Instance, Item, SessionFacts
from scheduler.planning import instance_of
from scheduler.rules import RULES, Rule
from scheduler.week.model import Week
from scheduler.week.solver import Limits, Verdict, search
from scheduler.week.variables import SessionVars

MONDAY = dt.date(2026, 3, 2)

KINDS: Mapping[str, Mapping[str, Any]] = {
    "pull": {
        "patterns": [
            *("vertical_pull", "horizontal_pull", "shoulder_extension", "rear_fly", "elbow_flexion"),
            *("hinge", "trunk_extension"),
        ],
        "lower_body": False,
    },
    "push": {
        "patterns": ["horizontal_push", "vertical_push", "chest_fly", "elbow_extension"],
        "lower_body": False,
    },
    "upper": {
        "patterns": ["vertical_pull", "horizontal_pull", "horizontal_push", "elbow_flexion", "elbow_extension"],
        "lower_body": False,
    },
    "legs": {
        "patterns": ["squat", "hinge", "knee_extension", "knee_flexion", "calf_raise", "trunk_extension"],
        "lower_body": True,
    },
    "whole": {
        "patterns": [
            *("vertical_pull", "horizontal_pull", "horizontal_push", "elbow_flexion", "elbow_extension"),
            *("squat", "knee_extension", "knee_flexion"),
        ],
        "lower_body": True,
    },
}
"""Invented kinds, wide enough that only the rule under test says no."""

OPEN_ALWAYS = [{"day": [d.value for d in Day], "start": "00:00", "end": "24:00", "place": "gym"}]


@dataclass(frozen=True)
class Hand:
    """A session written by hand. ``minutes`` is what its content takes unless it is given."""

    kind: str
    when: str
    items: tuple[str, ...]
    minutes: int | None
    ends: bool
    place: str


def session(
    kind: str, when: str, *items: str, minutes: int | None = None, ends: bool = False, place: str = "gym"
) -> Hand:
    """A session that starts (or ``ends``) at ``mon 18:00``, of items ``exercise sets [zone] [role] [pair=1]``."""
    return Hand(kind, when, items, minutes, ends, place)


def record(kind: str, start: str, minutes: int, *items: str) -> dict[str, Any]:
    """A session of the history, or one done, of items ``exercise sets``."""
    rows = [text.split() for text in items]
    exercises = [{"exercise": key, "sets": int(sets), "reps": 10} for key, sets in rows]
    return {"kind": kind, "start": start, "minutes": minutes, "place": "gym", "exercises": exercises}


@dataclass(frozen=True)
class Case:
    """A brief, a plan and what the rule must say of it.

    Attributes:
        sessions: the plan.
        breaches: the breach of every switch that it breaks, in base units.
        brief: a merge patch on the tiny brief.
        setting: the rule's own numbers.
        pool: exercises the solver may use besides those of the plan.
        unsayable: why the week model cannot even make this plan, in whatever mode the rule is; empty where it can.
        others: settings of other rules, which else are off.
    """

    sessions: tuple[Hand, ...] = ()
    breaches: Mapping[str, int] = field(default_factory=dict)
    brief: Mapping[str, Any] = field(default_factory=dict)
    setting: Mapping[str, Any] = field(default_factory=dict)
    pool: tuple[str, ...] = ()
    unsayable: str = ""
    others: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


class Posting(Enum):
    """Who keeps the solver to a rule."""

    RULE = "the rule posts it, or names the exercises that get no option"
    MODEL = "it posts nothing: the week model has no variable or no value for a plan that breaks it"
    READING = "it posts nothing: a plan is put right when it is read off the solver"


@dataclass(frozen=True)
class RuleCases:
    """The three cases every rule needs, and more where it has more to say.

    ``modes`` are the fields of its setting that hold a mode.
    """

    holds: Case
    edge: Case
    broken: Case
    more: Mapping[str, Case] = field(default_factory=dict)
    posting: Posting = Posting.RULE
    modes: tuple[str, ...] = ("mode",)

    def all(self) -> dict[str, Case]:
        return {"holds": self.holds, "edge": self.edge, "broken": self.broken, **self.more}


# --- the brief ----------------------------------------------------------------------------------------------------


def merged(base: Any, patch: Any) -> Any:
    """A merge patch (RFC 7396): null takes a field away."""
    if not isinstance(patch, Mapping):
        return patch
    result = dict(base) if isinstance(base, Mapping) else {}
    for key, value in patch.items():
        if value is None:
            result.pop(key, None)
        else:
            result[key] = merged(result.get(key), value)
    return result


def build_brief(rule: Rule[Any], cases: RuleCases, case: Case, mode: str | None = None) -> Brief:
    """The tiny brief with the case's patch: every rule but one is off, and that one has the mode asked for."""
    hands = case.sessions
    counts = {hand.kind: sum(h.kind == hand.kind for h in hands) for hand in hands}
    for part in ("done", "pinned"):
        for row in case.brief.get(part, ()):
            counts[row["kind"]] = counts.get(row["kind"], 0) + 1
    kinds = {
        kind: {
            **KINDS[kind],
            "per_week": {"least": 0, "most": number},
            "sets": {"least": 0, "most": 60},
            "minutes": {"least": 0, "most": 235},
        }
        for kind, number in (counts or {"pull": 1}).items()
    }
    used = dict.fromkeys(text.split()[0] for hand in hands for text in hand.items)
    brief = {
        "week": {"start": MONDAY.isoformat(), "zone": "UTC"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": OPEN_ALWAYS,
        "kinds": kinds,
        "sessions": {"least": 0, "most": 14},
        # A wanted exercise is told apart from others like it, so that the solver can be held to it.
        "exercises": {"only": [*used, *case.pool], "wanted": [] if rule.key == "selection" else [*used, *case.pool]},
    }
    rules = {other.key: {"mode": "off"} for other in RULES}
    rules |= {key: dict(setting) for key, setting in case.others.items()}
    rules[rule.key] = {**(dict.fromkeys(cases.modes, mode) if mode else {}), **case.setting}
    return Brief.model_validate({**merged(brief, case.brief), "rules": rules})


# --- the plan, for the check --------------------------------------------------------------------------------------


def facts_by_hand(instance: Instance, case: Case) -> WeekFacts:
    """The plan of a case as facts, done sessions of its brief included."""
    sessions = [_session(instance, hand) for hand in case.sessions]
    return WeekFacts(instance, tuple(sorted((*instance.done, *sessions), key=lambda s: (s.start, s.end, s.kind))))


def _session(instance: Instance, hand: Hand) -> SessionFacts:
    day, clock = hand.when.split()
    moment = instance.clock.floor(instance.clock.at(Day(day).number, dt.time.fromisoformat(clock)))
    bare = SessionFacts(hand.kind, moment, moment, 0, hand.place, tuple(_item(text) for text in hand.items))
    length = -(-WeekFacts(instance, ()).ticks(bare) // TICKS_PER_SLOT)
    if hand.minutes is not None:
        length = hand.minutes // 5
    start = moment - length if hand.ends else moment
    return SessionFacts(hand.kind, start, start + length, instance.clock.day(start), hand.place, bare.items)


def _item(text: str) -> Item:
    key, sets, *rest = text.split()
    words = dict(word.split("=") for word in rest if "=" in word)
    zone = next((z for z in Zone if z.value in rest), Zone.MODERATE)
    role = next((r for r in Role if r.value in rest), Role.MAIN)
    load = round(float(words["load"]) * 1000) if "load" in words else None
    pair = int(words["pair"]) if "pair" in words else None
    return Item(key, load_catalogue().exercises[key], int(sets), zone, role, pair, load)


# --- the plan, held to by the solver ------------------------------------------------------------------------------


class UnsayableError(Exception):
    """The week model has no variable for a part of a plan."""


def least_breaches(rule: Rule[Any], brief: Brief, case: Case) -> dict[str, int] | None:
    """Hold the week model to a plan: the least breaches of the rule's wishes, or None where it cannot be made.

    It cannot where a must or an identity of the model forbids it, and where the model has no variable for it.
    """
    found: list[dict[str, int]] = []
    number = len(list(_seatings(Week(instance_of(brief)), case)))
    for n in range(number):
        week = Week(instance_of(brief))
        seating = list(_seatings(week, case))[n]
        try:
            _hold(week, seating)
        except UnsayableError:
            continue
        slacks = {name: var for name, var in week.slacks.items() if week.switches[name].rule == rule.key}
        outcome = search(week.model, sum(slacks.values()) if slacks else None, Limits(deterministic_seconds=20))
        assert outcome.verdict in (Verdict.OPTIMAL, Verdict.INFEASIBLE)
        if outcome.verdict is Verdict.OPTIMAL:
            found.append({name: outcome[var] for name, var in slacks.items() if outcome[var]})
    return min(found, key=lambda breaches: sum(breaches.values()), default=None)


def _seatings(week: Week, case: Case) -> Iterator[dict[int, SessionFacts]]:
    """Ways to seat the plan's sessions in the model's: free ones of a kind in order of time, pinned ones anyhow."""
    planned = [s for s in facts_by_hand(week.instance, case).sessions if not s.done]
    seatings: list[dict[int, SessionFacts]] = [{}]
    for kind in week.instance.kinds:
        mine = [s for s in planned if s.kind == kind]
        variables = [(n, s) for n, s in enumerate(week.open_sessions) if s.kind == kind]
        pinned = [n for n, s in variables if s.pin is not None]
        free = [n for n, s in variables if s.pin is None]
        ways = []
        for number in range(len(pinned) + 1):
            rest = len(mine) - number
            if not 0 <= rest <= len(free):
                continue
            for chosen in combinations(mine, number):
                others = [s for s in mine if s not in chosen]
                ways += [
                    {**dict(zip(seats, chosen, strict=True)), **dict(zip(free, others, strict=False))}
                    for seats in permutations(pinned, number)
                ]
        seatings = [{**one, **way} for one in seatings for way in ways]
    yield from seatings


def _hold(week: Week, seating: Mapping[int, SessionFacts]) -> None:
    for number, session_vars in enumerate(week.open_sessions):
        if number in seating:
            _hold_session(week, session_vars, seating[number])
        else:
            week.model.add(session_vars.active == 0)


def _hold_session(week: Week, variables: SessionVars, facts: SessionFacts) -> None:
    add = week.model.add
    add(variables.active == 1)
    add(variables.start == facts.start)
    add(variables.length == facts.end - facts.start)
    spots = [s for s in variables.spots if s.day == facts.day and s.place == facts.place]
    inside = [s for s in spots if s.start <= facts.start and facts.end <= s.end]
    if not spots:
        raise UnsayableError(f"no opening for {facts.kind} on day {facts.day} at {facts.place}")
    add(sum(variables.spots[s] for s in inside or spots) == 1)
    chosen: dict[int, Item] = {}
    taken: dict[int, list[Item]] = {}
    for item in facts.items:
        if item.role is Role.ACTIVATION:
            continue
        option = next(
            (
                o
                for o in variables.options
                if item.key in o.stimulus.members and item.zone in o.zones and o.role is item.role
            ),
            None,
        )
        if option is None:
            raise UnsayableError(f"no option for {item.key} {item.zone} {item.role} in {facts.kind}")
        if sum(i.key == item.key and i.role is not Role.ACTIVATION for i in facts.items) > 1:
            raise UnsayableError(f"{item.key} cannot come twice in a session")
        # Exercises that no rule can tell apart are one option, used as often; paired ones stand alone.
        chosen[id(option)] = item
        taken.setdefault(id(option), []).append(item)
    for option in variables.options:
        items = taken.get(id(option), [])
        add(option.use == int(bool(items)))
        add(option.uses == len(items))
        add(option.sets == sum(item.sets for item in items))
    _hold_activation(week, variables, facts)
    _hold_pairs(week, variables, facts, chosen)


def _hold_activation(week: Week, variables: SessionVars, facts: SessionFacts) -> None:
    wanted = {item.key for item in facts.items if item.role is Role.ACTIVATION}
    for (owner, target), literal in week.activations.items():
        if owner == id(variables):
            key = week.activation_exercise(variables, target, str(facts.place))
            week.model.add(literal == int(key in wanted))
            wanted.discard(str(key))
    if wanted:
        raise UnsayableError(f"no activation with {', '.join(wanted)}")


def _hold_pairs(week: Week, variables: SessionVars, facts: SessionFacts, chosen: Mapping[int, Item]) -> None:
    wanted = {frozenset((one.key, other.key)) for one, other in item_pairs(facts.items)}
    for owner, one, other, literal in week.pairings:
        if owner is variables and id(one) in chosen and id(other) in chosen:
            names = frozenset((chosen[id(one)].key, chosen[id(other)].key))
            week.model.add(literal == int(names in wanted))
            wanted.discard(names)
    if wanted:
        raise UnsayableError("no such pair")
