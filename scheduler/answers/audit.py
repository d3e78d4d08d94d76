"""A plan held against published guidelines, each finding with its source; where guidelines differ, that is shown.

The figures are data (``guidelines.yaml``). What can be measured in a plan is a function here, one a measure: it gives
labelled values, and every one of them should lie between the figure's ends.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
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
from scheduler.facts import WeekFacts
from scheduler.instance import Item, SessionFacts, Target
from scheduler.loads import PERCENT_OF_MAXIMUM
from scheduler.planning import instance_of

MAJOR_GROUPS = ("legs", "hips", "back", "abdomen", "chest", "shoulders", "arms")
"""The seven major groups of the public-health guidelines."""
ALL = "all"
_SHOWN = 4

Values = Iterable[tuple[str, float]]
"""What was measured, by what it was measured of."""


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
    values = [] if measure is None else list(measure(plan, facts, figure.zone))
    below = [(what, v) for what, v in values if figure.least is not None and v < figure.least]
    above = [(what, v) for what, v in values if figure.most is not None and v > figure.most]
    if not values:
        verdict, found = Verdict.SILENT, UNMEASURED.get(figure.measure, "the plan has no such sets or hits")
    elif below or above:
        verdict = Verdict.BOTH if below and above else Verdict.BELOW if below else Verdict.ABOVE
        found = f"{_listed([*below, *above])}{_of(len(below) + len(above), len(values))}"
    else:
        verdict, found = Verdict.MEETS, _span(values)
    return AuditFinding(
        guideline=name,
        key=figure.key,
        sentence=figure.sentence,
        found=found,
        verdict=verdict,
        source=figure.source,
        grade=figure.grade,
    )


def _listed(values: Sequence[tuple[str, float]]) -> str:
    parts = list(dict.fromkeys(f"{what}: {value:g}" for what, value in values))
    more = [f"and {len(parts) - _SHOWN} more"] if len(parts) > _SHOWN else []
    return "; ".join([*parts[:_SHOWN], *more])


def _of(number: int, all_of_them: int) -> str:
    return f" ({number} of {all_of_them})" if all_of_them > 1 else ""


def _span(values: Sequence[tuple[str, float]]) -> str:
    numbers = [value for _, value in values]
    if len(values) == 1:
        return f"{values[0][0]}: {numbers[0]:g}"
    if min(numbers) == max(numbers):
        return f"{numbers[0]:g} each, {len(values)} looked at"
    return f"{min(numbers):g} to {max(numbers):g}, {len(values)} looked at"


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


def _sessions(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    yield "sessions", len(plan.sessions)


def _days(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    yield "days with a session", len({s.day for s in facts.sessions})


def _days_a_group(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
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


def _weekly_sets(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    """Counted sets of every muscle with a goal."""
    judged = {target.key for target in _judged(facts)}
    yield from ((row.name, row.counted) for row in plan.ledger if row.target in judged)


def _rest_days_between(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    """Days without a hit between two days with one, for every muscle with a goal; round the ring where there is one."""
    for target in _judged(facts):
        days = sorted({s.day for s in facts.hits(target.key)})
        if facts.instance.ring is not None and len(days) > 1:
            days.append(days[0] + len(DAYS))
        yield from ((target.name, later - earlier - 1) for earlier, later in pairwise(days))


def _main(plan: Plan, zone: Zone | None) -> Iterator[Entry]:
    for session in plan.sessions:
        yield from (e for e in session.entries if e.role is not Role.ACTIVATION and zone in (None, e.zone))


def _percent_of_maximum(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    """By the table of reps to failure, where it goes so far: reps and reps in reserve together."""
    for entry in _main(plan, zone):
        percent = PERCENT_OF_MAXIMUM.get(entry.reps + entry.reps_in_reserve)
        if percent is not None:
            yield f"{entry.name}, per cent", percent


def _sets_an_exercise(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    yield from ((f"{entry.name}, sets", entry.sets) for entry in _main(plan, zone))


def _rest_minutes(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    yield from ((f"{entry.name}, minutes", entry.rest_seconds / 60) for entry in _main(plan, zone))


def _out_of_order(facts: WeekFacts, rank: Callable[[Item], int]) -> Values:
    """Per session: neighbours of which the second should come first."""
    for session in facts.sessions:
        yield _label(facts, session), sum(rank(a) > rank(b) for a, b in pairwise(facts.main_items(session)))


def _small_before_large(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    return _out_of_order(facts, lambda item: int(not facts.instance.is_large(item.exercise)))


def _single_before_multi(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    return _out_of_order(facts, lambda item: int(item.exercise.joints == "single"))


def _light_before_heavy(plan: Plan, facts: WeekFacts, zone: Zone | None) -> Values:
    order = list(Zone)
    return _out_of_order(facts, lambda item: order.index(item.zone) if item.zone is not None else 0)


def _label(facts: WeekFacts, session: SessionFacts) -> str:
    return f"{DAYS[session.day].full_name}'s {facts.instance.kinds[session.kind].name}, neighbours"


MEASURES: dict[str, Callable[[Plan, WeekFacts, Zone | None], Values]] = {
    "sessions": _sessions,
    "days": _days,
    "days_a_group": _days_a_group,
    "weekly_sets": _weekly_sets,
    "rest_days_between": _rest_days_between,
    "percent_of_maximum": _percent_of_maximum,
    "sets_an_exercise": _sets_an_exercise,
    "rest_minutes": _rest_minutes,
    "small_before_large": _small_before_large,
    "single_before_multi": _single_before_multi,
    "light_before_heavy": _light_before_heavy,
}
UNMEASURED = {"load_step_percent": "one week does not show how the load rises"}
"""What no single week shows, with why."""
