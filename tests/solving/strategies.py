"""Random briefs for property tests: whole ones, valid by shape, that touch every rule.

A brief comes as plain data (a mapping, as read from a file), so that it can be shrunk, printed and changed. Some of
them are still refused when settled (openings that overlap, more pins than sessions): that is for the test to decide.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from hypothesis import event
from hypothesis import strategies as st

from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Caution
from scheduler.domain.errors import InputError
from scheduler.domain.units import DAYS
from scheduler.instance import Instance
from scheduler.planning import instance_of
from scheduler.rules import RULES, RULES_BY_KEY

Json = dict[str, Any]

MONDAY = dt.date(2026, 3, 2)
DAY_NAMES = [d.value for d in DAYS]
CATALOGUE = load_catalogue()
EXERCISES = list(CATALOGUE.exercises)
TARGETS = [*CATALOGUE.muscles, *CATALOGUE.groups]
COMMON_TARGETS = ["lats", "quads", "pectorals_lower", "biceps", "triceps", "glutes", "erectors", "back", "legs"]
SMALL_KINDS = [k for k, kind in CATALOGUE.kinds.items() if kind.sets.least <= 6]
PLACES = list(CATALOGUE.places)
PATTERNS = list(CATALOGUE.patterns)
ZONES = ["heavy", "moderate", "light"]
"""What is only kept small: a must of it is refused."""

_one_in = {n: st.sampled_from([*[False] * (n - 1), True]) for n in (2, 3, 4, 6)}


def sometimes(n: int, strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """The strategy once in so many times, else None."""
    return _one_in[n].flatmap(lambda yes: strategy if yes else st.none())


@st.composite
def ranges(draw: st.DrawFn, low: int, high: int) -> Json:
    least = draw(st.integers(low, high))
    return {"least": least, "most": draw(st.integers(least, high))}


@st.composite
def openings(draw: st.DrawFn, places: list[str]) -> list[Json]:
    """One to five openings, at most one a day and place, some at the edges of the day."""
    slots = draw(st.lists(st.tuples(st.integers(0, 6), st.sampled_from(places)), min_size=2, max_size=5, unique=True))
    found = []
    for day, place in slots:
        start = draw(st.sampled_from([0, 5 * 60 + 45, 7 * 60, 12 * 60 + 10, 18 * 60, 22 * 60 + 30]))
        minutes = draw(st.sampled_from([25, 40, 60, 80]))
        end = min(start + minutes, 24 * 60)
        found.append(
            {
                "day": DAY_NAMES[day],
                "start": _clock(start),
                "end": "24:00" if end == 24 * 60 else _clock(end),
                "place": place,
                "preference": draw(st.sampled_from(["preferred", "neutral", "neutral", "reluctant"])),
            }
        )
    return found


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02}:{minutes % 60:02}"


@st.composite
def kinds(draw: st.DrawFn, places: list[str]) -> Json:
    found = {}
    for name in draw(st.lists(st.sampled_from(SMALL_KINDS), min_size=1, max_size=2, unique=True)):
        kind: Json = {
            "base": name,
            "per_week": {"least": draw(st.sampled_from([0, 0, 0, 1])), "most": draw(st.sampled_from([2, 2, 3, 1]))},
            "sets": {"least": draw(st.integers(0, 4)), "most": draw(st.integers(4, 9))},
            "minutes": {"least": draw(st.sampled_from([0, 0, 0, 15])), "most": draw(st.sampled_from([25, 45, 75]))},
        }
        for part, strategy in {
            "required": st.sampled_from([[], [], [], None]),
            "days": sometimes(6, st.lists(st.sampled_from(DAY_NAMES), min_size=3, max_size=6, unique=True)),
            "places": sometimes(6, st.lists(st.sampled_from(places), min_size=1, max_size=2, unique=True)),
            "lower_body": sometimes(6, st.booleans()),
            "add_on": sometimes(3, add_ons()),
        }.items():
            value = draw(strategy)
            if value is not None:
                kind[part] = value
        found[name] = kind
    return found


@st.composite
def add_ons(draw: st.DrawFn) -> Json:
    found: Json = {"pattern": draw(st.sampled_from(["vertical_pull", "elbow_flexion", "calf_raise", "trunk_flexion"]))}
    if draw(st.booleans()):
        found["sets"] = draw(ranges(0, 4))
    if draw(st.booleans()):
        found["sessions"] = draw(ranges(0, 2))
    return found


@st.composite
def goals(draw: st.DrawFn) -> Json:
    names = st.one_of(st.sampled_from(COMMON_TARGETS), st.sampled_from(TARGETS))
    found = {}
    for name in draw(st.lists(names, max_size=4, unique=True)):
        least, aim, most = sorted(draw(st.tuples(*[st.integers(0, 48)] * 3)))
        goal: Json = {}
        for part, value in {"least": least / 4, "aim": aim / 4, "most": most / 4}.items():
            if draw(st.booleans()):
                goal[part] = value
        for part, strategy in {
            "frequency": sometimes(3, ranges(0, 3)),
            "session_cap": sometimes(3, st.integers(0, 24).map(lambda n: n / 4)),
            "recovery_hours": sometimes(3, st.sampled_from([0, 12, 24, 36.5, 48, 72])),
            "priority": sometimes(2, st.sampled_from([1, 1, 2, 3])),
        }.items():
            value = draw(strategy)
            if value is not None:
                goal[part] = value
        found[name] = goal
    return found


@st.composite
def pools(draw: st.DrawFn, kind_names: list[str]) -> Json:
    """A handful of exercises for some kinds, so that a solve takes a blink; families of near-equal ones among them."""
    families: dict[str, list[str]] = {}
    for key, row in CATALOGUE.exercises.items():
        families.setdefault(row.pattern, []).append(key)
    only: list[str] = []
    fit = [p for p in PATTERNS if any(p in CATALOGUE.kinds[k].patterns for k in kind_names)]
    chosen = draw(st.lists(st.sampled_from(fit), min_size=2, max_size=4, unique=True))
    chosen += draw(st.lists(st.sampled_from(PATTERNS), max_size=2))
    for pattern in dict.fromkeys(chosen):
        only += draw(st.lists(st.sampled_from(families[pattern]), min_size=1, max_size=3, unique=True))
    pool: Json = {"only": only}
    some = st.lists(st.sampled_from(only), max_size=2, unique=True)
    pool["favourites"] = draw(some)
    pool["wanted"] = draw(some)
    pool["avoided"] = [key for key in draw(some) if key not in pool["wanted"]]
    pool["most_per_week"] = draw(st.dictionaries(st.sampled_from(only), st.integers(0, 3), max_size=2))
    pool["least_distinct"] = draw(st.dictionaries(st.sampled_from(COMMON_TARGETS), st.integers(0, 4), max_size=1))
    return pool


@st.composite
def records(draw: st.DrawFn, pool: list[str], kind_names: list[str], days: range, most: int) -> list[Json]:
    """Sessions on distinct days, counted from Monday."""
    days = draw(st.lists(st.sampled_from(days), max_size=most, unique=True))
    found = []
    for day in sorted(days):
        start = dt.datetime.combine(MONDAY + dt.timedelta(days=day), dt.time(draw(st.integers(6, 20)), 3))
        exercises = [
            {"exercise": key, "sets": draw(st.integers(0, 8)), **_some_reps(draw(st.integers(0, 20))), **_add_on(draw)}
            for key in draw(st.lists(st.sampled_from(pool), max_size=3, unique=True))
        ]
        minutes = draw(st.sampled_from([1, 33, 60, 150]))
        kind = draw(st.sampled_from(kind_names))
        found.append({"kind": kind, "start": start.isoformat(), "minutes": minutes, "exercises": exercises})
    return found


def _some_reps(reps: int) -> Json:
    return {"reps": reps} if reps else {}


def _add_on(draw: st.DrawFn) -> Json:
    return {"add_on": True} if draw(_one_in[6]) else {}


@st.composite
def pins(draw: st.DrawFn, pool: list[str], kind_names: list[str], open_days: list[str]) -> list[Json]:
    found = []
    for kind in draw(st.lists(st.sampled_from(kind_names), max_size=2, unique=draw(_one_in[2]))):
        pin: Json = {"kind": kind}
        if draw(st.booleans()):
            pin["day"] = draw(st.sampled_from(open_days))
            start = draw(sometimes(3, st.sampled_from(["00:10", "07:00", "18:00", "18:05"])))
            if start is not None:
                pin["start"] = start
        held = draw(st.lists(st.sampled_from(pool), max_size=2, unique=True))
        pin["exercises"] = [
            {"exercise": key, **({"sets": draw(st.integers(1, 5))} if draw(st.booleans()) else {})} for key in held
        ]
        pin["in_this_order"] = draw(st.booleans())
        found.append(pin)
    return found


@st.composite
def busy_times(draw: st.DrawFn) -> list[Json]:
    found = []
    for hour in draw(st.lists(st.integers(-24, 7 * 24), max_size=2, unique=True)):
        start = dt.datetime.combine(MONDAY, dt.time(0)) + dt.timedelta(hours=hour)
        end = start + dt.timedelta(minutes=draw(st.sampled_from([0, 7, 60, 600, 3000])))
        found.append({"title": f"event {hour}", "start": start.isoformat(), "end": end.isoformat()})
    return found


def _numbers(kind_names: list[str]) -> dict[str, st.SearchStrategy[Json]]:
    """Numbers of single rules, beside mode and weight."""
    pair = st.fixed_dictionaries(
        {
            "from": st.sampled_from(kind_names),
            "to": st.sampled_from(kind_names),
            "hours": st.sampled_from([0.5, 12, 24, 47.9, 48, 100]),
        }
    )
    mode = st.sampled_from(["must", "wish", "off"])
    on = st.sampled_from(["wish", "wish", "must"])
    return {
        "spacing": st.fixed_dictionaries({"pairs": st.lists(pair, max_size=1)}),
        "sessions_a_day": st.fixed_dictionaries(
            {"most": st.integers(1, 2), "hours_apart": st.sampled_from([0, 0.5, 6])}
        ),
        "rest_days": st.fixed_dictionaries({"least": st.integers(0, 5), "in_a_row": st.integers(1, 7)}),
        "coverage": st.fixed_dictionaries(
            {"week_patterns": st.lists(st.sampled_from(PATTERNS), max_size=1), "lat_planes": st.booleans()}
        ),
        "stand_in": st.fixed_dictionaries({"sets": st.integers(1, 6)}),
        "lower_back": st.fixed_dictionaries(
            {"session_budget": st.integers(0, 10), "two_day_budget": st.integers(0, 14)}
        ),
        "variety": st.fixed_dictionaries({"grips": st.integers(0, 3)}),
        "ramp": st.fixed_dictionaries({"percent": st.integers(0, 50)}),
        "rep_mix": st.fixed_dictionaries({"lean": st.sampled_from(ZONES)}),
        "pairing": st.fixed_dictionaries({"least_pairs": st.integers(0, 2), "mode": on}),
        "early_and_fresh": st.fixed_dictionaries({"latest": st.sampled_from(DAY_NAMES)}),
        "weekly_sets": st.fixed_dictionaries({"least": mode, "aim": mode, "most": mode}),
        "selection": st.fixed_dictionaries({"wanted": mode}),
    }


@st.composite
def rules(draw: st.DrawFn, kind_names: list[str]) -> Json:
    """Modes, weights and numbers of some rules; most of the time the stand-in and the planes of the lats are off, for
    with a handful of exercises they make most weeks impossible."""
    found: Json = {}
    numbers = _numbers(kind_names)
    for key in draw(st.lists(st.sampled_from([r.key for r in RULES]), max_size=8, unique=True)):
        setting: Json = {}
        modes = [mode for mode in ("off", "wish", "wish", "must") if mode in RULES_BY_KEY[key].modes]
        mode = draw(sometimes(2, st.sampled_from(modes)))
        if mode is not None:
            setting["mode"] = mode
        weight = draw(sometimes(4, st.integers(0, 5)))
        if weight is not None:
            setting["weight"] = weight
        if key in numbers and draw(st.booleans()):
            setting |= draw(numbers[key])
        found[key] = setting
    if not draw(_one_in[6]):
        found["stand_in"] = {"mode": "off"}
    if not draw(_one_in[6]):
        found["coverage"] = {**found.get("coverage", {}), "lat_planes": False}
    return found


@st.composite
def prescriptions(draw: st.DrawFn) -> Json:
    found: Json = {}
    sets = st.fixed_dictionaries({"least": st.integers(0, 3), "most": st.integers(3, 5)})
    for part, strategy in {
        "reps": sometimes(4, st.fixed_dictionaries({"heavy": st.integers(1, 6), "light": st.integers(12, 30)})),
        "rest_seconds": sometimes(4, st.fixed_dictionaries({"moderate": st.integers(0, 130)})),
        "sets_per_exercise": sometimes(3, sets),
        "warm_up_minutes": sometimes(3, st.integers(0, 12)),
        "hit_sets": sometimes(4, st.integers(0, 20).map(lambda n: n / 4)),
        "indirect_share": sometimes(4, st.integers(0, 4).map(lambda n: n / 4)),
    }.items():
        value = draw(strategy)
        if value is not None:
            found[part] = value
    return found


@st.composite
def lifters(draw: st.DrawFn, pool: list[str]) -> Json:
    lifted = draw(st.lists(st.sampled_from(pool), max_size=2, unique=True))
    return {
        "status": draw(st.sampled_from(["novice", "intermediate", "advanced"])),
        "age_band": draw(st.sampled_from(["under_18", "18_49", "18_49", "50_64", "65_plus"])),
        "cautions": draw(sometimes(4, st.lists(st.sampled_from([c.value for c in Caution]), unique=True))) or [],
        "lifts": [
            {"exercise": key, "load_kg": draw(st.sampled_from([4, 27.5, 60, 180])), "reps": draw(st.integers(1, 12))}
            for key in lifted
        ],
    }


@st.composite
def briefs(draw: st.DrawFn, change: Callable[[Json], Json] = lambda data: data) -> Json:
    """A whole brief as data. ``change`` is a last word on it, for tests that want it narrower."""
    places: Json = {"gym": {"base": draw(st.sampled_from(["full_gym", "full_gym", *PLACES]))}}
    if draw(_one_in[3]):
        places["home"] = {"base": draw(st.sampled_from(PLACES)), "travel_minutes": draw(st.sampled_from([0, 7, 30]))}
    asked = draw(kinds(list(places)))
    pool = draw(pools(list(asked)))
    slots = draw(openings(list(places)))
    repeats = draw(_one_in[3])
    zone = draw(st.sampled_from(["UTC", "Europe/Berlin", "America/New_York", "Pacific/Chatham"]))
    brief: Json = {
        "week": {"start": MONDAY.isoformat(), "zone": zone, "repeats": repeats},
        "lifter": draw(lifters(pool["only"])),
        "places": places,
        "openings": slots,
        "busy": draw(busy_times()),
        "kinds": asked,
        "goals": draw(goals()),
        "exercises": pool,
        "prescription": draw(prescriptions()),
        "rules": draw(rules(list(asked))),
    }
    if draw(_one_in[3]):
        brief["pinned"] = draw(pins(pool["only"], list(asked), [s["day"] for s in slots]))
    if not draw(_one_in[6]):
        brief["sessions"] = {"least": draw(st.sampled_from([1, 0, 2])), "most": draw(st.integers(2, 4))}
    if not repeats and draw(st.booleans()):
        brief["history"] = draw(records(pool["only"], [*asked, "old"], range(-13, -1), 3))
    if draw(_one_in[3]):
        brief["done"] = draw(records(pool["only"], list(asked), range(7), 2))
    return change(brief)


def settled(data: Json) -> Instance | None:
    """The instance of a brief that was made up; None, and said so, where it is refused."""
    try:
        return instance_of(Brief.model_validate(data))
    except InputError:
        event("refused")
        return None
