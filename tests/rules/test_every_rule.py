"""Three micro-tests a rule: it holds, it is broken by so much, it is exactly on the edge. Both sides must agree.

The cases of the rule ``spacing`` are ``rule_cases/spacing.py``. A rule without them fails here.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from rule_world import Case, Posting, RuleCases, build_brief, facts_by_hand, least_breaches

from scheduler import planning, referee
from scheduler.domain.plan import Mode
from scheduler.planning import instance_of
from scheduler.rules import RULES, RULES_BY_KEY, Rule
from scheduler.week.decode import in_order

FOLDER = Path(__file__).parent / "rule_cases"
WRITTEN = {path.stem: import_module(f"rule_cases.{path.stem}").CASES for path in sorted(FOLDER.glob("*.py"))}

EVERY = [
    pytest.param(RULES_BY_KEY[key], cases, case, id=f"{key}-{name}")
    for key, cases in WRITTEN.items()
    if key in RULES_BY_KEY
    for name, case in cases.all().items()
]
POSTED = [p for p in EVERY if p.values[1].posting is Posting.RULE]
MUSTS = [p for p in POSTED if not p.values[0].measure]
BY_MODEL = [p for p in EVERY if p.values[1].posting is Posting.MODEL]
MODES = [pytest.param(*p.values, mode.value, id=f"{mode}-{p.id}") for p in BY_MODEL for mode in p.values[0].modes]
BY_READING = [p for p in EVERY if p.values[1].posting is Posting.READING]


@pytest.mark.parametrize("key", [rule.key for rule in RULES])
def test_every_rule_has_its_three_cases(key: str) -> None:
    assert key in WRITTEN, f"write rule_cases/{key}.py: it holds, it is broken, it is exactly on the edge"
    cases = WRITTEN[key]
    assert not cases.holds.breaches
    assert not cases.edge.breaches
    assert cases.broken.breaches


def test_no_cases_are_left_of_a_rule_that_is_gone() -> None:
    assert set(WRITTEN) == set(RULES_BY_KEY)


@pytest.mark.parametrize(("rule", "cases", "case"), EVERY)
def test_check(rule: Rule[Any], cases: RuleCases, case: Case) -> None:
    brief = build_brief(rule, cases, case)
    instance = instance_of(brief)
    facts = facts_by_hand(instance, case)
    assert dict(rule.breaches(facts)) == dict(case.breaches)
    assert set(case.breaches) <= {switch.id for switch in rule.switches(instance)}


@pytest.mark.parametrize(("rule", "cases", "case"), EVERY)
def test_referee_reads_the_same_from_the_plan(rule: Rule[Any], cases: RuleCases, case: Case) -> None:
    brief = build_brief(rule, cases, case)
    sessions = referee.planned_sessions(facts_by_hand(instance_of(brief), case))
    report = planning.check(brief, sessions)
    mine = next(r for r in report.plan.rules if r.rule == rule.key)
    off = mine.mode is Mode.OFF
    assert {f.switch: f.breach for f in mine.findings if f.breach} == ({} if off else dict(case.breaches))
    for finding in mine.findings:
        assert bool(finding.breach_text) == bool(finding.breach)
        if finding.mode is Mode.WISH and finding.breach:
            assert finding.cost > 0
            assert finding.cost % finding.breach == 0, "a cost is in proportion to its breach"


@pytest.mark.parametrize(("rule", "cases", "case"), MUSTS)
def test_posted_as_a_must_it_forbids_what_the_check_calls_broken(rule: Rule[Any], cases: RuleCases, case: Case) -> None:
    brief = build_brief(rule, cases, case, "must")
    assert (least_breaches(rule, brief, case) is not None) == (not case.breaches and not case.unsayable)


@pytest.mark.parametrize(("rule", "cases", "case"), POSTED)
def test_posted_as_a_wish_it_costs_what_the_check_finds(rule: Rule[Any], cases: RuleCases, case: Case) -> None:
    brief = build_brief(rule, cases, case, "wish")
    assert least_breaches(rule, brief, case) == (None if case.unsayable else dict(case.breaches))


@pytest.mark.parametrize(("rule", "cases", "case", "mode"), MODES)
def test_the_model_cannot_make_what_the_check_calls_broken(
    rule: Rule[Any], cases: RuleCases, case: Case, mode: str
) -> None:
    brief = build_brief(rule, cases, case, mode)
    # The days and places of a kind, which only bar openings, are free where the rule is off.
    freed = rule.key == "kind_days" and mode == "off"
    assert (least_breaches(rule, brief, case) is not None) == (freed or (not case.breaches and not case.unsayable))


def test_what_the_model_makes_nothing_else_of_is_no_wish() -> None:
    assert {p.values[0].key for p in BY_MODEL} == {rule.key for rule in RULES if rule.must_only}


@pytest.mark.parametrize(("rule", "cases", "case"), BY_READING)
def test_reading_a_plan_off_puts_it_right(rule: Rule[Any], cases: RuleCases, case: Case) -> None:
    instance = instance_of(build_brief(rule, cases, case))
    facts = facts_by_hand(instance, case)
    settled = [type(s)(s.kind, s.start, s.end, s.day, s.place, in_order(instance, s)) for s in facts.sessions]
    for before, after in zip(facts.sessions, settled, strict=True):
        assert sorted(i.key for i in before.items) == sorted(i.key for i in after.items)
    assert dict(rule.breaches(type(facts)(instance, tuple(settled)))) == {}
    assert least_breaches(rule, build_brief(rule, cases, case, "must"), case) == {}, "order is no matter of the model"
