"""A block on the page: planned, looked at, taken away, logged; and its printed sheet."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Browser

from scheduler.blocks.build import plan_block
from scheduler.briefs import read_block
from scheduler.reports.block import render_block_html

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def test_nine_weeks_are_one_sheet_of_paper(browser: Browser, tmp_path: Path) -> None:
    """A4 across, two sides."""
    brief, settings = read_block(SCENARIOS / "blocks" / "back_first.yaml")
    path = tmp_path / "sheet.html"
    path.write_text(render_block_html(plan_block(brief, settings)), encoding="utf-8")
    page = browser.new_page()
    page.goto(path.as_uri())
    printed = page.pdf(prefer_css_page_size=True)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", printed)
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {(842, 595)}  # ISO 216: 297 by 210 mm in points
