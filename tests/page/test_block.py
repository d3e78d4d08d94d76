"""A block on the page: planned, looked at, taken away, logged; and its printed sheet."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from icalendar import Calendar
from playwright.sync_api import Browser, Page, expect

from scheduler.blocks.build import plan_block
from scheduler.briefs import read_block
from scheduler.data import load_catalogue
from scheduler.domain.block import Block
from scheduler.domain.log import uncleared
from scheduler.reports.block import render_block_html
from tests.api.running import Running
from tests.page.browser import link_of, quick, two_evenings
from tests.page.test_manners import HOSTILE, violations

Open = Callable[..., Page]
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


def planned(solved_page: Page, *, weeks: int = 2, easy: int = 1) -> Page:
    """The page with a block of a small week."""
    solved_page.fill("#block-weeks", str(weeks))
    solved_page.fill("#block-easy-weeks", str(easy))
    solved_page.click("#block-plan")
    solved_page.wait_for_selector("#block-found")
    return solved_page


def link_of_block(page: Page) -> str:
    found: str = json.loads(page.evaluate("localStorage.getItem('weekwright.block.1')"))["link"]
    return found


def block_on(server: Running, page: Page) -> Block:
    with server.client() as client:
        return Block.model_validate(client.get(link_of_block(page)).json()["block"])


def test_a_block_is_planned_drawn_and_taken_away(opened: Open, server: Running, tmp_path: Path) -> None:
    page = planned(opened(link_of(quick())))
    block = block_on(server, page)
    assert block.holds
    expect(page.locator("#block-found")).to_contain_text("2 weeks that build and 1 easy one")
    rows = page.locator("table.side-by-side tbody.muscles tr")
    assert rows.count() == sum(any(m.aim is not None for m in row.weeks) for row in block.rows)
    for row in block.rows:
        if any(m.aim is not None for m in row.weeks):
            shown = page.locator(f"table.side-by-side tr[data-target={row.target}] td b").all_inner_texts()
            assert shown == [f"{m.counted:g}" for m in row.weeks]
    with page.expect_download() as taken:
        page.click("#block-ics")
    assert taken.value.suggested_filename == "Two-and-one-block.ics"
    taken.value.save_as(tmp_path / "block.ics")
    events = Calendar.from_ical((tmp_path / "block.ics").read_bytes()).walk("VEVENT")
    assert len(events) == sum(len(week.plan.sessions) for week in block.weeks)
    with page.expect_download() as sheet:
        page.click("#block-sheet")
    sheet.value.save_as(tmp_path / "block.html")
    assert "medical advice" in (tmp_path / "block.html").read_text(encoding="utf-8")
    expect(page.locator(".block-found .cautions")).to_contain_text("not medical advice")
    # It is still there after a reload: the server keeps it.
    page.reload()
    page.wait_for_selector("table.side-by-side")
    assert block_on(server, page) == block


def test_a_week_of_the_block_is_read_and_opened(opened: Open, server: Running) -> None:
    page = planned(opened(link_of(quick())))
    page.click("#block-week-3")
    expect(page.locator("#block-week-3")).to_have_attribute("aria-pressed", "true")
    easy = block_on(server, page).weeks[2].plan
    assert page.locator(".block-week article").count() == len(easy.sessions)
    page.click("#block-open")
    expect(page.locator(".brief-title")).to_contain_text("week 3")
    page.wait_for_selector(".plan article.session")
    shown = page.locator(".plan article.session .dose").all_inner_texts()
    assert [text.split(" ")[0] for text in shown] == [str(e.sets) for s in easy.sessions for e in s.entries]
    page.click("#undo")
    expect(page.locator(".brief-title")).to_have_text("Two and one")


def test_on_a_phone_the_chosen_week_is_brought_before_the_reader(opened: Open) -> None:
    page = planned(opened(link_of(quick()), viewport={"width": 390, "height": 844}))
    page.evaluate("document.getElementById('block-week-2').scrollIntoView({block: 'center'})")
    page.click("#block-week-2")
    expect(page.locator("#block-week-title")).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("#block-week-title")).to_have_count(0)
    expect(page.locator("#block-week-2")).to_be_in_viewport()


def test_some_weeks_are_like_a_kept_one(solved: Open, server: Running) -> None:
    """Fewer days in the second week: the week with one session fewer is kept under a name, then undone."""
    page = solved()
    page.click("#part-kinds summary")
    for end in ("least", "most"):
        page.fill(f'[id="at/kinds/upper/per_week/{end}"]', "1")
    page.click("#solve")
    page.wait_for_selector(".changes")
    page.fill("#variant-name", "Away")
    page.click("#variant-keep")
    page.click("#undo")
    expect(page.locator('[id="at/kinds/upper/per_week/most"]')).to_have_value("2")
    page.click("#block-differing summary")
    page.click("#block-differ")
    page.fill("#block-from-0", "2")
    page.fill("#block-to-0", "2")
    planned(page, weeks=3, easy=0)
    block = block_on(server, page)
    assert [len(week.plan.sessions) for week in block.weeks] == [3, 2, 3]
    assert list(block.settings.patches) == ["2"]
    # Beside the block before: where a muscle is to get another number of sets, its column says so, and no other.
    page.click("#block-differing button.quiet")
    link = link_of_block(page)
    page.click("#block-plan")
    page.wait_for_selector(".was")
    assert link_of_block(page) != link
    now = {row.target: row for row in block_on(server, page).rows}
    for row in (row for row in block.rows if any(m.aim is not None for m in row.weeks)):
        cells = page.locator(f"table.side-by-side tr[data-target={row.target}] td").all()
        said = [cell.locator(".was").count() == 1 for cell in cells]
        weeks = zip(row.weeks, now[row.target].weeks, strict=True)
        assert said == [one.counted != other.counted for one, other in weeks]


def test_a_number_of_distinct_exercises_is_asked(opened: Open, server: Running) -> None:
    page = opened(link_of(quick()))
    page.click("#block-distinct summary")
    page.fill("#block-distinct-quads", "2")
    block = block_on(server, planned(page))
    assert dict(block.settings.distinct) == {"quads": 2}
    quads = next(row for row in block.rows if row.target == "quads")
    assert len(quads.exercises) == 2
    expect(page.locator("table.side-by-side tr[data-target=quads] th")).to_contain_text("2 asked")


def test_what_gives_way_in_a_block_stands_beside_its_headline(opened: Open, server: Running) -> None:
    """The brief knows two exercises for the quadriceps, and ten are asked."""
    page = opened(link_of(quick()))
    page.click("#block-distinct summary")
    page.fill("#block-distinct-quads", "10")
    planned(page)
    expect(page.locator("#block-found")).to_contain_text("each is proved best")
    given_way = [each.sentence for each in block_on(server, page).findings if not each.kept]
    assert given_way
    for sentence in given_way:
        expect(page.get_by_text(sentence).first).to_be_visible()
    expect(page.locator("#block-broken li").first).to_contain_text("gives way")


def test_a_week_is_logged_and_the_next_is_planned_from_it(opened: Open, server: Running) -> None:
    page = planned(opened(link_of(quick())))
    before = link_of_block(page)
    lower = next(n for n, s in enumerate(block_on(server, page).weeks[0].plan.sessions) if s.kind == "lower")
    other = (lower + 1) % 3
    page.click("#block-log summary")
    page.check(f"#log-{lower}-missed")
    page.check(f"#log-{other}-otherwise")
    page.locator(f"[id^=log-{other}-][id$=-pain]").first.fill("left shoulder")
    page.click(f"#log-{other}-more")
    page.select_option(f"#log-{other}-extra0", "dumbbell_curl")
    page.fill(f"#log-{other}-extra0-sets", "2")
    page.click("#log-do")
    page.wait_for_selector("#block-report")
    report = page.locator("#block-report")
    expect(report).to_contain_text("missed")
    expect(report).to_contain_text("Quadriceps")
    expect(report).to_contain_text("left shoulder")
    expect(report).to_contain_text("2 sets beside the plan")
    assert page.evaluate("document.activeElement.id") == "block-report"
    block = block_on(server, page)
    assert link_of_block(page) != before
    assert len(block.logs) == 1
    assert [week.outlook for week in block.weeks] == [False, False, True]
    # The report suggests an easy week, for something hurt; it is one button away, and is logged into the same block.
    page.click("#log-make-easy")
    page.wait_for_selector("#block-week-2[aria-label*=easy]")
    assert [len(block_on(server, page).logs), block_on(server, page).weeks[1].role.value] == [1, "easy"]
    # What hurt was looked at since.
    hurt = next(iter(uncleared(block.logs)))
    assert hurt in block_on(server, page).weeks[1].plan.brief.exercises.avoided
    # An outlook still shows it, marked; opened as the week of the page it is left out.
    name = load_catalogue().exercises[hurt].name
    assert hurt in block_on(server, page).weeks[2].left_out
    page.click("#block-week-3")
    expect(page.locator(".block-week li.left-out", has_text=name).first).to_be_visible()
    page.click("#block-open")
    page.wait_for_selector(".plan article.session")
    expect(page.locator(".plan article.session", has_text=name)).to_have_count(0)
    page.click("#undo")
    page.locator("#block-log").evaluate("node => { node.open = true; }")
    page.select_option("#log-week", "1")
    page.check(f"#log-cleared-{hurt}")
    page.click("#log-do")
    expect(page.locator("#log-cleared")).to_have_count(0)
    assert block_on(server, page).logs[0].cleared == (hurt,)
    # The week is corrected: what was missed was done after all.
    page.locator("#block-log").evaluate("node => { node.open = true; }")
    page.select_option("#log-week", "1")
    page.check(f"#log-{lower}-planned")
    page.click("#log-do")
    page.wait_for_selector("#block-report:has-text('was logged before')")
    assert not any(s.missed for s in block_on(server, page).logs[0].sessions)


def test_on_a_phone_every_field_of_a_log_is_in_sight(opened: Open) -> None:
    """390 px wide: what hurt is asked for right below the exercise, and nothing lies at the side."""
    page = planned(opened(link_of(quick())))
    page.set_viewport_size({"width": 390, "height": 844})
    page.click("#block-log summary")
    page.check("#log-1-otherwise")
    for name in ("pain", "sets", "reps", "load_kg", "reps_in_reserve"):
        box = page.locator(f"[id^=log-1-][id$=-{name}]").first.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 390, name
    pain, sets = (page.locator(f"[id^=log-1-][id$=-{name}]").first.bounding_box() for name in ("pain", "sets"))
    assert pain is not None
    assert sets is not None
    assert pain["y"] < sets["y"]


def test_a_log_that_is_typed_survives_a_reload(opened: Open) -> None:
    page = planned(opened(link_of(quick())))
    page.click("#block-log summary")
    page.check("#log-1-otherwise")
    pain = page.locator("[id^=log-1-][id$=-pain]").first
    pain.fill("left knee")
    page.check("#log-0-missed")
    page.reload()
    page.wait_for_selector("#block-log[open]")
    expect(page.locator("[id^=log-1-][id$=-pain]").first).to_have_value("left knee")
    expect(page.locator("[id^=log-1-][id$=-pain]").first).to_be_visible()
    expect(page.locator("#log-0-missed")).to_be_checked()
    page.click("#log-do")
    page.wait_for_selector("#block-report")
    expect(page.locator("#block-report")).to_contain_text("left knee")
    page.reload()
    page.wait_for_selector("table.side-by-side")
    assert page.locator("#block-log[open]").count() == 0, "what was sent is not typed any more"


def test_what_a_log_said_survives_a_reload_until_it_is_dismissed(opened: Open, server: Running) -> None:
    """The easy week that it suggests is still one button away."""
    page = planned(opened(link_of(quick())), weeks=3)
    page.click("#block-log summary")
    page.check("#log-1-otherwise")
    page.locator("[id^=log-1-][id$=-pain]").first.fill("left knee")
    page.click("#log-do")
    said = page.inner_text("#block-report")
    page.reload()
    expect(page.locator("#block-report")).to_have_text(re.compile("left knee"))
    assert page.inner_text("#block-report") == said
    page.click("#log-make-easy")
    page.wait_for_selector("#block-week-2[aria-label*=easy]")
    assert block_on(server, page).weeks[1].role.value == "easy"
    page.locator("#block-report button.quiet").click()
    page.reload()
    page.wait_for_selector("table.side-by-side")
    expect(page.locator("#block-report")).to_have_count(0)


def test_a_block_of_another_client_says_whose_it_is(opened: Open) -> None:
    page = planned(opened(link_of(quick())))
    expect(page.locator("#block-log")).to_have_count(1)
    address = page.url
    page.goto("about:blank")
    page.goto(address + link_of(quick(title="Her own", lifter={"name": "client 19", "status": "novice"}))[1:])
    page.wait_for_selector("table.side-by-side")
    expect(page.locator("#block-anothers")).to_contain_text("Two and one (client 17)")
    expect(page.locator("#block-log")).to_have_count(0)
    page.click("#block-back")
    expect(page.locator("#block-found")).to_be_focused()
    expect(page.locator(".brief-title")).to_have_text("Two and one")
    expect(page.locator("#block-anothers")).to_have_count(0)
    expect(page.locator("#block-log")).to_have_count(1)


def test_where_nobody_is_named_a_block_goes_by_its_title(opened: Open) -> None:
    page = planned(opened(link_of(quick(lifter={"status": "novice"}))))
    page.click("#block-week-2")
    page.click("#block-open")
    expect(page.locator(".brief-title")).to_contain_text("week 2")
    expect(page.locator("#block-log")).to_have_count(1)
    page.locator("#part-who").evaluate("node => { node.open = true; }")
    page.fill('[id="at/title"]', "Another's")
    page.reload()
    expect(page.locator("#block-anothers")).to_contain_text("Two and one")


def test_an_impossible_week_of_a_block_says_why(solved: Open, opened: Open) -> None:
    page = opened(link_of(two_evenings()))
    planned(page)
    expect(page.locator(".block-found .impossible")).to_contain_text("Week 1 cannot be")
    expect(page.locator(".block-found .conflict li").first).to_be_visible()


def test_a_way_out_is_taken_for_the_week_that_cannot_be(solved: Open, opened: Open) -> None:
    """The week before stays as it is asked, the mended one is told in the form, and can be taken back there."""
    page = opened(link_of(two_evenings()))
    page.fill("#block-weeks", "1")
    page.fill("#block-easy-weeks", "0")
    page.click("#block-plan")
    page.locator(".block-found .mends button").first.click()
    expect(page.locator("#block-found")).to_contain_text("each is proved best")
    expect(page.locator(".block-found .impossible")).to_have_count(0)
    expect(page.locator("#block-mended li")).to_contain_text("Week 1 gives way")
    for title, mended in (("Another client", 0), ("Two and one", 1)):  # of the brief that it was for, and of no other
        page.locator("#part-who").evaluate("node => { node.open = true; }")
        page.fill('[id="at/title"]', title)
        page.locator('[id="at/title"]').blur()
        page.reload()
        page.wait_for_selector("#block-plan")
        expect(page.locator("#block-mended")).to_have_count(mended)
    page.locator("#block-mended button").click()
    expect(page.locator("#block-mended")).to_have_count(0)
    page.click("#block-plan")
    expect(page.locator(".block-found .impossible")).to_be_visible()


def test_a_block_is_stopped_and_its_weeks_are_kept(opened: Open) -> None:
    page = opened(link_of(quick()))
    page.fill("#block-weeks", "26")
    page.click("#block-plan")
    page.wait_for_selector("#way:has-text('of 27')")
    expect(page.locator(".weeks-planned li[aria-current]")).to_be_visible()
    page.click("#stop")
    page.wait_for_selector("#block-found")
    expect(page.locator("#block-found")).to_contain_text("not every week")
    expect(page.locator("#stop")).to_be_hidden()


def test_by_keyboard_alone(opened: Open) -> None:
    page = opened(link_of(quick()))
    press = page.keyboard.press
    page.focus("#block-weeks")
    press("Control+a")
    page.keyboard.type("2")
    press("Enter")
    page.wait_for_selector("#block-found")
    page.wait_for_function("document.activeElement.id === 'block-found'")
    for _ in range(10):
        press("Tab")
        if page.evaluate("document.activeElement.id") == "block-week-1":
            break
    press("Enter")
    expect(page.locator("#block-week-title")).to_contain_text("Week 1")
    assert page.evaluate("document.activeElement.id") == "block-week-1"  # the focus stays where it was
    press("Enter")
    expect(page.locator("#block-week-title")).to_have_count(0)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1600])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(opened: Open, scheme: str, width: int) -> None:
    page = planned(opened(link_of(quick()), color_scheme=scheme, viewport={"width": width, "height": 800}), weeks=8)
    page.click("#block-week-2")
    for part in page.locator(".block-of-weeks details > summary").all():
        part.click()
    page.check("#log-0-otherwise")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(page) == []
    page.click("#log-do")
    page.wait_for_selector("#block-report")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_markup_in_names_is_text(opened: Open) -> None:
    brief = quick(title=HOSTILE)
    brief["kinds"]["upper"]["name"] = HOSTILE
    brief["places"]["mill_gym"]["name"] = HOSTILE
    page = planned(opened(link_of(brief)))
    page.click("#block-week-1")
    page.click("#block-log summary")
    assert page.locator("main img, main script").count() == 0
    assert HOSTILE in page.inner_text(".block-week")
    assert HOSTILE in page.inner_text("#block-log")
