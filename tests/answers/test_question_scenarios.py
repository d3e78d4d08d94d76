"""Every question in scenarios/questions/ is asked, and its answer held against its own ``expect`` block.

A file holds ``brief``, ``ask`` (one of ``why_not`` and ``replan``) and ``expect``, which may say:

=================  ==================================================================================================
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
import time
from pathlib import Path
from typing import Any

import pytest
from pydantic import Field

from scheduler.answers.replan import replan
from scheduler.answers.why_not import why_not
from scheduler.briefs import brief_of
from scheduler.documents import parse_text, validate
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.units import DAYS, Day, Frozen
from scheduler.domain.variants import Demand
from scheduler.planning import check, solve

FOLDER = Path(__file__).resolve().parents[2] / "scenarios" / "questions"
FILES = sorted(FOLDER.glob("*.yaml"))


class Replan(Frozen):
    done: tuple[str, ...] = ()
    missed: tuple[str, ...] = ()
    now: dt.datetime | None = None
    changes: dict[str, Any] | None = None


class Ask(Frozen):
    why_not: Demand | None = None
    replan: Replan | None = None


class Expect(Frozen):
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
    brief: dict[str, Any]
    ask: Ask
    expect: Expect


def read(path: Path) -> Scenario:
    return validate(Scenario, parse_text(path.read_bytes(), source=path.name))


def days_of(plan: Plan, kind: str) -> tuple[Day, ...]:
    return tuple(DAYS[s.start.weekday()] for s in plan.sessions if s.kind == kind)


def used(plan: Plan) -> set[str]:
    return {e.exercise for s in plan.sessions if s.state != "done" for e in s.entries}


def test_the_questions_that_must_be_there() -> None:
    assert {p.stem for p in FILES} >= {"price_of_sunday", "missed_tuesday", "shoulder_in_mid_week", "gym_closed"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_question_is_answered_as_expected(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# ")
    scenario = read(path)
    plan = solve(brief_of(scenario.brief))
    assert plan.status is PlanStatus.OPTIMAL
    started = time.perf_counter()
    if scenario.ask.why_not is not None:
        _why_not(plan, scenario.ask.why_not, scenario.expect)
    else:
        assert scenario.ask.replan is not None
        _replan(plan, scenario.ask.replan, scenario.expect)
    assert time.perf_counter() - started < 30


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
