"""Week by week beside the joint optimum, which brute force over the days of two weeks knows."""

from __future__ import annotations

import pytest

from tests.blocks.joint import loss, tiny


@pytest.mark.parametrize("seed", [2, 6, 17, 49])
def test_week_by_week_meets_the_joint_optimum(seed: int) -> None:
    found = loss(tiny(seed))
    assert found is not None
    assert found.joint is not None
    assert found.week_by_week == found.joint


def test_where_the_second_week_would_be_shut_out_the_first_gives_way() -> None:
    """Best by itself the first week leaves no second one; brute force knows that there is a block."""
    found = loss(tiny(28))
    assert found is not None
    assert found.joint is not None
    assert found.week_by_week is not None


@pytest.mark.parametrize("seed", [0, 18])
def test_nothing_is_below_the_joint_optimum(seed: int) -> None:
    found = loss(tiny(seed))
    assert found is not None
    if found.joint is None:
        assert found.week_by_week is None
    else:
        assert found.week_by_week is None or found.week_by_week >= found.joint
