"""Why not this: a session or an exercise forced into the week; either what it costs, or what it breaks.

A demand becomes a pin of the brief (or, without a kind of session, a wanted exercise), raised to a must. Where the pins
of the brief leave no session of the kind, it takes the place of one of them.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from itertools import takewhile
from typing import Any

from scheduler import planning, referee
from scheduler.answers.conflicts import explain
from scheduler.answers.pose import until, witness
from scheduler.answers.ties import held
from scheduler.answers.variants import Stopped, difference, solve_all
from scheduler.data import catalogue_sha256
from scheduler.documents import validate
from scheduler.domain import wording
from scheduler.domain.answers import Conflict, Explanation
from scheduler.domain.brief import Brief, Pin, PinnedExercise
from scheduler.domain.errors import InputError, holding, nearest, spelling
from scheduler.domain.plan import Mode, Plan
from scheduler.domain.units import DAYS
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
    if not same or forced.pool != instance.pool or forced.offers != instance.offers:
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
        others = tuple(e for e in pin.exercises if e.exercise != demand.exercise)
        sets = next((e.sets for e in pin.exercises if e.exercise == demand.exercise), None)
        row = PinnedExercise(exercise=demand.exercise, sets=sets if demand.sets is None else demand.sets)
        parts["exercises"] = (*others, row)
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
        # The rule wakes up for this demand alone: everything else that it asks stays free of cost.
        rules = {**brief.rules, rule: {**setting, "mode": Mode.WISH.value, "weight": 0}}
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


# --- reading a demand ---------------------------------------------------------------------------------------------

_SETS = re.compile(r"\b(\d{1,4})\s+sets?\b")
_CLOCK = re.compile(r"\b(\d{1,2})(?:[:.](\d\d))?\s*([ap])\.?m\b\.?|\b(\d{1,2})[:.](\d\d)\b")
"""6 pm, 6:30 pm, 18:30."""
_HOUR = re.compile(r"\b(?:at|on)[\s,]+(\d{1,2})\b")
"""at 18; a day stands as "on" by then, so that Tuesday 18 is read too."""
_WORD = re.compile(r"\w+(?:[-']\w+)*")
_FILLERS = frozenset(("on", "at", "in", "with", "of", "the", "a", "session", "sessions"))
_LEAVING_OUT = frozenset(("no", "not", "without", "never"))


def read_demand(text: str, instance: Instance) -> Demand:
    """A demand from a few words: ``back on thu at 18:00``, ``barbell_back_squat 4 sets in legs``, ``legs at home``.

    Names are those of the brief and the catalogue, by key or in full, or words of them that only one name holds. Raises
    InputError on what is no name, and on what another question answers.
    """
    found: dict[str, Any] = {}

    def take(field: str, value: Any, said: str) -> None:
        if field in found:
            raise InputError.single("demand", f"{said!r} names a second {field}", "Ask for one thing at a time")
        found[field] = value

    rest = text.strip().lower()
    for match in _SETS.finditer(rest):
        take("sets", int(match[1]), match[0])
    rest = _SETS.sub(" ", rest)
    for match in _CLOCK.finditer(rest):
        take("start", _clock(match), match[0])
    rest = _CLOCK.sub(" ", rest)
    for name, field, value in sorted(_names(instance), key=lambda row: -len(row[0])):
        pattern = re.compile(rf"(?<![\w-]){re.escape(name)}(?![\w-])")
        if pattern.search(rest):
            take(field, value, name)
            # What stood beside a name must not seem to stand beside each other.
            rest = pattern.sub(" on " if field == "day" else " | ", rest, count=1)
    for match in _HOUR.finditer(rest):
        take("start", _time(match[1], "0", match[1]), match[0])
    rest = _HOUR.sub(" ", rest)
    strange = [word for word in _WORD.findall(rest) if word not in _FILLERS]
    if strange:
        take(*_meant(strange, found, instance))
    return validate(Demand, found, prefix="demand")


def _clock(match: re.Match[str]) -> dt.time:
    twelve, minutes, half, hours, more = match.groups()
    if half is None:
        return _time(hours, more, match[0])
    # Of twelve hours the twelfth comes first; what is no hour of them is no clock time either.
    hour = int(twelve) % 12 + 12 * (half == "p") if 1 <= int(twelve) <= 12 else 24
    return _time(hour, minutes or 0, match[0])


def _time(hour: str | int, minute: str | int, said: str) -> dt.time:
    try:
        return dt.time(int(hour), int(minute))
    except ValueError:
        advice = "Write hours and minutes from 0:00 to 23:59: on thu at 18:00"
        raise InputError.single("demand", f"{said.strip()} is no clock time", advice) from None


def _meant(strange: list[str], found: Mapping[str, Any], instance: Instance) -> tuple[str, Any, str]:
    """The one thing that words can mean which are no name by themselves: field, value, words. Raises InputError."""
    words = [word for word in strange if not word.isdigit() and word not in _LEAVING_OUT]
    said = " ".join(words)
    numbers = [word for word in strange if word.isdigit()]
    counts = bool(numbers) or "sets" in found
    # The brief's own come first, in what is meant and in what is suggested.
    exercises = {**instance.pool, **instance.catalogue.exercises}
    names = {**instance.kinds, **instance.venues, **exercises}
    sessions = ", ".join(instance.kinds)
    held = holding(said, names)
    own = [key for key in held if key in instance.kinds or key in instance.venues or key in instance.pool]
    if not _LEAVING_OUT.isdisjoint(strange):
        out = [found["exercise"]] if "exercise" in found else [key for key in own or held if key in exercises]
        problem = "this question puts something into the week, and leaves nothing out"
        asked = out[0] if len(out) == 1 else f"[{', '.join(out or ['EXERCISE'])}]"
        advice = f'Ask: weekwright what-if BRIEF --set "exercises.avoided+={asked}"'
    elif (muscle := spelling(said, instance.catalogue.targets)) is not None:
        a_muscle = "muscle group" if muscle in instance.catalogue.groups else "muscle"
        problem = f"{said!r} is a {a_muscle}, and this question is about sessions and exercises"
        if counts:
            asked = _at_least(instance.brief, muscle, int(found.get("sets") or numbers[0]))
            advice = f'Ask: weekwright what-if BRIEF --set "{asked}"'
            if muscle in instance.targets:
                advice += f". What it lacks now: weekwright why BRIEF --wish weekly_sets:aim:{muscle}"
        else:
            advice = f"Name a session ({sessions}) or an exercise. {nearest(said, names) if held else ''}".strip()
    elif numbers:
        problem = f"it is not said what {numbers[0]} counts"
        advice = f"Write {numbers[0]} sets, or a time: thu at 18:00"
    elif len(one := own if len(own) == 1 else held) == 1:
        (key,) = one
        return "kind" if key in instance.kinds else "place" if key in instance.venues else "exercise", key, said
    elif held:
        problem, advice = f"{said!r} stands in several names", nearest(said, names)
    else:
        word = next((word for word in words if not holding(word, names)), words[0])
        days = dict.fromkeys(text for day in DAYS for text in (day.value, day.full_name))
        known = {**names, **days, **(instance.catalogue.targets if counts else {})}
        otherwise = f"The sessions of this brief: {sessions}"
        problem, advice = f"{word!r} is no name that is known here", nearest(word, known, otherwise)
    raise InputError.single("demand", problem, advice)


def _at_least(brief: Brief, muscle: str, sets: int) -> str:
    """So many sets as a setting of the brief; an aim or a most that is given and lies lower is raised with them."""
    goal = brief.goals.get(muscle)
    given = {} if goal is None else {"aim": goal.aim, "most": goal.most}
    raised = [f", {part}: {sets}" for part, number in given.items() if number is not None and number < sets]
    return f"goals.{muscle}={{least: {sets}{''.join(raised)}}}" if raised else f"goals.{muscle}.least={sets}"


def _names(instance: Instance) -> Iterable[tuple[str, str, Any]]:
    """Every name that a demand may hold: name, field, value; the brief's own names win."""
    seen: set[str] = set()
    rows: list[tuple[str, str, Any]] = [(key, "kind", key) for key in instance.kinds]
    rows += [(key, "place", key) for key in instance.venues]
    rows += [(day.value, "day", day) for day in DAYS] + [(day.full_name, "day", day) for day in DAYS]
    rows += [(kind.name, "kind", key) for key, kind in instance.kinds.items()]
    rows += [(venue.name, "place", key) for key, venue in instance.venues.items()]
    rows += [(key, "exercise", key) for key in instance.catalogue.exercises]
    rows += [(row.name, "exercise", key) for key, row in instance.catalogue.exercises.items()]
    for name, field, value in rows:
        if name.lower() not in seen:
            seen.add(name.lower())
            yield name.lower(), field, value


__all__ = ["Demand", "read_demand", "why_not", "with_demand"]
