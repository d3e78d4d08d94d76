"""What holds of every block, on random tiny weeks."""

from __future__ import annotations

import pytest

from scheduler.blocks.build import plan_block
from scheduler.domain.block import BlockSettings, WeekRole
from tests.blocks.joint import tiny
from tests.blocks.small import small

SETTINGS = BlockSettings(weeks=2, easy_weeks=1, path=(100, 100))


@pytest.mark.parametrize("seed", range(8))
def test_no_border_breaks_recovery_and_the_easy_week_is_less(seed: int) -> None:
    found = plan_block(tiny(seed), SETTINGS)
    kept = {f.key: f.kept for f in found.findings}
    assert kept["borders"]
    weeks = [w for w in found.weeks if w.plan.tiers]
    if len(weeks) < 3:
        # No block by these demands: it says so, and says which week.
        assert not found.holds
        assert not found.weeks[-1].plan.tiers
        return
    last, easy = weeks[-2:]
    assert easy.role is WeekRole.EASY
    before = {row.target: row.counted for row in last.plan.ledger}
    assert all(row.counted < before[row.target] for row in easy.plan.ledger)
    days = [len({s.start.date() for s in w.plan.sessions}) for w in (last, easy)]
    assert days[1] <= days[0]
    assert found.holds


def test_one_brief_has_one_block() -> None:
    settings = BlockSettings(weeks=2, easy_weeks=1)
    one, other = (
        plan_block(small(), settings).model_dump(exclude={"weeks": {"__all__": {"plan": {"timings"}}}})
        for _ in range(2)
    )
    assert one == other


@pytest.mark.parametrize("first", [2, 3])
def test_a_change_for_later_weeks_leaves_those_before_it_alone(first: int) -> None:
    """Two days instead of three from some week on, as a coach says it: what was planned up to then stays planned."""
    change = {f"{first}-": {"sessions": 2, "kinds": {"upper": {"per_week": 1}}}}
    plain, changed = (
        plan_block(small(), BlockSettings(weeks=3, easy_weeks=0, patches=patches)) for patches in ({}, change)
    )
    before = [[w.plan.sessions for w in block.weeks[: first - 1]] for block in (plain, changed)]
    assert before[0] == before[1]
    assert [len(w.plan.sessions) for w in changed.weeks] == [3] * (first - 1) + [2] * (4 - first)
