"""The core of a week as a mixed-integer programme for HiGHS: an independent second opinion on tier 1.

Written from the meaning, not from the CP-SAT model. Where that one merges exercises into classes and thinks in
literals and intervals, this one has a column for every exercise and orders sessions by big-M rows. It shares nothing
with the solver but the settled brief: defaults filled in, names and times resolved.

What it knows: sessions on openings, their minutes, sets ranges of kinds and exercises, required patterns, sessions a
day (one) and in all, rest days, spacing between kinds, recovery between hits, weekly sets (least, aimed at, most).
Every other rule has to be off in the brief, or to have nothing to say; :func:`refuse_more` sees to that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import combinations

import highspy

from scheduler.domain.brief import Brief
from scheduler.domain.plan import Mode, Zone
from scheduler.domain.units import slots_from_hours
from scheduler.instance import Instance, Kind
from scheduler.planning import instance_of
from scheduler.rules import RULES, RULES_BY_KEY

KNOWN = frozenset(
    (
        "opening",
        "kind_days",
        "sessions_a_day",
        "session_count",
        "session_size",
        "prescription",
        "spacing",
        "recovery",
        "rest_days",
        "equipment",
        "kind_patterns",
        "selection",
        "coverage",
        "order",
        "weekly_sets",
    )
)
"""Rules that the programme stands for; the order inside a session costs nothing."""

LATER = frozenset(rule.key for rule in RULES if rule.tier > 1)
"""Rules that are paid after tier 1: they cannot change its value."""

SWITCHED_OFF = {rule.key: {"mode": "off"} for rule in RULES if rule.key not in KNOWN | LATER}
"""The ``rules`` of a brief that this programme can answer."""

SLOT_SECONDS = 300
LONGEST = 48
"""Four hours in slots."""


@dataclass(frozen=True)
class Answer:
    """What the programme says.

    Attributes:
        feasible: whether any week keeps the musts.
        value: least cost of the shortfall of weekly sets, in the units of tier 1; None when infeasible.
        bound: proved lower bound.
        seconds: HiGHS's run time.
        columns: size of the programme.
        rows: size of the programme.
    """

    feasible: bool
    value: int | None
    bound: float
    seconds: float
    columns: int
    rows: int


def solve_core(brief: Brief, *, seconds: float = 120.0) -> Answer:
    """The least cost in tier 1, proved by HiGHS. Raises ValueError where the brief asks for more than is known here."""
    instance = instance_of(brief)
    refuse_more(instance)
    programme = _Programme(instance)
    model = programme.model
    model.setOptionValue("time_limit", seconds)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 0.5)  # all costs are whole
    model.setOptionValue("random_seed", 0)
    model.run()
    status = model.getModelStatus()
    size = {"columns": model.getNumCol(), "rows": model.getNumRow(), "seconds": model.getRunTime()}
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return Answer(False, None, math.inf, **size)
    if status != highspy.HighsModelStatus.kOptimal:
        raise TimeoutError(f"HiGHS ended with {model.modelStatusToString(status)} after {size['seconds']:.1f} s")
    info = model.getInfo()
    return Answer(True, round(info.objective_function_value), info.mip_dual_bound, **size)


def refuse_more(instance: Instance) -> None:
    """Raise ValueError where a rule that the programme does not know has something to say in tier 1."""
    for rule in RULES:
        if rule.key in LATER | KNOWN:
            continue
        said = [s.id for s in rule.active_switches(instance)]
        if said:
            raise ValueError(f"{rule.key} is not in the programme but has {said[0]}; switch it off")
    if any(kind.add_on for kind in instance.kinds.values()) or instance.brief.exercises.wanted:
        raise ValueError("add-ons and wanted exercises are not in the programme")
    if instance.brief.exercises.avoided or instance.brief.exercises.most_per_week:
        raise ValueError("avoided exercises and weekly numbers are not in the programme")
    coverage = RULES_BY_KEY["coverage"].active_switches(instance)
    if any(not s.id.startswith("coverage:kind:") for s in coverage):
        raise ValueError("patterns of the week and planes are not in the programme")
    if (instance.settings["sessions_a_day"].most or 1) != 1:
        raise ValueError("more than one session a day is not in the programme")
    modes = {r.key: r.mode(instance) for r in RULES if r.key in KNOWN - {"weekly_sets"}}
    if any(mode is Mode.WISH for mode in modes.values()):
        raise ValueError("only weekly sets may be a wish here")


@dataclass
class _Session:
    """Columns of one session: ``spots`` by number of the opening, ``sets`` and ``use`` by exercise and zone."""

    kind: Kind
    active: object
    start: object
    length: object
    spots: dict[int, object]
    use: dict[tuple[str, Zone], object] = field(default_factory=dict)
    sets: dict[tuple[str, Zone], object] = field(default_factory=dict)


class _Programme:
    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.model = highspy.Highs()
        self.model.setOptionValue("output_flag", False)
        # HiGHS keeps its threads for the whole process: whoever asks for another number later is refused.
        self.model.setOptionValue("threads", 1)
        self.horizon = instance.clock.slots
        self._orders: dict[tuple[int, int], object] = {}
        self.free = [self._session(k) for k in instance.kinds.values() for _ in range(self._free(k))]
        self._numbers()
        self._days()
        self._apart()
        self._recovery()
        self._weekly_sets()

    def _free(self, kind: Kind) -> int:
        return kind.per_week.most - sum(s.kind == kind.key for s in self.instance.done)

    def _binary(self) -> object:
        return self.model.addBinary()

    def _integer(self, upper: float) -> object:
        return self.model.addIntegral(0, upper)

    def _add(self, row: object) -> None:
        self.model.addConstr(row)

    def _session(self, kind: Kind) -> _Session:
        instance = self.instance
        active, start, length = self._binary(), self._integer(self.horizon), self._integer(LONGEST)
        spots = {
            n: self._binary()
            for n, spot in enumerate(instance.spots)
            if (kind.days is None or spot.day in kind.days) and (kind.places is None or spot.place in kind.places)
        }
        session = _Session(kind, active, start, length, spots)
        self._add(_sum(spots.values()) == active)
        # Inside the opening: both ends relaxed by the horizon where another one is chosen.
        self._add(start >= _sum(instance.spots[n].start * chosen for n, chosen in spots.items()))
        for n, chosen in spots.items():
            end = instance.spots[n].end
            self._add(start + length <= end + (self.horizon + LONGEST - end) * (1 - chosen))
        self._contents(session)
        return session

    def _contents(self, session: _Session) -> None:
        instance, kind = self.instance, session.kind
        asked = instance.sets_per_exercise
        time: list[object] = [_warm_up(instance) * session.active]
        for key, row in instance.pool.items():
            if row.pattern not in kind.patterns:
                continue
            uses = []
            for zone in Zone:
                places = {p for p in instance.venues if (key, p, zone) in instance.offers}
                if not row.reps.least <= instance.zones[zone].reps <= row.reps.most or not places:
                    continue
                use, sets = self._binary(), self._integer(asked.most)
                self._add(sets >= max(1, asked.least) * use)
                self._add(sets <= asked.most * use)
                # Only where the place of the opening chosen can serve it; nowhere in a session that is not held.
                able = [chosen for n, chosen in session.spots.items() if instance.spots[n].place in places]
                self._add(use <= _sum(able))
                numbers = instance.zones[zone]
                work = numbers.reps * row.seconds_per_rep * (2 if row.unilateral else 1)
                set_up = row.setup_seconds + (_build_up(instance) if zone is Zone.HEAVY and row.loaded_by else 0)
                time += [set_up * use, math.ceil((work + numbers.rest_seconds) / 15) * 15 * sets]
                session.use[key, zone], session.sets[key, zone] = use, sets
                uses.append(use)
            if uses:
                self._add(_sum(uses) <= 1)
        # Whole slots, rounded up.
        self._add(SLOT_SECONDS * session.length >= _sum(time))
        self._add(SLOT_SECONDS * session.length <= _sum(time) + SLOT_SECONDS - 1)
        number = _sum(session.sets.values())
        self._add(number >= kind.sets.least * session.active)
        self._add(number <= kind.sets.most * session.active)
        self._add(session.length >= math.ceil(kind.minutes.least / 5) * session.active)
        self._add(session.length <= kind.minutes.most // 5 * session.active)
        if self._on("coverage"):
            for pattern in kind.required:
                rows = instance.pool
                holds = [use for (key, _), use in session.use.items() if rows[key].pattern == pattern]
                self._add(_sum(holds) >= session.active)

    def _on(self, rule: str) -> bool:
        return self.instance.settings[rule].mode is not Mode.OFF

    def _numbers(self) -> None:
        instance = self.instance
        if not self._on("session_count"):
            return
        asked = [(None, instance.sessions), *((k.key, k.per_week) for k in instance.kinds.values())]
        for kind, numbers in asked:
            done = sum(kind in (None, s.kind) for s in instance.done)
            held = _sum(s.active for s in self.free if kind in (None, s.kind.key))
            self._add(held + done >= numbers.least)
            self._add(held <= max(0, numbers.most - done))

    def _days(self) -> None:
        """One session a day, full rest days, training days in a row."""
        instance = self.instance
        # One session a day makes "trained" a sum.
        trained: dict[int, object] = {}
        for day in range(7):
            free = [c for s in self.free for n, c in s.spots.items() if instance.spots[n].day == day]
            trained[day] = _sum(free) + sum(s.day == day for s in instance.done)
            if self._on("sessions_a_day"):
                self._add(trained[day] <= 1)
        if not self._on("rest_days"):
            return
        setting, default = instance.settings["rest_days"], instance.catalogue.default_int
        least = setting.least if setting.least is not None else default("rest_days_least")
        self._add(_sum(trained.values()) <= 7 - least)
        run = setting.in_a_row or default("training_days_in_a_row")
        past = {s.day for s in instance.history}
        if run < 7:
            for last in range(7):
                days = range(last - run, last + 1)
                if instance.ring is not None:
                    self._add(_sum(trained[d % 7] for d in days) <= run)
                else:
                    self._add(_sum(trained[d] if d >= 0 else int(d in past) for d in days) <= run)

    def _apart(self) -> None:
        """Sessions follow one another, and kinds lie as far apart as asked."""
        hours: dict[frozenset[str], float] = {}
        if self._on("spacing"):
            for pair in self.instance.settings["spacing"].pairs:
                kinds = frozenset((pair.kind, pair.other))
                hours[kinds] = max(hours.get(kinds, 0), pair.hours)

        def asked(one: str, other: str) -> int:
            return slots_from_hours(hours.get(frozenset((one, other)), 0))

        for a, b in combinations(self.free, 2):
            self._gap(a, b, asked(a.kind.key, b.kind.key), (a.active, b.active))
        for fact in (*self.instance.history, *self.instance.done):
            for a in self.free:
                self._gap_to_fact(a, fact, asked(a.kind.key, fact.kind), (a.active,))

    def _order(self, one: object, other: object) -> object:
        """Which of two comes first: one column a pair, whatever asks for it."""
        key = (id(one), id(other))
        if key not in self._orders:
            self._orders[key] = self._binary()
        return self._orders[key]

    def _gap(self, a: _Session, b: _Session, slots: int, when: Iterable[object]) -> None:
        """When all of ``when`` are 1: the later starts so many slots after the earlier ends; on a ring both ways."""
        big = 3 * self.horizon
        loose = big * _sum(1 - w for w in when)
        first = self._order(a, b)
        for one, other, relaxed in ((a, b, 1 - first), (b, a, 1 * first)):
            end = one.start + one.length
            self._add(other.start - end >= slots - loose - big * relaxed)
            if self.instance.ring is not None:
                again = one.start + self.instance.ring
                self._add(again - (other.start + other.length) >= slots - loose - big * relaxed)

    def _gap_to_fact(self, a: _Session, fact: object, slots: int, when: Iterable[object]) -> None:
        big = 4 * self.horizon
        loose = big * _sum(1 - w for w in when)
        after = self._order(a, fact)
        ring = self.instance.ring
        self._add(a.start - fact.end >= slots - loose - big * (1 - after))
        self._add(fact.start - (a.start + a.length) >= slots - loose - big * after)
        if ring is not None:
            self._add(fact.start + ring - (a.start + a.length) >= slots - loose - big * (1 - after))
            self._add(a.start + ring - fact.end >= slots - loose - big * after)

    def _volume(self, session: _Session, target: str) -> object:
        counted = self.instance.counted
        return _sum(counted(k, target) * v for (k, _), v in session.sets.items() if counted(k, target))

    def _recovery(self) -> None:
        """Two hits of a muscle lie its recovery apart; a session that gives fewer sets than a hit is free."""
        instance = self.instance
        if not self._on("recovery"):
            return
        hit_quarters = instance.hit_quarters
        for target in instance.targets.values():
            if not target.recovery:
                continue
            hits = []
            for session in self.free:
                most = 4 * session.kind.sets.most
                hit = self._binary()
                self._add(self._volume(session, target.key) <= hit_quarters - 1 + most * hit)
                hits.append(hit)
            for (a, hit_a), (b, hit_b) in combinations(list(zip(self.free, hits, strict=True)), 2):
                self._gap(a, b, target.recovery, (hit_a, hit_b))
            for fact in (*instance.history, *instance.done):
                quarters = sum(i.sets * instance.counted(i.key, target.key) for i in fact.items)
                if quarters >= hit_quarters:
                    for a, hit in zip(self.free, hits, strict=True):
                        self._gap_to_fact(a, fact, target.recovery, (hit,))

    def _weekly_sets(self) -> None:
        """Quarter sets missing to the least and to the aim, each paid by weight and priority; the most is a must."""
        instance = self.instance
        given = instance.settings["weekly_sets"].weight
        weight = given if given is not None else instance.catalogue.default_int("weight_weekly_sets")
        cost: list[object] = []
        for target in instance.targets.values():
            done = sum(i.sets * instance.counted(i.key, target.key) for s in instance.done for i in s.items)
            total = _sum(self._volume(s, target.key) for s in self.free) + done
            self._add(total <= max(target.most, done))
            for wanted in (target.least, target.aim):
                missing = self.model.addVariable(0, max(wanted, 0))
                self._add(total + missing >= wanted)
                cost.append(weight * target.factor * missing)
        self.model.setObjective(_sum(cost) + 0, highspy.ObjSense.kMinimize)


def _build_up(instance: Instance) -> int:
    asked = instance.brief.prescription.build_up_minutes
    return 60 * (asked if asked is not None else instance.catalogue.default_int("build_up_minutes"))


def _warm_up(instance: Instance) -> int:
    asked = instance.brief.prescription.warm_up_minutes
    return 60 * (asked if asked is not None else instance.catalogue.default_int("warm_up_minutes"))


def _sum(parts: Iterable[object]) -> object:
    """A linear expression, also of nothing."""
    total = highspy.highs_linear_expression(0)
    for part in parts:
        total = total + part
    return total


def switched_off(**rules: Mapping[str, object]) -> dict[str, object]:
    """The ``rules`` of a brief for this programme, with some of the known rules set."""
    return {**SWITCHED_OFF, **rules}
