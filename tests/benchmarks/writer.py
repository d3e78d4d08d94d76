"""A brief of a family and a seed, written part by part; each part draws from a random generator of its own."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator
from functools import cached_property
from typing import Any

from scheduler.data import load_catalogue
from scheduler.domain.units import DAYS
from tests.benchmarks.catalogues import part
from tests.benchmarks.habits import (
    CAPACITY_MINUTES_PER_SET,
    CORE,
    DAY_PATTERNS,
    GOALS,
    LIFTS,
    SPLITS,
    WEAK,
    ZONES,
)
from tests.benchmarks.sketches import Sketch, sketch

Json = dict[str, Any]
SMALLEST = 60
"""Exercises that every pool of a brief has in common."""


class Writer:
    def __init__(self, family: str, seed: int, exercises: int, openings_a_day: int | None) -> None:
        self.family, self.seed, self.exercises, self.openings_a_day = family, seed, exercises, openings_a_day
        self.rows = load_catalogue().exercises
        rng = self._rng("week")
        split = {"over_tight": "full_body upper_lower", "two_a_day": "three_way upper_lower"}.get(
            family, "full_body upper_lower three_way body_part"
        )
        split = family if family in SPLITS else rng.choice(split.split())
        self.order = rng.choice([o for o in SPLITS[split] if family not in ("two_a_day", "replan") or len(o) > 2])
        self.count = len(self.order)
        self.days = rng.choice(DAY_PATTERNS[self.count]).split()
        # Six days round the ring would be six in a row.
        self.repeats = (
            rng.random() < 0.15 and family not in ("replan", "heavy_calendar", "two_a_day") and self.count < 6
        )
        monday = dt.date(2026, 11, 30) + dt.timedelta(weeks=rng.randrange(12))
        self.monday, self.zone = monday, rng.choice(ZONES)
        low, high = (35, 50) if family == "over_tight" else (60, 90)
        self.minutes = rng.randrange(low, high + 1, 5)
        self.status = {2: "novice intermediate", 3: "novice intermediate intermediate", 4: "intermediate advanced"}.get(
            self.count, "advanced"
        )
        self.status = rng.choice(self.status.split())
        base = "full_gym" if split == "body_part" else rng.choice(["full_gym", "full_gym", "full_gym", "small_gym"])
        self.places: Json = {"gym": {"name": f"Gym {seed + 1}", "base": base}}
        if family in ("many_openings", "heavy_calendar") or rng.random() < 0.2:
            self.places["gym"]["travel_minutes"] = rng.choice([10, 15, 20])
        if family == "many_openings":
            self.places["home"] = {"base": rng.choice(["home_dumbbells", "garage_rack"])}
            if rng.random() < 0.4:
                self.places["office"] = {"base": "small_gym", "travel_minutes": 5}
        heaviest = rng.choice([None, None, 30, 40])
        if heaviest:
            self.places["gym"]["equipment"] = {"dumbbells": {"heaviest_kg": heaviest}}
        self.openings = self._openings(rng)
        self.kinds = self._kinds(rng)
        self.goals = self._goals(rng)

    def _rng(self, part: str) -> random.Random:
        """Each part of a brief draws from a generator of its own, so that the others do not depend on it."""
        return random.Random(f"{self.family} {self.seed} {part}")

    def brief(self) -> Json:
        rng = self._rng("rest")
        brief: Json = {
            "title": f"{self.family.replace('_', ' ').capitalize()} {self.seed}",
            "week": {"start": self.monday.isoformat(), "zone": self.zone, "repeats": self.repeats},
            "lifter": self._lifter(rng),
            "places": self.places,
            "openings": self.openings,
            "kinds": self.kinds,
            "goals": self.goals,
            "prescription": self._prescription(rng),
            "rules": self._rules(rng),
        }
        if self.family == "heavy_calendar":
            brief["busy"] = list(self._busy(self._rng("calendar")))
        brief["exercises"] = self._pool(self._rng("pool"))
        self._records(brief)
        return brief

    # --- when and where ---------------------------------------------------------------------------------------------

    def _openings(self, rng: random.Random) -> list[Json]:
        names = [d.value for d in DAYS]
        if self.openings_a_day or self.family == "many_openings":
            return self._many_openings(rng, self.openings_a_day or rng.choice([2, 3]))
        if self.family == "two_a_day":
            days = rng.choice(["mon tue thu sat", "mon wed thu sat", "mon tue thu fri sat"]).split()
            early, late = rng.choice([("06:30", "09:00"), ("08:00", "11:00")]), rng.choice(["16:00", "17:30"])
            return [
                {"day": days, "start": early[0], "end": early[1], "place": "gym"},
                {"day": days, "start": late, "end": "20:30", "place": "gym"},
            ]
        if self.family == "heavy_calendar":
            return [
                {"day": names[:5], "start": "06:30", "end": "13:30", "place": "gym"},
                {"day": names[:5], "start": "16:00", "end": "21:30", "place": "gym"},
                {"day": names[5:], "start": "08:00", "end": "19:00", "place": "gym"},
            ]
        spare = [d for d in names if d not in self.days]
        extra = 0 if self.family == "over_tight" and rng.random() < 0.5 else rng.randint(1, min(2, len(spare)))
        days = [d for d in names if d in self.days or d in rng.sample(spare, extra)]
        at = rng.choice(["17:00", "17:30", "18:00", "18:30", "06:15"])
        room = self.minutes if self.family == "over_tight" else self.minutes + rng.choice([15, 45, 90])
        if self.family == "over_tight":
            at = rng.choice(["12:00", "12:15", "06:30", at])
        found = [
            {"day": [d for d in days if d in names[:5]], "start": at, "end": _later(at, room), "place": "gym"},
            {"day": [d for d in days if d in names[5:]], "start": "09:00", "end": _later("09:00", room + 30)}
            | {"place": "gym", "preference": rng.choice(["preferred", "neutral", "reluctant"])},
        ]
        return [opening for opening in found if opening["day"]]

    def _many_openings(self, rng: random.Random, a_day: int) -> list[Json]:
        names = [d.value for d in DAYS]
        elsewhere = rng.choice([p for p in self.places if p != "gym"] or ["gym"])
        preference = [rng.choice(["preferred", "neutral", "neutral", "reluctant"]) for _ in range(6)]
        times = [
            ("17:30", "21:00", "gym"),
            ("06:00", "08:30", elsewhere),
            ("11:45", "13:30", rng.choice([*self.places])),
        ]
        return [
            {"day": days, "start": start, "end": end, "place": place, "preference": preference[2 * n + m]}
            for n, (start, end, place) in enumerate(times[:a_day])
            for m, days in enumerate((names[:5], names[5:]))
        ]

    def _busy(self, rng: random.Random) -> Iterator[Json]:
        """A full diary: meetings at work, evenings taken, something at the weekend."""
        for day in range(7):
            for number in range(rng.randint(4, 7) if day < 5 else rng.randint(1, 3)):
                hour, minute = rng.randint(8, 18), rng.choice([0, 15, 30])
                start = dt.datetime.combine(self.monday + dt.timedelta(days=day), dt.time(hour, minute))
                end = start + dt.timedelta(minutes=rng.choice([30, 45, 60, 60, 90]))
                yield {"title": f"meeting {number + 1}", "start": start.isoformat(), "end": end.isoformat()}
            if rng.random() < 0.3:
                start = dt.datetime.combine(self.monday + dt.timedelta(days=day), dt.time(19, 30))
                yield {"title": "evening", "start": start.isoformat(), "end": f"{start.date()}T22:30"}

    # --- what -------------------------------------------------------------------------------------------------------

    def _kinds(self, rng: random.Random) -> Json:
        templates = load_catalogue().kinds
        found: Json = {}
        for base in dict.fromkeys(self.order):
            kind: Json = {"base": base, "per_week": self.order.count(base)}
            short = base.endswith("_small")
            kind["minutes"] = {"least": 20 if short else 30, "most": min(50, self.minutes) if short else self.minutes}
            if rng.random() < 0.3:  # the coach's own list of patterns
                patterns, required = templates[base].patterns, templates[base].required
                own = rng.sample(patterns, max(min(4, len(patterns)), round(0.7 * len(patterns))))
                # Without squat or pull from the floor the back is trained directly: no coach leaves out all three.
                own += ["hinge", "trunk_extension"]
                kind["patterns"] = [p for p in patterns if p in own or p in required]
            if self.family == "many_openings" and base in ("legs", "lower", "back_day"):
                kind["places"] = [p for p in self.places if p != "home"]
            if base in ("legs", "lower") and "pull" not in self.order and rng.random() < 0.15:
                kind["add_on"] = {"pattern": "vertical_pull", "sets": {"least": 3, "most": 4}, "sessions": 1}
            found[base] = kind
        return found

    def patterns(self, kind: str) -> tuple[str, ...]:
        given = self.kinds[kind].get("patterns")
        return tuple(given) if given else load_catalogue().kinds[kind].patterns

    def fits(self, exercise: str, kind: str) -> bool:
        """Whether a session of a kind may hold an exercise."""
        row = self.rows[exercise]
        return row.pattern in self.patterns(kind) and (load_catalogue().kinds[kind].lower_body or not row.lower_body)

    def _chances(self, target: str) -> int:
        """How many sessions of the week could train a muscle or group directly."""
        members = set(load_catalogue().members(target))
        main = [key for key, row in self.rows.items() if members & set(row.direct) and not row.substitute]
        return sum(any(self.fits(key, kind) for key in main) for kind in self.order)

    def _goals(self, rng: random.Random) -> Json:
        possible = [target for target in GOALS if self._chances(target)]
        weak = rng.choice([w for w in WEAK if w in possible])
        if self.family == "body_part" and "back_small" in self.order:
            weak = "lats"
        number = rng.randint(6, min(12, len(possible)))
        chosen = list(dict.fromkeys([weak, *(c for c in CORE if c in possible)]))
        others = [p for p in possible if p not in chosen]
        chosen += rng.sample(others, max(0, min(number - len(chosen), len(others))))
        has_weak = self.family == "body_part" or rng.random() < 0.6
        aims = {t: rng.randint(*GOALS[t]) * (1.5 if t == weak and has_weak else 1) for t in chosen}
        # Groups overlap with their muscles, and indirect sets pay a share.
        demand = sum(aim for t, aim in aims.items() if t not in ("back", "upper_back")) * 0.8
        capacity = self.count * (self.minutes - 8) / CAPACITY_MINUTES_PER_SET
        share = rng.uniform(1.1, 1.5) if self.family == "over_tight" else rng.uniform(0.55, 0.9)
        scale = max(0.6, min(1.3, share * capacity / demand))
        found: Json = {}
        for target in GOALS:
            if target not in chosen:
                continue
            aim = max(3, round(aims[target] * scale))
            goal: Json = {"aim": aim}
            if rng.random() < 0.75:
                goal |= {"least": max(2, round(0.6 * aim)), "most": max(aim + 4, round(1.6 * aim))}
                if target in ("biceps", "triceps", "front_delts", "upper_back", "rear_delts", "glutes", "adductors"):
                    goal["most"] = 22  # what they get from presses, rows and squats adds up
            elif aim > 16:
                goal["most"] = aim + 6
            chances = self._chances(target)
            if chances == 1:
                goal["frequency"] = 1
            elif rng.random() < 0.25 or target in ("calves", "abs", "adductors", "erectors", "trapezius_upper"):
                goal["frequency"] = {"least": 1, "most": min(4, max(2, chances))}
            if target == weak and has_weak:
                goal["priority"] = 1
            elif rng.random() < 0.12:
                goal["priority"] = rng.choice([2, 3])
            found[target] = goal
        return found

    def _pool(self, rng: random.Random) -> Json:
        """What may be used, and what the coach says of it: among the exercises that even the smallest pool has."""
        catalogue = load_catalogue()
        patterns = [p for kind in self.kinds for p in self.patterns(kind)]
        patterns += [kind["add_on"]["pattern"] for kind in self.kinds.values() if "add_on" in kind]
        equipment = [e for p in self.places.values() for e in catalogue.places[p["base"]].equipment]
        smallest = part(SMALLEST, patterns, equipment, self._named(), self._rng("exercises"))
        gym = set(catalogue.places[self.places["gym"]["base"]].equipment)
        at_gym = [
            k for k in smallest if set(self.rows[k].equipment) <= gym and any(self.fits(k, i) for i in self.kinds)
        ]
        pool: Json = {}
        if self.exercises < len(self.rows):
            pool["only"] = list(part(self.exercises, patterns, equipment, smallest, self._rng("exercises")))
        pool["favourites"] = rng.sample(at_gym, rng.randint(2, 6))
        pool["wanted"] = rng.sample(at_gym, rng.choice([0, 0, 1, 2, 3]))
        others = [k for k in smallest if k not in (*pool["wanted"], *pool["favourites"], *self._named())]
        pool["avoided"] = rng.sample(others, rng.choice([0, 0, 1, 3]))
        if rng.random() < 0.15:
            pool["most_per_week"] = {rng.choice(at_gym): 1}
        return pool

    def _named(self) -> tuple[str, ...]:
        """Exercises that pins, records and lifts name: every pool has them."""
        records = self.sketch.exercises() if self.family in ("pinned", "replan") or self.has_history else ()
        return tuple(dict.fromkeys((*self.lifts, *records)))

    # --- who, and how -----------------------------------------------------------------------------------------------

    def _lifter(self, rng: random.Random) -> Json:
        fit = [k for k in LIFTS if any(self.fits(k, kind) for kind in self.kinds)]
        self.lifts = rng.sample(fit, min(len(fit), rng.choice([0, 2, 3, 4])))
        lifter: Json = {"name": f"client {rng.randint(1, 99):02}", "status": self.status}
        lifter["lifts"] = [
            {"exercise": k, "load_kg": rng.randrange(LIFTS[k][0], LIFTS[k][1] + 1, 2), "reps": rng.randint(5, 10)}
            | {"reps_in_reserve": rng.randint(1, 2)}
            for k in self.lifts
        ]
        if rng.random() < 0.08 and self.count <= 3:
            lifter["age_band"] = "50_64"
        if rng.random() < 0.08 and self.family not in ("pinned", "replan"):
            lifter["cautions"] = [rng.choice(["lower_back", "shoulder", "knee"])]
        return lifter

    def _prescription(self, rng: random.Random) -> Json:
        found: Json = {}
        sets = rng.choice([None, {"least": 2, "most": 4}, {"least": 3, "most": 4}, {"least": 3, "most": 4}])
        if sets:
            found["sets_per_exercise"] = sets
        if self.family == "over_tight" and rng.random() < 0.5:
            found["rest_seconds"] = {"light": 75, "moderate": 100}
        return found

    def _rules(self, rng: random.Random) -> Json:
        found: Json = {}
        if "back_day" in self.order and rng.random() < 0.6:
            found["spacing"] = {"pairs": [{"from": "back_day", "to": "legs", "hours": 48}]}
        elif "lower" in self.order and rng.random() < 0.3:
            found["spacing"] = {"pairs": [{"from": "lower", "to": "upper", "hours": 20}]}
        elif "full_body" in self.order and rng.random() < 0.3:
            found["spacing"] = {"pairs": [{"from": "full_body", "to": "full_body", "hours": 40}]}
        if self.family == "two_a_day":
            found["sessions_a_day"] = {"most": 2, "hours_apart": rng.choice([5, 6])}
        if self.status == "novice" and rng.random() < 0.5:
            found["rep_mix"] = {"mode": "off"}
        if self.family == "over_tight" and rng.random() < 0.3:
            found["pairing"] = {"mode": "wish", "least_pairs": 1}
        if rng.random() < 0.1:
            found["variety"] = {"mode": "off"}
        return found

    # --- what was done, planned or pinned ---------------------------------------------------------------------------

    @property
    def has_history(self) -> bool:
        return not self.repeats and self._rng("history").random() < 0.25

    @cached_property
    def sketch(self) -> Sketch:
        """A week as the coach would write it down, without a solver: the same for every size of the catalogue."""
        return sketch(self, self._rng("sketch"))

    def _records(self, brief: Json) -> None:
        rng = self._rng("records")
        if self.has_history:
            brief["history"] = self.sketch.records(self.monday - dt.timedelta(weeks=1))
        if self.family == "pinned":
            brief["pinned"] = self.sketch.pins(rng)
        if self.family == "replan":
            brief |= self.sketch.replan(self.monday, rng)


def _later(clock: str, minutes: int) -> str:
    hours, rest = divmod(int(clock[:2]) * 60 + int(clock[3:]) + minutes, 60)
    return f"{hours:02}:{rest:02}"
