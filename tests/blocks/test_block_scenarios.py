"""Blocks in scenarios/blocks with what they must show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from scheduler.blocks.build import plan_block
from scheduler.briefs import read_block
from scheduler.domain.block import WeekRole
from scheduler.domain.plan import PlanStatus

FOLDER = Path(__file__).parents[2] / "scenarios" / "blocks"
FILES = sorted(FOLDER.glob("*.yaml"))
KNOWN = {"weeks", "proved", "easy", "distinct_exercises_least", "keeps", "main_in_every_week"}


def test_there_are_some() -> None:
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_what_a_block_must_show(path: Path) -> None:
    expect: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))["expect"]
    assert set(expect) == KNOWN
    brief, settings = read_block(path)
    found = plan_block(brief, settings)
    assert len(found.weeks) == expect["weeks"]
    assert all(w.plan.status is PlanStatus.OPTIMAL for w in found.weeks) == expect["proved"]
    assert [w.number for w in found.weeks if w.role is WeekRole.EASY] == expect["easy"]
    assert found.distinct_exercises >= expect["distinct_exercises_least"]
    kept = {f.key: f.kept for f in found.findings}
    assert [key for key in expect["keeps"] if not kept[key]] == []
    for week in found.weeks:
        held = {e.exercise for s in week.plan.sessions for e in s.entries}
        assert set(expect["main_in_every_week"]) <= held, week.number
    assert found.holds
