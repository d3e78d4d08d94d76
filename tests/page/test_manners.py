"""How the page behaves: by keyboard, with a screen reader, on a phone, with hostile names, when the server is gone."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.api.running import ROOT, Running, running
from tests.page.browser import a_lot, link_of, quick, two_evenings

Open = Callable[..., Page]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
HOSTILE = "<img src=x onerror=alert(1)><script>alert(2)</script>\"'&amp;"


def violations(page: Page) -> list[tuple[str, list[str]]]:
    """What axe-core finds against WCAG 2.2 A and AA and its own best practices."""
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [(each["id"], [node["html"][:160] for node in each["nodes"][:3]]) for each in found["violations"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(solved: Open, opened: Open, scheme: str) -> None:
    assert violations(opened("/", color_scheme=scheme)) == []
    page = solved(quick(goals={"lats": {"least": 10, "aim": 30, "most": 40}}), color_scheme=scheme)
    for part in page.locator(".panel-editor details.part > summary").all():
        part.click()
    page.locator("tr.short button").first.click()
    page.wait_for_selector("#answer .verdict")
    assert violations(page) == []
    page.locator("article button").first.click()
    assert violations(page) == []


def test_axe_finds_nothing_in_a_ring_and_side_by_side(solved: Open) -> None:
    page = solved(quick(week={"start": "2026-11-30", "zone": "Europe/Berlin", "repeats": True}))
    expect(page.locator("svg.week.around")).to_be_visible()
    page.click("#variant-keep")
    page.click("#tradeoff-ask")
    page.wait_for_selector("svg.tradeoff .point")
    for part in page.locator(".work details > summary").all():
        part.click()
    assert violations(page) == []
    page.click("#week-roll")
    expect(page.locator("svg.week.along")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_where_it_went_wrong(opened: Open, scheme: str) -> None:
    page = opened(link_of(two_evenings()), color_scheme=scheme)
    page.click("#solve")
    page.wait_for_selector(".impossible .mends button")
    assert violations(page) == []


@pytest.mark.parametrize("width", [360, 768, 1280, 1600])
def test_no_width_scrolls_sideways(solved: Open, width: int) -> None:
    page = solved(viewport={"width": width, "height": 800})
    for part in page.locator(".panel-editor details.part > summary").all():
        part.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    down = page.locator("svg.week.down").count()
    assert down == (1 if width == 360 else 0)


@pytest.mark.parametrize(("width", "repeats"), [(390, False), (1280, False), (1280, True)])
def test_the_names_of_rows_are_cut_at_their_end_alone(solved: Open, width: int, repeats: bool) -> None:
    goals = {"pectorals_lower": {"aim": 4}, "trapezius_middle": {"aim": 2}}
    brief = quick(goals=goals, week={"start": "2026-11-30", "zone": "Europe/Berlin", "repeats": repeats})
    brief["kinds"]["upper"]["name"] = "Wide words: WWWWWWWWWWWWWWWWWWW"
    page = solved(brief, viewport={"width": width, "height": 844})
    drawing = page.locator("svg.week").bounding_box()
    assert drawing is not None
    for name in page.locator(".row-name").all():
        box = name.bounding_box()
        assert box is not None
        assert box["x"] >= drawing["x"]
        assert box["y"] >= drawing["y"]
    names = page.locator(".row-name tspan:first-child").all_text_contents()
    assert names[0].startswith("Wide")
    assert names[0].endswith("…")
    assert any(name.startswith("Middle and lo") for name in names)
    if width == 1280 and not repeats:
        assert "Middle and lower chest" in names


def test_by_keyboard_alone(opened: Open) -> None:
    page = opened("/")
    press = page.keyboard.press

    def tab_to(selector: str) -> None:
        for _ in range(400):
            press("Tab")
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                return
        raise AssertionError(f"Tab does not reach {selector}")

    tab_to("[data-demo=beginner_full_body]")
    press("Enter")
    page.wait_for_selector(".session")
    page.wait_for_selector("#part-goals")
    page.evaluate("document.activeElement.blur()")
    tab_to("#part-when > summary")
    press("Enter")
    tab_to("td[data-day]")
    cell = page.evaluate("document.activeElement.id")
    was = page.get_attribute(f"#{cell}", "aria-selected")
    press("Space")
    expect(page.locator(f"#{cell}")).not_to_have_attribute("aria-selected", was or "")
    assert page.evaluate("document.activeElement.id") == cell  # the focus stays
    press("ArrowDown")
    assert page.evaluate("document.activeElement.id") != cell
    press("Control+z")
    expect(page.locator(f"#{cell}")).to_have_attribute("aria-selected", was or "")
    tab_to("a.to-session")
    tab_to("#demand-ask")
    press("Enter")
    page.wait_for_selector("#answer .verdict")
    assert page.evaluate("document.activeElement.id") == "answer"
    tab_to("#answer-dismiss")
    press("Enter")
    expect(page.locator("#answer")).to_have_count(0)
    assert page.evaluate("document.activeElement.id") == "demand-ask"
    # Tuesday is a free day: ask for it in the picture of the week, and pin what can be had.
    page.evaluate("document.activeElement.blur()")
    tab_to("#week-spot")
    press("PageDown")
    press("Enter")
    page.wait_for_selector("#answer .verdict")
    tab_to("#answer .act")
    press("Enter")
    page.wait_for_selector(".changes")
    # A bar, a rule, a week kept under a name, a day ticked, a link.
    tab_to("button.ask-bar")
    press("Enter")
    page.wait_for_selector("#answer .act")
    tab_to("#variant-keep")
    press("Enter")
    page.wait_for_selector(".variants .strip")
    page.evaluate("document.activeElement.blur()")
    tab_to(".rules summary")
    press("Enter")
    tab_to(".rules details[open] button")
    press("Enter")
    page.wait_for_selector("#answer:has-text('without the rule')")
    page.wait_for_selector("#answer-dismiss")
    tab_to("#replan-0-open")
    press("ArrowRight")
    expect(page.locator("#replan-0-done")).to_be_checked()
    tab_to("#take-link")
    press("Enter")
    expect(page.locator("#link a")).to_be_visible()


def test_markup_in_names_is_text(solved: Open) -> None:
    brief = quick(title=HOSTILE, story=HOSTILE)
    brief["lifter"]["name"] = HOSTILE
    brief["places"]["mill_gym"]["name"] = HOSTILE
    brief["kinds"]["upper"]["name"] = HOSTILE
    brief["busy"] = [{"title": HOSTILE, "start": "2026-12-03T08:00", "end": "2026-12-03T09:00"}]
    page = solved(brief)
    assert page.locator("main img, main script").count() == 0
    assert HOSTILE in page.inner_text("article.session h4 >> nth=0") + page.inner_text("article.session h4 >> nth=1")
    expect(page.locator(".brief-title")).to_have_text(HOSTILE)
    page.locator("article button").first.click()
    assert HOSTILE in page.inner_text("dialog.card")


def test_a_fault_stands_at_its_field_and_nothing_is_lost(solved: Open, opened: Any) -> None:
    page = solved()
    page.click("#part-goals summary")
    page.fill('[id="at/goals/lats/least"]', "11")  # above the aim of 6
    page.click("#solve")
    page.wait_for_selector(".trouble")
    assert len(opened.words) == 1  # the browser itself says on its console that a request was refused
    assert "422" in opened.words.pop()
    expect(page.locator('[id="at/goals/lats"]')).to_have_attribute("aria-invalid", "true")
    expect(page.locator('[id="fault-at/goals/lats"]')).to_contain_text("cross")
    page.reload()
    page.wait_for_selector("#part-goals")
    expect(page.locator('[id="at/goals/lats/least"]')).to_have_value("11")
    assert page.locator("article.session").count() == 3  # the last plan is still there
    page.click("#undo")
    expect(page.locator('[id="at/goals/lats/least"]')).to_have_value("4")


def test_two_tabs_keep_their_own_work(solved: Open) -> None:
    """A new tab goes on with what was kept last; after that neither takes the other's place."""
    page = solved()
    other = page.context.new_page()
    other.goto(page.url)
    expect(other.locator(".brief-title")).to_have_text("Two and one")
    other.click("#close")
    other.click("#start-empty")
    other.wait_for_selector("#part-goals")
    page.click("#part-goals > summary")
    page.fill('[id="at/goals/lats/aim"]', "7")
    other.reload()
    expect(other.locator(".brief-title")).to_have_text("My week")
    page.reload()
    expect(page.locator(".brief-title")).to_have_text("Two and one")
    expect(page.locator('[id="at/goals/lats/aim"]')).to_have_value("7")
    assert page.locator("article.session").count() == 3
    other.click("#part-who > summary")
    other.fill('[id="at/title"]', "Her week")
    page.reload()
    expect(page.locator(".brief-title")).to_have_text("Two and one")


def test_the_server_goes_in_the_middle_of_a_solve(browser: Browser, tmp_path: Path) -> None:
    store = f"sqlite:///{tmp_path}/store.sqlite3"
    with running(store) as first:
        page = browser.new_page()
        page.set_default_timeout(60_000)
        page.goto(first.url + link_of(a_lot()))
        page.wait_for_selector("body.ready")
        page.click("#solve")
        page.wait_for_selector("#stop:not([disabled])")
        first.kill()
        page.wait_for_selector(".trouble")
        expect(page.locator(".trouble")).to_contain_text("does not answer")
        expect(page.locator("#stop")).to_be_hidden()
        kept = json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))
        assert kept["brief"]["title"] == "A lot at once"
        with running(store, port=first.port, lost_after_seconds=2) as second:
            assert second.url == first.url
            page.click("#again")
            page.wait_for_selector("#way:has-text('Step')")
            page.click("#stop")
            page.wait_for_selector(".session, .panel-plan > p")
            expect(page.locator(".trouble")).to_have_count(0)
        page.close()


def test_a_search_is_stopped_and_the_best_is_kept(opened: Open) -> None:
    page = opened(link_of(a_lot()))
    page.click("#solve")
    page.wait_for_selector("#way:has-text('Step')")
    page.click("#stop")
    page.wait_for_selector(".session, .panel-plan > p")
    expect(page.locator("#stop")).to_be_hidden()
    status = json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["plan"]["status"]
    assert status in ("stopped", "feasible with bound")


def plans_on(server: Running) -> list[dict[str, Any]]:
    with server.client() as client:
        found: list[dict[str, Any]] = client.get("/v1/plans").json()["plans"]
        return found


def test_a_running_search_is_taken_up_again_after_a_reload(opened: Open, server: Running) -> None:
    page = opened(link_of(a_lot()))
    before = len(plans_on(server))
    page.click("#solve")
    page.wait_for_selector("#way:has-text('Step')")
    page.reload()
    page.wait_for_selector("#way:has-text('Step')")
    expect(page.locator(".search .now")).to_have_count(1)
    assert len(plans_on(server)) == before + 1  # the same search, not another one
    page.click("#stop")
    page.wait_for_selector(".session, .panel-plan > p")
    assert page.evaluate("sessionStorage.getItem('weekwright.running')") is None


def test_a_search_that_ended_while_the_page_was_away_is_shown(opened: Open, server: Running) -> None:
    page = opened(link_of(quick(title="While away")))
    before = len(plans_on(server))
    address = page.url
    # The server hears and solves, and the page is left before it hears of it.
    page.route("**/v1/plans", lambda route: route.fetch() and None)
    page.click("#solve")
    deadline = time.monotonic() + 60
    while len(plans_on(server)) == before or plans_on(server)[0]["state"] != "done":
        assert time.monotonic() < deadline
        page.wait_for_timeout(100)
    page.goto("about:blank")
    page.unroute("**/v1/plans")
    page.goto(address)
    page.wait_for_selector(".session")
    assert len(plans_on(server)) == before + 1
    expect(page.locator(".brief-title")).to_have_text("While away")


def test_a_question_is_taken_up_again_after_a_reload(solved: Open) -> None:
    page = solved()
    with page.expect_request("**/tradeoff"):
        page.click("#tradeoff-ask")
    page.reload()
    page.wait_for_selector("svg.tradeoff .point")
    with page.expect_request("**/alternatives"):
        page.click("#others-ask")
    page.reload()
    page.wait_for_selector("#answer .weeks li, #answer .verdict")


def test_nothing_jumps_while_it_loads(solved: Open) -> None:
    """Cumulative layout shift below 0.1, which Web Vitals call good; what follows a click within 0.5 s is no jump."""
    page = solved()
    page.reload()
    page.wait_for_selector("#part-goals")
    page.wait_for_timeout(300)
    shifts = """() => new Promise((resolve) => {
        let sum = 0;
        new PerformanceObserver((list) => { for (const each of list.getEntries()) sum += each.value; })
            .observe({type: 'layout-shift', buffered: true});
        setTimeout(() => resolve(sum), 200);
    })"""
    assert page.evaluate(shifts) < 0.1


def test_another_brief_gives_up_the_search_and_can_be_undone(opened: Open) -> None:
    page = opened(link_of(a_lot()))
    page.click("#solve")
    page.wait_for_selector("#stop:not([disabled])")
    page.click("#close")
    page.click("#start-empty")
    expect(page.locator(".brief-title")).to_have_text("My week")
    expect(page.locator("#stop")).to_be_hidden()
    page.click("#undo")
    expect(page.locator(".brief-title")).to_have_text("A lot at once")


def test_a_key_is_asked_for_where_the_server_wants_one(opened: Open, tmp_path: Path) -> None:
    store = f"sqlite:///{tmp_path}/store.sqlite3"
    with running(store) as server:
        made = subprocess.run(
            [sys.executable, "-m", "api", "keys", "create", "my-gym", "--store", store],
            cwd=ROOT, check=True, capture_output=True, text=True,
        )  # fmt: skip
        page = opened("/", on=server.url)
        page.wait_for_selector(".trouble #key")
        refused = [word for word in opened.words if "401" in word]  # type: ignore[attr-defined]
        opened.words.clear()  # type: ignore[attr-defined]
        assert refused
        page.fill("#key", made.stdout.strip())
        page.keyboard.press("Enter")
        page.wait_for_selector("[data-demo=back_first]")


def test_a_link_reproduces_the_brief(solved: Open, opened: Open) -> None:
    page = solved()
    page.click("#take-link")
    address = page.get_attribute("#link a", "href") or ""
    assert "#brief=" in address
    again = opened(address[address.index("/#") :])
    expect(again.locator(".brief-title")).to_have_text("Two and one")
    expect(again.locator("svg.week")).to_be_visible()


def test_the_policy_is_strict_and_the_script_small(server: Running) -> None:
    with server.client() as client:
        answer = client.get("/")
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert client.get("/", headers={"If-None-Match": answer.headers["etag"]}).status_code == 304
        assert client.get("/page/../app.py").status_code == 404
    folder = Path(__file__).parents[2] / "api" / "page"
    assert sum(path.stat().st_size for path in folder.rglob("*.js")) < 200_000
    for path in folder.rglob("*.js"):
        text = path.read_text(encoding="utf-8")
        assert not any(word in text for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "eval(")), path
