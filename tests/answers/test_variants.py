"""What if: patches, plans beside each other, and what is different between two plans."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from scheduler.answers.replan import replan
from scheduler.answers.variants import difference, patched, solve_all, what_if
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.planning import solve
from scheduler.week.solver import Limits
from tests.solving.strategies import briefs


def small(**parts: Any) -> Brief:
    return Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "tue", "thu"], "start": "18:00", "end": "19:00", "place": "gym"}],
            "kinds": {
                "pull": {
                    "base": "pull",
                    "sets": {"least": 2, "most": 8},
                    "per_week": {"least": 1, "most": 3},
                    "patterns": ["horizontal_pull", "vertical_pull"],
                    "required": [],
                    "minutes": {"least": 0, "most": 60},
                }
            },
            "sessions": {"least": 1, "most": 3},
            "goals": {"lats": {"least": 2, "aim": 6, "most": 14}},
            "exercises": {"only": ["machine_row", "lat_pulldown", "chin_up"]},
            "rules": {"stand_in": {"mode": "off"}, "coverage": {"mode": "off"}},
            **parts,
        }
    )


@pytest.fixture(scope="module")
def base() -> Plan:
    return solve(small())


def test_variants_are_the_plans_of_the_patched_briefs(base: Plan) -> None:
    patches: dict[str, Any] = {
        "more": {"goals": {"lats": {"aim": 10}}},
        "never": {"sessions": 3, "openings": [{"day": "mon", "start": "18:00", "end": "19:00", "place": "gym"}]},
    }
    answer = what_if(small(), patches)
    assert answer.base.sessions == base.sessions
    more, never = answer.variants
    # As good in every tier; where weeks tie it stays nearer to the base plan.
    afresh = solve(patched(small(), patches["more"]))
    assert [(t.tier, t.value) for t in more.plan.tiers[:-1]] == [(t.tier, t.value) for t in afresh.tiers[:-1]]
    assert {row.target: row.after for row in more.difference.ledger}["lats"] >= 10
    assert never.plan.status is PlanStatus.IMPOSSIBLE
    assert never.difference.tiers[0].after is None


def test_a_known_base_is_not_solved_again(base: Plan) -> None:
    answer = what_if(small(), {"same": {}}, base=base)
    assert answer.base is base
    assert answer.variants[0].difference.is_empty
    assert not answer.variants[0].difference.moves


def test_a_patch_that_makes_no_brief_is_refused_with_its_name() -> None:
    with pytest.raises(InputError, match=r"more: goals\.latz"):
        what_if(small(), {"more": {"goals": {"latz": {"aim": 3}}}})


def test_processes_and_one_after_another_give_the_same() -> None:
    asked = [small(), small(sessions=2)]
    alone = [solve(brief) for brief in asked]
    assert [p.sessions for p in solve_all(asked)] == [p.sessions for p in alone]


def test_differences_are_said_in_sentences(base: Plan) -> None:
    first, *rest = base.sessions
    entry = first.entries[0]
    later = first.model_copy(
        update={"start": first.start.replace(hour=18, minute=10), "entries": (entry.model_copy(update={"sets": 1}),)}
    )
    found = difference(base, base.model_copy(update={"sessions": (later, *rest[1:])}))
    assert [m.sentence for m in found.moved] == [f"Pull goes from {first.start:%A} 18:00 to {first.start:%A} 18:10."]
    assert [d.sentence for d in found.dropped] == [f"Pull on {s.start:%A %H:%M} is gone." for s in rest[:1]]
    assert "to 1 set" in found.contents[0].sentence
    assert found.moves == 1 + len(rest[:1]) + len(found.contents[0].dropped)


def test_what_was_done_meanwhile_is_the_same_session(base: Plan) -> None:
    first, second = base.sessions[:2]
    rest = replan(base, done=[f"{first.start:%a}"], missed=[f"{second.start:%a}"]).plan
    found = difference(base, rest)
    gone = {d.start for d in found.dropped}
    assert first.start not in gone
    assert first.start not in {m.from_start for m in found.moved}
    assert {tier.name for tier in found.tiers} == {"wishes"}


@settings(max_examples=20, derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(briefs())
def test_a_plan_differs_in_nothing_from_itself(data: dict[str, Any]) -> None:
    try:
        plan = solve(Brief.model_validate(data), limits=Limits(deterministic_seconds=1.0))
    except InputError:
        return
    found = difference(plan, plan)
    assert found.is_empty
    assert not found.ledger
    assert not found.rules
    assert all(tier.cost == 0 for tier in found.tiers)
