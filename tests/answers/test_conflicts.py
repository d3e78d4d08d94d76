"""Why a week is impossible and what mends it: every claim shown again by a plain solve."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from scheduler.answers.conflicts import explain, explain_short
from scheduler.answers.merge_patch import merge_patch
from scheduler.cli import main
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import PlanStatus
from scheduler.planning import solve

# Two sessions 48 h apart, Monday and Tuesday only: one hour a day, the same hour.
CLASH = {
    "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
    "places": {"gym": {"base": "full_gym"}},
    "openings": [{"day": ["mon", "tue"], "start": "18:00", "end": "19:00", "place": "gym"}],
    "kinds": {"pull": {"base": "pull", "per_week": 2, "sets": {"least": 4, "most": 8}}},
    "sessions": 2,
    "goals": {"lats": {"aim": 4}},
    "exercises": {"only": ["lat_pulldown", "seated_cable_row", "back_extension"]},
    "rules": {"spacing": {"pairs": [{"from": "pull", "to": "pull", "hours": 48}]}},
}


def brief(**patch: object) -> Brief:
    return Brief.model_validate(merge_patch(CLASH, patch))


def is_possible(asked: Brief) -> bool:
    return solve(asked).status is not PlanStatus.IMPOSSIBLE


def test_a_conflict_is_irreducible_and_every_mend_works_and_is_minimal() -> None:
    asked = brief()
    assert not is_possible(asked)
    found = explain(asked, budget_seconds=60)
    assert found.possible is False
    assert found.conflicts
    for conflict in found.conflicts:
        assert conflict.verified
        assert conflict.confirmed
    members = {m.switch for c in found.conflicts for m in c.members}
    assert "spacing:pull-pull" in members
    assert any("48 h" in m.sentence for c in found.conflicts for m in c.members)
    assert found.mends
    for mend in found.mends:
        assert is_possible(Brief.model_validate(merge_patch(asked.model_dump(mode="json"), mend.patch)))
        # Any amount one unit smaller, the others as they are, fails: shown by a plain solve.
        for switch, amount in mend.patch["concessions"].items():
            smaller = dict(mend.patch["concessions"]) | {switch: amount - 1}
            smaller = {name: n for name, n in smaller.items() if n}
            less = asked.model_copy(update={"concessions": smaller})
            assert not is_possible(less)
    assert [m.cost for m in found.mends] == sorted(m.cost for m in found.mends)
    touched = [frozenset(m.patch["concessions"]) for m in found.mends]
    assert len(touched) == len(set(touched))


def test_a_possible_week_has_no_conflict() -> None:
    found = explain(brief(rules={"spacing": None}, goals={"lats": {"recovery_hours": 0}}), budget_seconds=30)
    assert found.possible
    assert found.conflicts == ()


def test_without_time_nothing_is_claimed() -> None:
    found = explain(brief(), budget_seconds=0)
    assert found.truncated
    assert not any(c.verified for c in found.conflicts)


def test_a_caution_is_never_given_up() -> None:
    """Only an exercise that the shoulder caution rules out is left for the required pattern."""
    asked = brief(
        lifter={"cautions": ["lower_back"]},
        kinds={"pull": {"per_week": 1, "patterns": ["hinge"], "required": ["hinge"], "lower_body": True}},
        sessions=1,
        exercises={"only": ["conventional_deadlift"]},
        rules={"spacing": None, "stand_in": {"mode": "off"}},
    )
    found = explain(asked, budget_seconds=30)
    assert found.possible is False
    touched = {change.rule for mend in found.mends for change in mend.changes}
    assert "cautions" not in touched
    assert not any(c.switch == "lower_back:supported_only" for m in found.mends for c in m.changes)


def test_a_wish_that_falls_short_is_explained() -> None:
    asked = brief(rules={"spacing": None}, goals={"lats": {"aim": 18, "recovery_hours": 0}})
    short = explain_short(asked, "weekly_sets:aim:lats", budget_seconds=60)
    assert short.can_be_met is False
    assert short.explanation.mends
    for mend in short.explanation.mends:
        raised = asked.model_copy(update={"musts": ("weekly_sets:aim:lats",), "concessions": mend.patch["concessions"]})
        assert is_possible(raised)
    with pytest.raises(InputError):
        explain_short(asked, "weekly_sets:aim:latz", budget_seconds=1)


def test_the_command(tmp_path: Path) -> None:
    path = tmp_path / "brief.json"
    path.write_text(json.dumps(CLASH), encoding="utf-8")
    result = CliRunner().invoke(main, ["why", str(path), "--seconds", "60"])
    assert result.exit_code == 3, result.output
    assert "48 h" in result.output
    assert "proved to work" in result.output
    assert CliRunner().invoke(main, ["why", str(path), "--cost", "opening"]).exit_code == 2
    answer = CliRunner().invoke(main, ["why", str(path), "--seconds", "60", "--json"])
    assert json.loads(answer.stdout)["possible"] is False
