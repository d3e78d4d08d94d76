"""Any brief goes through a solve without a crash, and solver and referee agree on every figure.

40 examples by default; WEEKWRIGHT_EXAMPLES=500 looks further.
"""

from __future__ import annotations

import os
from itertools import islice, pairwise
from typing import Any

from hypothesis import HealthCheck, event, given, settings

from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Mode, PlanStatus
from scheduler.planning import check, instance_of, solve
from scheduler.referee import facts_of
from scheduler.week.solver import Limits
from tests.solving.enumeration import judged, tiers_compared
from tests.solving.neighbours import neighbours
from tests.solving.strategies import briefs

EXAMPLES = int(os.environ.get("WEEKWRIGHT_EXAMPLES", "40"))
SMALL = Limits(deterministic_seconds=1.0)

profile = settings(
    max_examples=EXAMPLES,
    derandomize=True,
    deadline=None,
    database=None,
    print_blob=False,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


@profile
@given(briefs())
def test_solver_and_referee_agree_on_any_brief(data: dict[str, Any]) -> None:
    """No traceback, no RefereeDisagreement (which solve raises by itself), a status that fits what was found."""
    brief = Brief.model_validate(data)
    try:
        plan = solve(brief, limits=SMALL)
    except InputError:
        event("refused")
        return
    event(plan.status.value)
    findings = [f for r in plan.rules for f in r.findings]
    assert not [f for f in findings if f.mode is Mode.MUST and f.breach]
    if plan.status in (PlanStatus.IMPOSSIBLE, PlanStatus.STOPPED):
        assert not plan.tiers
        assert all(s.state == "done" for s in plan.sessions)
        return
    assert all(t.bound <= t.value for t in plan.tiers)
    assert (plan.status is PlanStatus.OPTIMAL) == all(t.proved for t in plan.tiers)
    assert all(t.value == sum(t.terms.values()) for t in plan.tiers)
    assert all(a.start <= b.start for a, b in pairwise(plan.sessions))
    # A plan survives the way out and in: written down and checked by hand it costs the same.
    report = check(brief, plan.sessions)
    assert report.holds
    assert [t.value for t in report.plan.tiers] == [t.value for t in plan.tiers]
    assert report.plan.ledger == plan.ledger


@profile
@given(briefs())
def test_no_small_change_beats_a_proved_plan(data: dict[str, Any]) -> None:
    """A local search around the plan, judged by the rules' own checks alone, finds nothing better in any tier.

    The last tiers by definition compare only weeks with the same work, and then only those with the same content.
    """
    brief = Brief.model_validate(data)
    try:
        plan = solve(brief, limits=SMALL)
    except InputError:
        return
    if plan.status is not PlanStatus.OPTIMAL:
        return
    instance = instance_of(brief)
    facts = facts_of(instance, plan.sessions)
    best = tuple(tier.value for tier in plan.tiers)
    assert judged(facts) == best
    event("looked around")
    for other in islice(neighbours(facts), 400):
        values = judged(other)
        compared = tiers_compared(facts, other)
        assert values is None or values[:compared] >= best[:compared], (other.sessions, values, best)
