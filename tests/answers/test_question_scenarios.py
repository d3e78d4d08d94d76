"""Every question in scenarios/questions/ is asked, and its answer held against its own ``expect`` block.

A file holds ``brief`` (itself, or a path beside the file), ``ask`` (one question) and ``expect``, which may say:

=================  ==================================================================================================
``conflicts``      of a why: how many there are
``says``           sentences of the first conflict, among its own
``mends``          how many ways out there are
``mend_rules``     per way out named: rules that it touches, exactly; in any order
``can_be_met``     of a wish: whether a week that keeps every must grants it
``unchanged_variants``, ``impossible_variants``, ``wishes``, ``counted``: of what-if, by name of the variant
``alternatives``   how many there are, ``apart`` moves from each other, with ``no_loss`` in the tiers named
``proved``, ``rises``, ``free_up_to``: of a trade-off: every point is proved, figures that never fall, the last value
                   at which no wish falls short
``verdicts``       of an audit: by guideline and figure what it comes to
``possibility``    of a why-not: "possible, at a cost", "impossible", ...
``dearest_tier``   name of the first tier that a demand costs something in
``unchanged``      of a re-plan: whether nothing needs to change
``causes``         rules that force a change (or "missed"), among those named
``days``           ``{lower: [sun]}``: days on which sessions of a kind lie; of a re-plan exactly these
``moves``          sessions moved, added or dropped, exactly
``moves_most``     the same, at most
``same_days``      every session stays on its day
``stays``          days whose sessions start when they did
``gone``           exercises that some coming session had and no coming session has
``cautions``       keys of cautions shown besides "always"
=================  ==================================================================================================
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pydantic import Field

from scheduler.answers.alternatives import alternatives
from scheduler.answers.audit import audit
from scheduler.answers.conflicts import explain, explain_short
from scheduler.answers.replan import replan
from scheduler.answers.tradeoff import read_values, sweep
from scheduler.answers.variants import what_if
from scheduler.answers.why_not import why_not
from scheduler.briefs import brief_of, read_brief
from scheduler.documents import parse_text, validate
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.units import DAYS, Day, Frozen, Sets
from scheduler.domain.variants import Demand, Vary, Verdict
from scheduler.planning import check, solve

FOLDER = Path(__file__).resolve().parents[2] / "scenarios" / "questions"
OPTIMAL = PlanStatus.OPTIMAL
FILES = sorted(FOLDER.glob("*.yaml"))


class Replan(Frozen):
    done: tuple[str, ...] = ()
    missed: tuple[str, ...] = ()
    now: dt.datetime | None = None
    changes: dict[str, Any] | None = None


class Why(Frozen):
    wish: str | None = None
    mends: int


class Choice(Frozen):
    count: int
    apart: int


class Tradeoff(Frozen):
    vary: str
    over: str


class Against(Frozen):
    against: tuple[str, ...]


class Ask(Frozen):
    why: Why | None = None
    why_not: Demand | None = None
    what_if: dict[str, dict[str, Any]] | None = None
    alternatives: Choice | None = None
    tradeoff: Tradeoff | None = None
    replan: Replan | None = None
    check: Against | None = None


class Less(Frozen):
    """A variant whose wishes cost less than another's."""

    variant: str
    less_than: str


class Expect(Frozen):
    conflicts: int | None = None
    says: tuple[str, ...] = ()
    mends: int | None = None
    mend_rules: tuple[frozenset[str], ...] = ()
    can_be_met: bool | None = None
    unchanged_variants: tuple[str, ...] = ()
    impossible_variants: tuple[str, ...] = ()
    wishes: tuple[Less, ...] = ()
    counted: dict[str, dict[str, Sets]] = Field(default_factory=dict)
    alternatives: int | None = None
    apart: int | None = None
    no_loss: tuple[str, ...] = ()
    proved: bool | None = None
    rises: tuple[str, ...] = ()
    free_up_to: int | None = None
    verdicts: dict[str, dict[str, Verdict]] = Field(default_factory=dict)
    possibility: str | None = None
    dearest_tier: str | None = None
    unchanged: bool | None = None
    causes: tuple[str, ...] = ()
    days: dict[str, tuple[Day, ...]] = Field(default_factory=dict)
    moves: int | None = None
    moves_most: int | None = None
    same_days: bool = False
    stays: tuple[Day, ...] = ()
    gone: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class Scenario(Frozen):
    title: str
    story: str
    brief: dict[str, Any] | str
    ask: Ask
    expect: Expect


def read(path: Path) -> Scenario:
    return validate(Scenario, parse_text(path.read_bytes(), source=path.name))


def days_of(plan: Plan, kind: str) -> tuple[Day, ...]:
    return tuple(DAYS[s.start.weekday()] for s in plan.sessions if s.kind == kind)


def used(plan: Plan) -> set[str]:
    return {e.exercise for s in plan.sessions if s.state != "done" for e in s.entries}


def test_the_questions_that_must_be_there() -> None:
    """Those that were promised, and every kind of question."""
    promised = {"three_ways_out", "price_of_sunday", "missed_tuesday", "shoulder_in_mid_week", "gym_closed"}
    assert {p.stem for p in FILES} >= promised
    asked = {kind for p in FILES for kind in Ask.model_fields if getattr(read(p).ask, kind) is not None}
    assert asked == set(Ask.model_fields)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_question_is_answered_as_expected(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# ")
    scenario = read(path)
    (kind,) = (kind for kind in Ask.model_fields if getattr(scenario.ask, kind) is not None)
    text = scenario.brief
    brief = read_brief(FOLDER / text) if isinstance(text, str) else brief_of(text)
    plan = solve(brief)
    assert plan.status is (PlanStatus.IMPOSSIBLE if scenario.ask.why and not scenario.ask.why.wish else OPTIMAL)
    ANSWERS[kind](plan, getattr(scenario.ask, kind), scenario.expect)


def _why(plan: Plan, ask: Why, expect: Expect) -> None:
    if ask.wish is not None:
        short = explain_short(plan.brief, ask.wish, budget_seconds=60, most_mends=ask.mends, before=plan)
        assert short.can_be_met is expect.can_be_met
        found = short.explanation
    else:
        found = explain(plan.brief, budget_seconds=60, most_mends=ask.mends)
        assert found.possible is False
    assert not found.truncated
    assert expect.conflicts in (None, len(found.conflicts))
    assert all(c.verified and c.confirmed for c in found.conflicts)
    assert set(expect.says) <= set(found.conflicts[0].sentences)
    assert expect.mends in (None, len(found.mends))
    assert all(m.verified and m.minimal for m in found.mends)
    touched = [frozenset(c.rule for c in m.changes) for m in found.mends]
    assert set(expect.mend_rules) <= set(touched)


def _what_if(plan: Plan, patches: dict[str, dict[str, Any]], expect: Expect) -> None:
    answer = what_if(plan.brief, patches, base=plan)
    variants = {v.name: v for v in answer.variants}
    assert {name for name, v in variants.items() if v.plan.status is PlanStatus.IMPOSSIBLE} == set(
        expect.impossible_variants
    )
    for name in expect.impossible_variants:
        reasons = variants[name].reasons
        assert reasons is not None
        assert reasons.conflicts
        assert reasons.mends
    for name in expect.unchanged_variants:
        assert variants[name].difference.is_empty
    for pair in expect.wishes:
        first, second = (variants[name].plan.tiers[0].value for name in (pair.variant, pair.less_than))
        assert first < second
    for name, counted in expect.counted.items():
        sets = {row.target: row.counted for row in variants[name].plan.ledger}
        assert all(sets[target] >= least for target, least in counted.items())


def _alternatives(plan: Plan, ask: Choice, expect: Expect) -> None:
    answer = alternatives(plan.brief, count=ask.count, apart=ask.apart, best=plan)
    assert len(answer.alternatives) == expect.alternatives
    assert expect.apart is not None
    for number, one in enumerate(answer.alternatives):
        assert len(one.moves) == number + 1
        assert min(one.moves) >= expect.apart
        assert all(not t.cost for t in one.difference.tiers if t.name in expect.no_loss)
        assert check(plan.brief, one.plan.sessions).holds


def _tradeoff(plan: Plan, ask: Tradeoff, expect: Expect) -> None:
    found = sweep(plan.brief, [Vary(path=ask.vary, values=read_values(ask.over))])
    assert all(point.proved for point in found.points) is expect.proved
    for figure in expect.rises:
        values = [point.figures[figure] or 0 for point in found.points]
        assert values == sorted(values)
        assert values[0] < values[-1]
    free = [point.values[0] for point in found.points if point.figures["wishes"] == 0]
    assert free[-1] == expect.free_up_to
    assert len(free) < len(found.points)


def _check(plan: Plan, ask: Against, expect: Expect) -> None:
    answer = audit(plan, ask.against)
    verdicts = {(f.guideline, f.key): f.verdict for f in answer.findings}
    assert all(f.source and f.found for f in answer.findings)
    assert {name for name, _ in verdicts} == set(ask.against)
    for name, figures in expect.verdicts.items():
        for key, verdict in figures.items():
            assert verdicts[name, key] is verdict


def _why_not(plan: Plan, demand: Demand, expect: Expect) -> None:
    answer = why_not(plan.brief, demand, base=plan)
    assert answer.possibility == expect.possibility
    assert answer.plan is not None
    assert answer.difference is not None
    dear = [t.name for t in answer.difference.tiers if t.cost]
    assert dear[:1] == [expect.dearest_tier]
    for kind, days in expect.days.items():
        assert set(days) <= set(days_of(answer.plan, kind))


def _replan(plan: Plan, ask: Replan, expect: Expect) -> None:
    answer = replan(plan, done=ask.done, missed=ask.missed, now=ask.now, changes=ask.changes)
    new = answer.plan
    assert new.status in (PlanStatus.OPTIMAL, PlanStatus.CHECKED)
    assert check(new.brief, new.sessions).holds
    assert answer.unchanged == expect.unchanged
    done = [s for s in new.sessions if s.state == "done"]
    assert [s.entries for s in done] == [s.entries for s in plan.sessions if DAYS[s.start.weekday()] in ask.done]
    causes = {cause.rule for move in answer.moves for cause in move.causes}
    assert set(expect.causes) <= causes
    assert all(move.causes for move in answer.moves)
    for kind, days in expect.days.items():
        assert days_of(new, kind) == days
    difference = answer.difference
    moves = len(difference.moved) + len(difference.added) + len(difference.dropped)
    assert expect.moves in (None, moves)
    assert expect.moves_most is None or moves <= expect.moves_most
    starts = {s.start for s in new.sessions}
    assert all(s.start in starts for s in plan.sessions if DAYS[s.start.weekday()] in expect.stays)
    if expect.same_days:
        assert [(s.kind, s.start.date()) for s in plan.sessions] == [(s.kind, s.start.date()) for s in new.sessions]
    for exercise in expect.gone:
        assert exercise in used(plan.model_copy(update={"sessions": [s for s in plan.sessions if s not in done]}))
        assert exercise not in used(new)
    assert set(expect.cautions) <= {note.key for note in new.cautions}


ANSWERS: dict[str, Callable[..., None]] = {
    "why": _why,
    "why_not": _why_not,
    "what_if": _what_if,
    "alternatives": _alternatives,
    "tradeoff": _tradeoff,
    "replan": _replan,
    "check": _check,
}
