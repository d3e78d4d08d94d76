"""What a reader has asked of the system is kept: forced colours, less motion, more contrast (Media Queries 5)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, Route

from tests.page.browser import quick
from tests.page.test_manners import violations

Open = Callable[..., Page]

LUMINANCE = """(selectors) => {
  const linear = (c) => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const luminance = (text) => {
    const [r, g, b] = text.match(/[\\d.]+/g).slice(0, 3).map((each) => linear(each / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const styled = (selector, property) => getComputedStyle(document.querySelector(selector))[property];
  return selectors.map(([selector, property]) => luminance(styled(selector, property)));
}"""


def contrast(page: Page, one: tuple[str, str], other: tuple[str, str]) -> float:
    """The contrast ratio of WCAG 2.2, from 1 to 21."""
    low, high = sorted(page.evaluate(LUMINANCE, [one, other]))
    return (high + 0.05) / (low + 0.05)


def forced(page: Page) -> Page:
    page.emulate_media(forced_colors="active")
    assert page.evaluate("matchMedia('(forced-colors: active)').matches")
    return page


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_signs_stay_apart_in_forced_colours(solved: Open, scheme: str) -> None:
    goals = {"lats": {"least": 4, "aim": 6, "most": 12, "recovery_hours": 46, "frequency": 2}, "quads": {"aim": 2}}
    page = forced(solved(quick(goals=goals), color_scheme=scheme))
    paper = ("body", "backgroundColor")
    for sign in ("svg.week .mark", "svg.week .tail", ".bar .direct"):
        assert contrast(page, (sign, "fill"), paper) >= 3, sign  # WCAG 2.2, 1.4.11 non-text contrast
    assert contrast(page, ("svg.week .day-name", "fill"), paper) >= 4.5
    for edge in (".opening", ".bar .range"):
        assert contrast(page, (edge, "stroke"), paper) >= 3, edge
    page.click("#part-when > summary")
    painted, bare = (("td.open", "backgroundColor"), ("td[data-day]:not(.open)", "backgroundColor"))
    assert contrast(page, painted, bare) >= 3
    page.focus("#week-spot")
    page.keyboard.press("ArrowRight")
    assert contrast(page, ("#week-spot path", "stroke"), paper) >= 3
    for each in ("#solve", "#demand-ask", "#undo"):
        assert contrast(page, (each, "color"), (each, "backgroundColor")) >= (3 if each == "#undo" else 4.5), each
    # axe's own look at contrast reads the text's fill, which forced colours do not change in the computed style.
    assert [found for found in violations(page) if found[0] != "color-contrast"] == []


@pytest.mark.parametrize("asked", ["no-preference", "reduce"])
def test_nothing_moves_where_less_motion_is_asked(solved: Open, asked: str) -> None:
    page = solved(reduced_motion=asked)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/v1/**", hold, times=1)  # the question waits, so that the sign of waiting can be looked at
    page.click("#tradeoff-ask")
    page.wait_for_selector(".waiting")
    assert (page.evaluate("document.getAnimations().length") > 0) == (asked == "no-preference")
    held[0].continue_()
    page.wait_for_selector("svg.tradeoff .point")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_more_contrast_where_it_is_asked(solved: Open, scheme: str) -> None:
    """Quiet text reaches 7 to 1 (WCAG 2.2, 1.4.6 enhanced contrast), and lines 3 to 1 (1.4.11)."""
    page = solved(color_scheme=scheme)
    page.emulate_media(contrast="more")
    assert page.evaluate("matchMedia('(prefers-contrast: more)').matches")
    paper: tuple[str, Any] = ("html", "backgroundColor")
    for text in (".entry .rest", ".small", ".day > h3", ".kept"):
        assert contrast(page, (text, "color"), paper) >= 7, text
    for line in ("svg.week .row-line", "svg.week .opening"):
        assert contrast(page, (line, "stroke"), paper) >= 3, line
    assert violations(page) == []
