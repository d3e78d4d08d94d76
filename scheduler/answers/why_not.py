"""Why not this: a session or an exercise forced into the week; either what it costs, or what it breaks.

A demand becomes a pin of the brief (or, without a kind of session, a wanted exercise), raised to a must. Where the pins
of the brief leave no session of the kind, it takes the place of one of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import takewhile
from typing import Any

from scheduler import planning, referee
from scheduler.answers.conflicts import explain
from scheduler.answers.pose import until, witness
from scheduler.answers.ties import held
from scheduler.answers.variants import Stopped, difference, solve_all
from scheduler.data import catalogue_sha256
from scheduler.domain import wording
from scheduler.domain.answers import Conflict, Explanation
from scheduler.domain.brief import Brief, Pin, PinnedExercise
from scheduler.domain.errors import InputError, nearest
from scheduler.domain.plan import Mode, Plan
from scheduler.domain.variants import Demand, Possibility, WhyNot
from scheduler.facts import WeekFacts
from scheduler.instance import Instance
from scheduler.rules import RULES_BY_KEY
from scheduler.rules.pinned import pin_words
from scheduler.week.solver import Cancel, Limits

_PARTS = ("day", "start", "place")
"""What a demand and a pin both may settle of a session, besides its exercises."""


def why_not(
    brief: Brief,
    demand: Demand,
    *,
    base: Plan | None = None,
    limits: Limits | None = None,
    explain_seconds: float = 20.0,
    cancel: Cancel | None = None,
) -> WhyNot:
    """Force a demand into the week and say what becomes of it.

    Args:
        base: the plan of the brief, where it is known already.
        explain_seconds: budget for the conflict and the mends of an impossible demand.

    Raises:
        InputError: the demand names what is not there.
        Stopped: it was cancelled.
    """
    limits = limits or Limits()
    instance = planning.instance_of(brief)
    asked, switch = with_demand(instance, demand)
    forced = planning.instance_of(asked)
    instead = _gives_up(brief, asked)
    sentence = f"You ask for: {_spoken(forced, demand)}{', instead of what is pinned' if instead else ''}."
    if base is not None and base.tiers and _holds(forced, base, switch):
        return _answer(demand, sentence, Possibility.ALREADY, base, base)
    if witness(asked, until(explain_seconds, cancel)).possible is False:
        # Before an answer says "impossible" a second model agrees; the explanation asks it.
        reasons = explain(asked, budget_seconds=explain_seconds, most_conflicts=1, protected=(switch,), cancel=cancel)
        before = base if base is not None else planning.solve(brief, limits=limits, cancel=cancel)
        if cancel is not None and cancel.is_set:
            raise Stopped
        return WhyNot(
            demand=demand,
            sentence=sentence,
            possibility=Possibility.IMPOSSIBLE if reasons.possible is False else Possibility.UNKNOWN,
            base=before,
            verified=reasons.possible is False,
            reasons=_with_own_words(reasons, forced, brief, switch),
            cautions=before.cautions,
        )
    if base is None:
        before, plan = solve_all([brief, asked], limits, cancel)
    else:
        floors = None if instead else _floors(instance, forced, base)
        before, plan = base, planning.solve(asked, limits=limits, floors=floors, cancel=cancel)
        if cancel is not None and cancel.is_set:
            raise Stopped
    if not plan.tiers:
        return WhyNot(
            demand=demand, sentence=sentence, possibility=Possibility.UNKNOWN, base=before, cautions=before.cautions
        )
    if before.tiers and _holds(forced, before, switch):
        return _answer(demand, sentence, Possibility.ALREADY, before, before)
    plan = held(before, plan)
    changes = difference(before, plan)
    costs = [tier.cost for tier in changes.tiers]
    free = bool(costs) and all(cost is not None and cost <= 0 for cost in costs)
    return _answer(demand, sentence, Possibility.FREE if free else Possibility.POSSIBLE, before, plan)


def _floors(instance: Instance, forced: Instance, base: Plan) -> dict[int, int] | None:
    """What the week with the demand cannot be below: where it only asks for more, and offers nothing that is new."""
    mark = base.fingerprint
    same = (mark.version, mark.brief_sha256, mark.catalogue_sha256) == (
        planning.program_version(),
        planning.brief_sha256(instance.brief),
        catalogue_sha256(),
    )
    offered = ("pool", "offers", "sets_per_exercise", "more_sets")
    if not same or any(getattr(forced, part) != getattr(instance, part) for part in offered):
        return None
    return {tier.tier: tier.value for tier in takewhile(lambda tier: tier.proved, base.tiers)}


def _answer(demand: Demand, sentence: str, possibility: Possibility, base: Plan, plan: Plan) -> WhyNot:
    return WhyNot(
        demand=demand,
        sentence=sentence,
        possibility=possibility,
        base=base,
        plan=plan,
        difference=difference(base, plan),
        cautions=plan.cautions,
    )


def _holds(forced: Instance, base: Plan, switch: str) -> bool:
    """Whether the base plan does what is asked already."""
    facts: WeekFacts = referee.facts_of(forced, base.sessions)
    return not RULES_BY_KEY[switch.partition(":")[0]].breaches(facts).get(switch)


# --- from a demand to a brief -------------------------------------------------------------------------------------


def with_demand(instance: Instance, demand: Demand) -> tuple[Brief, str]:
    """The brief with the demand as a must, and the switch of that must. Raises InputError."""
    _check(instance, demand)
    brief = instance.brief
    kind = demand.kind
    # An exercise that the brief avoids cannot be wanted as well: as a pin the two musts meet.
    avoided = demand.exercise in brief.exercises.avoided
    if kind is None and demand.exercise is not None and not avoided and not _needs_session(demand):
        wanted = tuple(dict.fromkeys((*brief.exercises.wanted, demand.exercise)))
        pool = brief.exercises.model_copy(update={"wanted": wanted})
        return _as_must(brief.model_copy(update={"exercises": pool}), f"selection:wanted:{demand.exercise}")
    if kind is None:
        kind = _only_kind(instance, demand)
    number = _taken(instance, kind, demand)
    before = Pin(kind=kind) if number is None else brief.pinned[number]
    pin = _joined(before, demand)
    pins = list(brief.pinned)
    if number is None:
        pins.append(pin)
        number = len(brief.pinned)
    else:
        pins[number] = pin
    return _as_must(brief.model_copy(update={"pinned": tuple(pins)}), f"pinned:{number}")


def _taken(instance: Instance, kind: str, demand: Demand) -> int | None:
    """Where no session of a kind is free any more: the pin that the demand takes the place of, the likest of them."""
    pins = [n for n, pin in enumerate(instance.brief.pinned) if pin.kind == kind]
    done = sum(s.kind == kind for s in instance.done)
    if not pins or done + len(pins) < instance.kinds[kind].per_week.most:
        return None

    def unlike(number: int) -> int:
        pin = instance.brief.pinned[number]
        asked = ((pin.day, demand.day), (pin.start, demand.start), (pin.place, demand.place))
        return sum(None not in both and both[0] != both[1] for both in asked)

    return min(pins, key=unlike)


def _joined(pin: Pin, demand: Demand) -> Pin:
    """A pin with what is asked; what is not asked stays, but for the time of day on another day."""
    parts = {field: getattr(demand, field) for field in _PARTS if getattr(demand, field) is not None}
    if demand.day not in (None, pin.day) and demand.start is None:
        parts["start"] = None
    if demand.exercise is not None:
        pinned = (e for e in pin.exercises if e.exercise == demand.exercise)
        row = next(pinned, PinnedExercise(exercise=demand.exercise))
        if demand.sets is not None:
            row = row.model_copy(update={"sets": demand.sets})
        # Where it is pinned already it keeps its place: the pin may say in which order.
        known = any(e.exercise == demand.exercise for e in pin.exercises)
        kept = tuple(row if e.exercise == demand.exercise else e for e in pin.exercises)
        parts["exercises"] = kept if known else (*kept, row)
    return pin.model_copy(update=parts)


def _gives_up(brief: Brief, asked: Brief) -> bool:
    """Whether something that the brief pins gives way to the demand."""
    return any(
        any(getattr(old, part) not in (None, getattr(new, part)) for part in _PARTS)
        or not set(old.exercises) <= set(new.exercises)
        for old, new in zip(brief.pinned, asked.pinned, strict=False)
    )


def _with_own_words(found: Explanation, forced: Instance, brief: Brief, switch: str) -> Explanation:
    """The reasons, where the pin that the demand became says what is asked, and what the coach has pinned."""
    rule, _, number = switch.partition(":")
    if rule != "pinned":
        return found
    pin = forced.pins[int(number)]
    known = brief.pinned[int(number)] if int(number) < len(brief.pinned) else Pin(kind=pin.kind)
    shared = {part: getattr(known, part) for part in _PARTS if getattr(known, part) == getattr(pin, part)}
    kept = Pin(kind=pin.kind, exercises=tuple(e for e in pin.exercises if e in known.exercises), **shared)
    new = {part: None for part, value in shared.items() if value is not None}
    own = pin.model_copy(update={**new, "exercises": tuple(e for e in pin.exercises if e not in known.exercises)})
    sentence = " ".join([f"{forced.kinds[pin.kind].name} is asked for", *pin_words(forced, own)])
    pinned = " ".join(pin_words(forced, kept))
    sentence += f", and pinned {pinned}." if pinned else "."

    def told(conflict: Conflict) -> Conflict:
        mine = {member.sentence for member in conflict.members if member.switch == switch}
        return conflict.model_copy(
            update={
                "members": tuple(
                    m.model_copy(update={"sentence": sentence}) if m.switch == switch else m for m in conflict.members
                ),
                "sentences": tuple(sentence if said in mine else said for said in conflict.sentences),
            }
        )

    return found.model_copy(update={"conflicts": tuple(map(told, found.conflicts))})


def _needs_session(demand: Demand) -> bool:
    return any(part is not None for part in (demand.day, demand.start, demand.place, demand.sets))


def _only_kind(instance: Instance, demand: Demand) -> str:
    """The kind of session where only one can be meant."""
    fitting = list(instance.kinds)
    if demand.exercise is not None:
        pattern = instance.catalogue.exercises[demand.exercise].pattern
        fitting = [key for key, kind in instance.kinds.items() if pattern in kind.patterns]
    if len(fitting) == 1:
        return fitting[0]
    names = " or ".join(fitting or instance.kinds)
    raise InputError.single("demand.kind", "it is not said which kind of session is meant", f"Add: in {names}")


def _as_must(brief: Brief, switch: str) -> tuple[Brief, str]:
    rule = switch.partition(":")[0]
    setting = dict(brief.rules.get(rule, {}))
    rules: Mapping[str, Any] = brief.rules
    if setting.get("mode") == Mode.OFF:
        # The rule wakes up for this demand alone: everything else that it asks, also in a mode of its own, stays free
        # of cost.
        parts = {part: Mode.WISH.value for part, value in setting.items() if value == Mode.MUST}
        rules = {**brief.rules, rule: {**setting, **parts, "mode": Mode.WISH.value, "weight": 0}}
    return brief.model_copy(update={"rules": rules}).raised(switch), switch


def _check(instance: Instance, demand: Demand) -> None:
    for field, name, known in (
        ("kind", demand.kind, instance.kinds),
        ("place", demand.place, instance.venues),
        ("exercise", demand.exercise, instance.catalogue.exercises),
    ):
        if name is not None and name not in known:
            raise InputError.single(f"demand.{field}", f"unknown {field} {name!r}", nearest(name, known))
    if demand.start is not None and demand.day is None:
        raise InputError.single("demand.start", "a start without a day", "Add a day: on thu at 18:00")
    if demand.sets is not None and demand.exercise is None:
        raise InputError.single(
            "demand.sets",
            "sets of no exercise",
            "Name the exercise: lat_pulldown 4 sets in pull; for sets of a muscle ask what-if, goals.lats.least=14",
        )
    if demand == Demand():
        raise InputError.single("demand", "nothing is asked for", "Write it like: back on thu at 18:00")


def _spoken(instance: Instance, demand: Demand) -> str:
    parts = []
    if demand.exercise is not None:
        parts.append(instance.catalogue.exercises[demand.exercise].name)
        if demand.sets is not None:
            parts.append(f"with {wording.counted(demand.sets, 'set')}")
        if demand.kind is not None:
            parts.append(f"in {instance.kinds[demand.kind].name}")
    elif demand.kind is not None:
        parts.append(instance.kinds[demand.kind].name)
    else:
        parts.append("a session")
    if demand.day is not None:
        parts.append(f"on {demand.day.full_name}")
    if demand.start is not None:
        parts.append(f"at {demand.start:%H:%M}")
    if demand.place is not None:
        parts.append(f"at {instance.venues[demand.place].name}")
    return " ".join(parts)


__all__ = ["Demand", "why_not", "with_demand"]
