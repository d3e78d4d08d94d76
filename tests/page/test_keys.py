"""What is pointed at can be reached by keys: the hours of the week, the bars of the ledger, the rules, the openings.

Keys and roles are those of the WAI-ARIA Authoring Practices: grid (arrows, page keys, home, end; of a grid that is not
whole in the page `aria-rowindex` and `aria-colindex`), and accordion (up and down between the headers).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.page.browser import link_of, quick

Open = Callable[..., Page]
SPOT = "#week-spot"


def words_of_focus(page: Page) -> str:
    return page.evaluate("document.activeElement.getAttribute('aria-label')")


def focused(page: Page) -> str:
    return page.evaluate("document.activeElement.id")


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def sessions_of(page: Page) -> list[dict[str, Any]]:
    return json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["plan"]["plan"]["sessions"]


def test_the_week_is_walked_and_asked(solved: Open) -> None:
    page = solved()
    page.focus(SPOT)
    assert words_of_focus(page).startswith("Monday 17:00, Upper · ")
    assert "open at Mill Street gym" in words_of_focus(page)
    press(page, "ArrowRight")
    assert words_of_focus(page).startswith("Monday 17:30, Upper")
    assert page.get_attribute(SPOT, "aria-colindex") == "36"  # 17:30 is the 36th half hour of the week
    press(page, "PageDown", "Home")
    assert words_of_focus(page).startswith("Tuesday 0:00, Upper · ")
    assert "no opening" in words_of_focus(page)
    press(page, "ArrowLeft", "ArrowUp")  # over midnight; there is no row above
    assert words_of_focus(page).startswith("Monday 23:30, Upper")
    assert "no opening" in words_of_focus(page)
    press(page, "Home", "ArrowLeft")  # the week begins here
    assert words_of_focus(page).startswith("Monday 0:00, Upper")
    press(page, "ArrowDown", "ArrowDown")
    assert words_of_focus(page).startswith("Monday 0:00, Lats")
    assert page.inner_text(".readout") == words_of_focus(page)
    press(page, "ArrowUp", "PageDown", "PageDown")
    assert words_of_focus(page).startswith("Wednesday 0:00, Lower")
    press(page, "Enter")  # nobody trains there: Wednesday has no opening
    page.wait_for_selector("#answer .verdict")
    expect(page.locator("#answer")).to_contain_text("It cannot be.")
    expect(page.locator("#answer")).to_contain_text("Wednesday")
    assert focused(page) == "answer"
    page.click("#answer-dismiss")
    assert focused(page) == "week-spot"
    assert words_of_focus(page).startswith("Wednesday 0:00, Lower")


def test_a_session_in_focus_says_so_and_leads_to_its_day(solved: Open) -> None:
    page = solved()
    first = sessions_of(page)[0]
    page.focus(SPOT)
    while not words_of_focus(page).startswith("Monday 17:00"):
        press(page, "ArrowLeft")
    if first["kind"] == "lower":
        press(page, "ArrowDown")
    days = {"2026-11-30": 0, "2026-12-01": 1, "2026-12-03": 3, "2026-12-05": 5}
    press(page, *["PageDown"] * days[first["start"][:10]])
    for _ in range(6):
        if "session " in words_of_focus(page):
            break
        press(page, "ArrowRight")
    assert "session " in words_of_focus(page)
    press(page, "Enter")
    assert focused(page) == "session-0"


def test_recovery_is_said_where_it_runs(solved: Open) -> None:
    page = solved(quick(goals={"lats": {"least": 4, "aim": 6, "recovery_hours": 46, "frequency": 2}}))
    row = json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["plan"]["plan"]["ledger"]
    lats = next(each for each in row if each["target"] == "lats")
    assert min(lats["hours_between_hits"]) >= 46  # else the brief would not be kept
    page.focus(SPOT)
    press(page, "ArrowDown", "ArrowDown")
    hits = len(lats["hit_sessions"])
    said = 0
    for _ in range(7):
        said += "recovery until" in words_of_focus(page)
        press(page, "PageDown")
    assert 1 <= said <= 2 * hits  # 46 hours cover one or two of the days' 17:00


def test_on_a_phone_time_runs_down_and_so_do_the_keys(solved: Open) -> None:
    page = solved(viewport={"width": 360, "height": 740})
    page.focus(SPOT)
    press(page, "ArrowDown")
    assert words_of_focus(page).startswith("Monday 17:30, Upper")
    assert page.get_attribute(SPOT, "aria-colindex") == "1"
    press(page, "ArrowRight")
    assert words_of_focus(page).startswith("Monday 17:30, Lower")


def test_a_repeating_week_goes_round(solved: Open) -> None:
    page = solved(quick(week={"start": "2026-11-30", "zone": "Europe/Berlin", "repeats": True}))
    page.focus(SPOT)
    press(page, "Home", "ArrowLeft")
    assert words_of_focus(page).startswith("Sunday 23:30, Upper")
    press(page, "ArrowRight")
    assert words_of_focus(page).startswith("Monday 0:00, Upper")


def test_the_focus_can_be_seen(solved: Open) -> None:
    page = solved()
    page.focus(SPOT)
    assert page.evaluate("getComputedStyle(document.querySelector('#week-spot path')).stroke") == "none"
    press(page, "ArrowRight")  # a key: now the focus is visible
    assert page.evaluate("getComputedStyle(document.querySelector('#week-spot path')).strokeWidth") == "3px"
    assert page.evaluate("getComputedStyle(document.querySelector('#week-spot path')).stroke") != "none"
    box = page.locator(f"{SPOT} path").bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 12


def test_bars_and_rules_are_walked_by_arrows(solved: Open) -> None:
    page = solved(quick(goals={"lats": {"least": 10, "aim": 30, "most": 40}, "quads": {"least": 3, "aim": 4}}))
    page.focus("#bar-lats")
    assert words_of_focus(page) == "Why not more Lats (latissimus dorsi)?"
    press(page, "ArrowDown")
    assert focused(page) == "bar-quads"
    assert "cost?" in words_of_focus(page)
    press(page, "Home", "Enter")
    page.wait_for_selector("#answer .verdict")
    page.click("#answer-dismiss")
    assert focused(page) == "bar-lats"
    page.focus(".rules summary >> nth=0")
    press(page, "ArrowDown", "Enter")
    second = page.locator(".rules > ul > li:nth-child(2) > details")
    expect(second).to_have_attribute("open", "")
    press(page, "Tab")
    assert page.evaluate("document.activeElement.closest('details[id]').id") == second.get_attribute("id")


def test_openings_are_painted_and_rubbed_out_by_keys(solved: Open) -> None:
    page = solved()
    page.click("#part-when > summary")
    page.focus("#cell-6-34")

    def sunday() -> list[tuple[str, str]]:
        openings = json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["brief"]["openings"]
        return [(each["start"][:5], each["end"][:5]) for each in openings if "sun" in each["day"]]

    press(page, "Space", "Shift+ArrowDown", "Shift+ArrowDown", "Shift+ArrowDown")
    assert sunday() == [("17:00", "19:00")]
    assert focused(page) == "cell-6-37"
    press(page, "Space", "Shift+ArrowUp")
    assert sunday() == [("17:00", "18:00")]
    press(page, "PageUp", "Home")
    assert focused(page) == "cell-6-0"


def test_a_button_that_goes_hands_the_focus_on(solved: Open) -> None:
    page = solved()
    page.focus("#solve")
    press(page, "Enter")
    page.wait_for_selector("#solve:not([hidden])")
    page.wait_for_function("document.activeElement.id === 'solve'")
    goal = page.locator("#part-goals > summary")
    goal.press("Enter")
    aim = page.locator("[id='at/goals/lats/aim']")
    aim.fill("9")
    aim.blur()
    page.focus("#undo")
    for _ in range(20):
        if page.is_disabled("#undo"):
            break
        press(page, "Enter")
    assert focused(page) == "redo"


def test_on_a_phone_a_solved_week_is_brought_before_the_reader(opened: Open) -> None:
    """Solving begins in the brief, far from the week; who looks at the plan is left where they are."""
    page = opened(link_of(quick()), viewport={"width": 390, "height": 844}, reduced_motion="reduce")
    page.wait_for_selector("#part-goals")

    def solve_from(selector: str) -> None:
        page.evaluate("selector => document.querySelector(selector).scrollIntoView()", selector)
        page.click("#solve")
        page.wait_for_selector("#solve", state="hidden")
        page.wait_for_selector("#solve:not([hidden])")

    solve_from("#part-text")
    expect(page.locator("#week-title")).to_be_in_viewport()
    solve_from("#part-text")
    expect(page.locator("#week-title")).to_be_in_viewport()
    solve_from("#session-1")
    expect(page.locator("#week-title")).not_to_be_in_viewport()
    expect(page.locator("#session-1")).to_be_in_viewport()
    page.wait_for_function("document.activeElement.id === 'solve'")


def test_what_went_wrong_is_brought_before_the_reader(solved: Open, opened: Any) -> None:
    page = solved()
    page.locator("#part-goals > summary").press("Enter")
    page.fill("[id='at/goals/lats/least']", "11")  # above the aim of 6
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    page.evaluate("document.getElementById('solve').click()")
    expect(page.locator(".trouble")).to_be_focused()
    expect(page.locator(".trouble")).to_be_in_viewport()
    assert "422" in opened.words.pop()  # the browser itself says on its console that a request was refused


def test_a_brief_as_text_that_is_broken_is_told_and_kept(solved: Open) -> None:
    page = solved()
    page.locator("#part-text > summary").press("Enter")
    page.fill("#whole-brief", '{"week": ')
    page.click("#part-text button")
    expect(page.locator("#part-text .fault")).to_contain_text("JSON")
    assert page.input_value("#whole-brief") == '{"week": '
