"""What is pinned to a wall: one sheet of A4 (ISO 216: 210 by 297 mm) a week, whatever the screen was."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

Open = Callable[..., Page]
POINTS_PER_MM = 72 / 25.4


@pytest.mark.parametrize("width", [360, 1600])
@pytest.mark.parametrize("name", ["back_first", "push_pull_legs", "two_a_day", "upper_lower_four_days"])
def test_a_week_is_one_sheet(opened: Open, name: str, width: int) -> None:
    page = opened("/", viewport={"width": width, "height": 800})
    page.click(f"[data-demo={name}]")
    page.wait_for_selector(".session")
    pdf = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    sheet = re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert sheet is not None
    assert [float(side) for side in sheet.groups()] == pytest.approx([210 * POINTS_PER_MM, 297 * POINTS_PER_MM], abs=1)


def test_on_paper_time_runs_along_and_bars_are_drawn(opened: Open) -> None:
    page = opened("/", viewport={"width": 360, "height": 740})
    page.click("[data-demo=back_first]")
    page.wait_for_selector(".session")
    page.wait_for_selector("svg.week.down")
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("svg.week.along").is_visible()
    assert page.locator("svg.bar .direct").first.is_visible()
    for hidden in ("#solve", ".demand", ".brief", ".further"):
        assert not page.locator(hidden).first.is_visible(), hidden
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    assert page.locator("svg.week.down").is_visible()
