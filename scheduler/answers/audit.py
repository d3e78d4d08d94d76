"""A plan held against published guidelines, each finding with its source; where guidelines differ, that is shown.

The figures are data (``guidelines.yaml``). What can be measured in a plan stands here, with the words for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations, pairwise

from scheduler import referee
from scheduler.documents import parse_text, validate
from scheduler.domain.errors import InputError, nearest
from scheduler.domain.plan import Entry, Plan, Role, Zone
from scheduler.domain.units import DAYS
from scheduler.domain.variants import (
    Audit,
    AuditFinding,
    Figure,
    Guideline,
    GuidelineConflict,
    Guidelines,
    Verdict,
)
from scheduler.domain.wording import counted
from scheduler.facts import WeekFacts
from scheduler.instance import Item, Target
from scheduler.loads import PERCENT_OF_MAXIMUM
from scheduler.planning import instance_of

MAJOR_GROUPS = ("legs", "hips", "back", "abdomen", "chest", "shoulders", "arms")
"""The seven major groups of the public-health guidelines."""
ALL = "all"
_SHOWN = 4

Value = tuple[str, float]
"""What was measured, after the name of what it was measured of; of the week itself without one."""


@dataclass(frozen=True)
class Measure:
    """What can be measured in a plan, and how it reads.

    Attributes:
        values: what it comes to; every value should lie between a figure's ends.
        noun, plural: what is counted, for one of it and for several.
        things: what the values are of; nothing where there is one of the week.
    """

    values: Callable[[Plan, WeekFacts, Zone | None], Iterable[Value]]
    noun: str
    plural: str
    things: str = ""

    def listed(self, off: Sequence[Value], values: Sequence[Value]) -> str:
        """Those that are off, and of how many: 'days with a direct set: Abdomen 0; Arms 1 (2 of 7 muscle groups)'."""
        if not self.things:
            return self.span(off)
        parts = list(dict.fromkeys(f"{what} {value:g}" for what, value in off))
        more = [f"and {len(parts) - _SHOWN} more"] if len(parts) > _SHOWN else []
        of = f"{_number(off)} of {counted(_number(values), self.things)}"
        return f"{self.plural}: {'; '.join([*parts[:_SHOWN], *more])} ({of})"

    def span(self, values: Sequence[Value]) -> str:
        """From the least to the most: '2 to 3 days with a direct set (7 muscle groups)'."""
        least, most = min(v for _, v in values), max(v for _, v in values)
        things = f" ({counted(_number(values), self.things)})" if self.things else ""
        return f"{f'{least:g} to ' if least < most else ''}{most:g} {self.noun if most == 1 else self.plural}{things}"


def _number(values: Sequence[Value]) -> int:
    """Things that the values are of; one may have several, as an exercise of two sessions has."""
    return len({what for what, _ in values})


@cache
def load_guidelines() -> dict[str, Guideline]:
    """The guidelines that come with the program, by key. Raises InputError where the file has been edited wrongly."""
    text = files("scheduler.data").joinpath("guidelines.yaml").read_bytes()
    found = validate(Guidelines, {"guidelines": parse_text(text, source="guidelines.yaml")})
    for name, guideline in found.guidelines.items():
        for figure in guideline.figures:
            if figure.measure not in MEASURES and figure.measure not in UNMEASURED:
                raise InputError.single(
                    f"{name}.{figure.key}", f"unknown measure {figure.measure!r}", nearest(figure.measure, MEASURES)
                )
    return dict(found.guidelines)


def audit(plan: Plan, names: Sequence[str]) -> Audit:
    """Hold a plan against guidelines by name; ``all`` means each. Raises InputError on an unknown name."""
    known = load_guidelines()
    for name in names:
        if name not in known and name != ALL:
            raise InputError.single("against", f"unknown guideline {name!r}", nearest(name, known))
    chosen = list(known) if ALL in names else list(dict.fromkeys(names))
    facts = referee.facts_of(instance_of(plan.brief), plan.sessions)
    findings = [
        _finding(name, figure, plan, facts)
        for name in chosen
        for figure in known[name].figures
        if _applies(figure, plan)
    ]
    figures = [(name, f) for name in chosen for f in known[name].figures if _applies(f, plan)]
    return Audit(findings=tuple(findings), conflicts=tuple(_conflicts(figures)), cautions=plan.cautions)


def _applies(figure: Figure, plan: Plan) -> bool:
    lifter = plan.brief.lifter
    return figure.status in (None, lifter.status) and figure.age_band in (None, lifter.age_band)


def _finding(name: str, figure: Figure, plan: Plan, facts: WeekFacts) -> AuditFinding:
    measure = MEASURES.get(figure.measure)
    values = [] if measure is None else list(measure.values(plan, facts, figure.zone))
    below = [(what, v) for what, v in values if figure.least is not None and v < figure.least]
    above = [(what, v) for what, v in values if figure.most is not None and v > figure.most]
    if measure is None:
        verdict, found = Verdict.SILENT, UNMEASURED[figure.measure]
    elif not values:
        verdict, found = Verdict.SILENT, "the plan has no such sets or hits"
    elif below or above:
        verdict = Verdict.BOTH if below and above else Verdict.BELOW if below else Verdict.ABOVE
        found = measure.listed([*below, *above], values)
    else:
        verdict, found = Verdict.MEETS, measure.span(values)
    return AuditFinding(
        guideline=name,
        key=figure.key,
        sentence=figure.sentence,
        found=found,
        verdict=verdict,
        source=figure.source,
        grade=figure.grade,
    )


def _conflicts(figures: Sequence[tuple[str, Figure]]) -> Iterator[GuidelineConflict]:
    """Pairs of guidelines that give different figures for the same thing and the same lifter."""
    for (one, mine), (other, theirs) in combinations(figures, 2):
        same = one != other and (mine.measure, mine.zone) == (theirs.measure, theirs.zone)
        if same and (mine.least, mine.most) != (theirs.least, theirs.most):
            yield GuidelineConflict(
                measure=mine.measure,
                sentence=f"{one}: {mine.sentence} {other}: {theirs.sentence}",
                guidelines=(one, other),
            )


# --- what can be measured -----------------------------------------------------------------------------------------


def _sessions(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    yield "", len(plan.sessions)


def _days(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    yield "", len({s.day for s in facts.sessions})


def _days_a_group(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    """Days on which a group gets a direct set at least, activation left out."""
    catalogue = facts.instance.catalogue
    for group in MAJOR_GROUPS:
        trained = {
            s.day
            for s in facts.sessions
            for i in s.items
            if i.role is not Role.ACTIVATION and facts.instance.direct(i.key, group)
        }
        yield catalogue.groups[group].name, len(trained)


def _judged(facts: WeekFacts) -> Iterator[Target]:
    """The goals that are held against figures for a muscle: a group stands for its muscles where none has its own."""
    targets = facts.instance.targets
    yield from (t for t in targets.values() if not t.is_group or targets.keys().isdisjoint(t.members))


def _weekly_sets(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    """Counted sets of every muscle with a goal."""
    judged = {target.key for target in _judged(facts)}
    yield from ((row.name, row.counted) for row in plan.ledger if row.target in judged)


def _rest_days_between(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    """Days without a hit between two days with one, for every muscle with a goal; round the ring where there is one."""
    for target in _judged(facts):
        days = sorted({s.day for s in facts.hits(target.key)})
        if facts.instance.ring is not None and len(days) > 1:
            days.append(days[0] + len(DAYS))
        yield from ((target.name, later - earlier - 1) for earlier, later in pairwise(days))


def _main(plan: Plan, zone: Zone | None) -> Iterator[Entry]:
    for session in plan.sessions:
        yield from (e for e in session.entries if e.role is not Role.ACTIVATION and zone in (None, e.zone))


def _percent_of_maximum(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    """By the table of reps to failure, where it goes so far: reps and reps in reserve together."""
    for entry in _main(plan, zone):
        percent = PERCENT_OF_MAXIMUM.get(entry.reps + entry.reps_in_reserve)
        if percent is not None:
            yield entry.name, percent


def _sets_an_exercise(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    yield from ((entry.name, entry.sets) for entry in _main(plan, zone))


def _rest_minutes(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    yield from ((entry.name, entry.rest_seconds / 60) for entry in _main(plan, zone))


def _out_of_order(facts: WeekFacts, rank: Callable[[Item], int]) -> Iterable[Value]:
    """Per session: neighbours of which the second should come first."""
    for session in facts.sessions:
        name = f"{DAYS[session.day].full_name}'s {facts.instance.kinds[session.kind].name}"
        yield name, sum(rank(a) > rank(b) for a, b in pairwise(facts.main_items(session)))


def _small_before_large(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    return _out_of_order(facts, lambda item: int(not facts.instance.is_large(item.exercise)))


def _single_before_multi(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    return _out_of_order(facts, lambda item: int(item.exercise.joints == "single"))


def _light_before_heavy(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Iterable[Value]:
    order = list(Zone)
    return _out_of_order(facts, lambda item: order.index(item.zone) if item.zone is not None else 0)


_PERCENT = ("per cent of the maximum",) * 2
_OUT_OF_ORDER = ("exercise out of order", "exercises out of order")
MEASURES: dict[str, Measure] = {
    "sessions": Measure(_sessions, "session", "sessions"),
    "days": Measure(_days, "day with a session", "days with a session"),
    "days_a_group": Measure(_days_a_group, "day with a direct set", "days with a direct set", "muscle group"),
    "weekly_sets": Measure(_weekly_sets, "counted set", "counted sets", "goal"),
    "rest_days_between": Measure(_rest_days_between, "rest day between hits", "rest days between hits", "goal"),
    "percent_of_maximum": Measure(_percent_of_maximum, *_PERCENT, "exercise"),
    "sets_an_exercise": Measure(_sets_an_exercise, "set", "sets", "exercise"),
    "rest_minutes": Measure(_rest_minutes, "minute of rest", "minutes of rest", "exercise"),
    "small_before_large": Measure(_small_before_large, *_OUT_OF_ORDER, "session"),
    "single_before_multi": Measure(_single_before_multi, *_OUT_OF_ORDER, "session"),
    "light_before_heavy": Measure(_light_before_heavy, *_OUT_OF_ORDER, "session"),
}
UNMEASURED = {"load_step_percent": "one week does not show how the load rises"}
"""What no single week shows, with why."""
