"""The ways of three people through the page: a coach with a calendar, a lifter who asks, a week that went wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from icalendar import Calendar
from playwright.sync_api import Page, expect

from tests.page.browser import link_of, quick, two_evenings

Open = Callable[..., Page]


def brief_of(page: Page) -> dict:
    return json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["brief"]


def plan_of(page: Page) -> dict:
    return json.loads(page.evaluate("localStorage.getItem('weekwright.page.1')"))["plan"]["plan"]


def days_of(page: Page) -> list[str]:
    return [session["start"][:10] for session in plan_of(page)["sessions"]]


def test_a_coach_with_a_calendar(opened: Open, calendar_file: Path, tmp_path: Path) -> None:
    page = opened(link_of(quick()))
    page.click("#part-when summary")
    page.set_input_files("#calendar-file", calendar_file)
    expect(page.locator("td.taken").first).to_be_attached()
    assert [busy["start"][:16] for busy in brief_of(page)["busy"]] == ["2026-12-01T16:00"]
    # Saturday's opening is rubbed out at the foot of the grid and painted on Friday.
    page.locator("#cell-5-34").scroll_into_view_if_needed()
    for row_from, row_to, day in ((34, 39, 5), (34, 39, 4)):
        page.hover(f"#cell-{day}-{row_from}")
        page.mouse.down()
        page.hover(f"#cell-{day}-{row_to}")
        page.mouse.up()
    openings = {(day, each["start"][:5], each["end"][:5]) for each in brief_of(page)["openings"] for day in each["day"]}
    assert openings == {(day, "17:00", "20:00") for day in ("mon", "tue", "thu", "fri")}
    page.click("#solve")
    page.wait_for_selector(".session")
    assert "2026-12-01" not in days_of(page)
    assert "2026-12-05" not in days_of(page)
    expect(page.locator(".cautions").first).to_contain_text("not medical advice")
    with page.expect_download() as ics:
        page.click("#take-ics")
    assert ics.value.suggested_filename == "Two-and-one-week.ics"
    ics.value.save_as(tmp_path / "week.ics")
    events = Calendar.from_ical((tmp_path / "week.ics").read_bytes()).walk("VEVENT")
    assert len(events) == len(plan_of(page)["sessions"]) == 3
    with page.expect_download() as table:
        page.click("#take-csv")
    assert table.value.suggested_filename == "Two-and-one-week.csv"
    table.value.save_as(tmp_path / "week.csv")
    assert "Mill Street gym" in (tmp_path / "week.csv").read_text(encoding="utf-8")


def test_a_swipe_over_the_openings_scrolls_and_a_held_finger_paints(opened: Open) -> None:
    page = opened(link_of(quick()), viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.click("#part-when > summary")
    page.locator("#cell-6-20").scroll_into_view_if_needed()
    device = page.context.new_cdp_session(page)

    def finger(cell: str, *, by: int, rest: int = 0) -> None:
        """A finger put down in the middle of a cell, left there for `rest` milliseconds, and moved down or up."""
        box = page.locator(cell).bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

        def touch(kind: str, *points: dict[str, float]) -> None:
            device.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

        touch("touchStart", {"x": x, "y": y})
        page.wait_for_timeout(rest)
        for step in range(1, 11):
            touch("touchMove", {"x": x, "y": y + by * step / 10})
            page.wait_for_timeout(16)
        touch("touchEnd")
        page.wait_for_timeout(300)

    def sunday() -> list[tuple[str, str]]:
        return [(each["start"][:5], each["end"][:5]) for each in brief_of(page)["openings"] if "sun" in each["day"]]

    top = page.evaluate("scrollY")
    finger("#cell-6-20", by=-200)
    assert sunday() == []
    assert page.evaluate("scrollY") > top + 100
    page.tap("#cell-6-20")
    assert sunday() == [("10:00", "10:30")]
    top = page.evaluate("scrollY")
    height = page.locator("#cell-6-20").bounding_box()
    assert height is not None
    assert height["height"] >= 16
    finger("#cell-6-24", by=round(3 * height["height"]), rest=500)
    assert sunday() == [("10:00", "10:30"), ("12:00", "14:00")]
    assert page.evaluate("scrollY") == top


def test_groups_count_where_hits_lie_close(solved: Open) -> None:
    """The back is hit sooner again than any muscle is, and nothing is asked of a group."""
    page = solved(
        quick(goals={"back": {"least": 4, "aim": 8, "frequency": 2}, "quads": {"least": 3, "aim": 4, "frequency": 1}})
    )
    ledger = {row["target"]: row for row in plan_of(page)["ledger"]}
    assert ledger["quads"]["hours_between_hits"] == []
    assert ledger["back"]["recovery_hours"] is None
    closest = min(ledger["back"]["hours_between_hits"])
    said = page.inner_text("#week-said")
    assert "two hits of Whole back" in said
    assert f"{int(closest)}\xa0h" in said
    assert "of a group nothing is asked" in said
    expect(page.locator(".row-name.muscle tspan").first).to_have_text("Whole back")
    page.click("#week-table > summary")
    expect(page.locator("#week-table tr", has_text="Whole back").locator("td").last).to_have_text("–")


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("../../etc: <Zoë's> week?", "etc-Zoë-s-week-brief.json"),
        ("Неделя 2", "Неделя-2-brief.json"),
        ("***", "brief.json"),
        ("x" * 200, "x" * 20 + "-brief.json"),
    ],
)
def test_a_file_is_named_by_its_title(opened: Open, title: str, name: str) -> None:
    page = opened(link_of(quick(title=title)))
    with page.expect_download() as taken:
        page.click("#take-brief")
    assert taken.value.suggested_filename == name


def test_a_lifter_asks_what_if(solved: Open) -> None:
    page = solved()
    # Ask by pointing at an empty spot of the week, on the row of the lower body.
    row = page.locator('g[data-row="lower"]').first
    before = days_of(page)
    assert row.locator("a").count() == 1
    frame = page.locator("svg.week").bounding_box()
    assert frame is not None
    mark = row.locator("a .mark").bounding_box()
    assert mark is not None
    page.mouse.click(frame["x"] + frame["width"] - 12, mark["y"] + mark["height"] / 2)  # Sunday night: no opening
    page.wait_for_selector("#answer .verdict")
    expect(page.locator("#answer")).to_contain_text("It cannot be.")
    expect(page.locator("#answer .conflict li").first).to_be_visible()
    page.click("#answer-dismiss")
    # Keep the week, change a goal, solve: the old week is a ghost, and the differences are listed.
    page.fill("#variant-name", "As it was")
    page.click("#variant-keep")
    page.click("#part-goals summary")
    page.fill('[id="at/goals/lats/aim"]', "10")
    expect(page.locator("#way")).to_contain_text("changed since")
    page.click("#solve")
    page.wait_for_selector(".changes")
    assert page.locator("svg.week .ghost").count() == len(before)
    lats = next(row for row in plan_of(page)["ledger"] if row["target"] == "lats")
    assert lats["counted"] >= 10
    expect(page.locator(".changes")).to_contain_text("Lats")
    # Two names side by side, and back again.
    page.fill("#variant-name", "More lats")
    page.click("#variant-keep")
    assert page.locator(".variants thead input").evaluate_all("all => all.map(each => each.value)") == [
        "As it was",
        "More lats",
    ]
    page.click("#variant-show-0")
    expect(page.locator('[id="at/goals/lats/aim"]')).to_have_value("6")
    page.click("#undo")
    expect(page.locator('[id="at/goals/lats/aim"]')).to_have_value("10")
    page.click("#redo")
    expect(page.locator('[id="at/goals/lats/aim"]')).to_have_value("6")


def test_the_rest_of_a_week_after_a_missed_day(solved: Open) -> None:
    page = solved()
    first, missed, _ = (session["start"] for session in plan_of(page)["sessions"])
    page.check("#replan-0-done")
    page.check("#replan-1-missed")
    page.click("#replan")
    page.wait_for_selector(".panel-answer .answer:has-text('The rest of the week') p:not(.waiting)")
    page.wait_for_selector("article.session.done")
    after = plan_of(page)
    assert [session["start"] for session in after["sessions"] if session["state"] == "done"] == [first]
    to_come = [session["start"] for session in after["sessions"] if session["state"] != "done"]
    assert len(to_come) == 2
    assert all(start > missed for start in to_come)
    assert brief_of(page)["done"][0]["start"][:16] == first[:16]


@pytest.mark.parametrize(
    ("now", "offered"),
    [
        ("2026-12-01T22:01:30Z", "2026-12-01T23:05"),  # the week's zone is Berlin, wherever the reader is
        ("2026-12-06T22:57:00Z", ""),  # rounded up the week is over
        ("2026-11-29T22:00:00Z", ""),
        ("2026-11-29T23:00:00Z", "2026-11-30T00:00"),
    ],
)
def test_it_is_now(solved: Open, now: str, offered: str) -> None:
    page = solved()
    page.clock.set_fixed_time(now)
    page.reload()
    expect(page.locator("#replan-now")).to_have_value(offered)


def test_a_missed_session_is_not_planned_into_the_past(solved: Open) -> None:
    """Monday's session was missed, and only Wednesday is left for it: of that evening the beginning is past."""
    evening = {"start": "17:00", "end": "20:30", "place": "mill_gym"}
    wednesday = evening | {"day": "wed", "preference": "reluctant"}
    page = solved(quick(openings=[evening | {"day": ["mon", "fri", "sun"]}, wednesday]))
    assert days_of(page) == ["2026-11-30", "2026-12-04", "2026-12-06"]
    page.clock.set_fixed_time("2026-12-02T18:02:00Z")  # 19:02 in Berlin; the page was open before
    page.check("#replan-0-missed")
    page.click("#replan")
    page.wait_for_selector(".panel-answer .answer:has-text('The rest of the week') p:not(.waiting)")
    first = plan_of(page)["sessions"][0]["start"]
    assert "2026-12-02T19:05" <= first < "2026-12-03"


@pytest.mark.parametrize(
    ("now", "monday"),
    [
        ("2026-11-30T11:59:00", "2026-11-30"),
        ("2026-11-30T12:00:00", "2026-12-07"),  # of Monday's evening little may be left
        ("2026-12-06T23:59:00", "2026-12-07"),
    ],
)
def test_an_empty_brief_begins_with_a_whole_week(opened: Open, now: str, monday: str) -> None:
    page = opened("/")
    page.clock.set_fixed_time(now)
    page.click("#start-empty")
    assert brief_of(page)["week"]["start"] == monday


def test_an_impossible_week_is_mended_by_a_button(opened: Open) -> None:
    page = opened(link_of(two_evenings()))
    page.click("#solve")
    page.wait_for_selector(".impossible .mends button")
    expect(page.locator(".impossible")).to_contain_text("cannot hold together")
    expect(page.locator(".impossible .cautions")).to_contain_text("not medical advice")
    page.locator(".mends button").first.click()
    page.wait_for_selector(".session")
    assert brief_of(page)["concessions"]
    # What the brief concedes is told from wishes that fall short.
    expect(page.locator(".verdict-line")).to_contain_text("as the brief concedes")
    conceded = next(iter(brief_of(page)["concessions"])).split(":")[0]
    expect(page.locator(f"#rule-{conceded} > summary .broken")).to_have_text("gives way")


def test_a_short_bar_and_a_rule_are_asked(solved: Open) -> None:
    page = solved(quick(goals={"lats": {"least": 10, "aim": 30, "most": 40}}))
    page.locator("tr.short button").first.click()
    page.wait_for_selector("#answer .verdict")
    expect(page.locator("#answer")).to_contain_text("Lats")
    page.click("#answer-dismiss")
    page.click("#rule-rest_days > summary")
    page.locator("#rule-rest_days").get_by_role("button", name="What does the rule Rest days cost me?").click()
    page.wait_for_selector("#answer .act")
    expect(page.locator("#answer")).to_contain_text("What if: without the rule Rest days")


def test_a_point_of_the_trade_off_is_taken(solved: Open) -> None:
    page = solved()
    page.select_option("#tradeoff-vary", "goals.lats.aim")
    page.click("#tradeoff-ask")
    page.wait_for_selector("svg.tradeoff .point")
    page.locator("svg.tradeoff .point").last.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".changes")
    assert brief_of(page)["goals"]["lats"]["aim"] == 10


def test_two_numbers_are_swept_against_each_other(solved: Open) -> None:
    page = solved()
    page.select_option("#tradeoff-vary", "goals.lats.aim")
    page.select_option("#tradeoff-second", "kinds.upper.minutes.most")
    page.click("#tradeoff-ask")
    page.wait_for_selector("svg.tradeoff .point")
    # Aims of 4 to 10 sets (2 would be below the least), each with 50, 60 and 70 minutes.
    assert page.locator("#tradeoff-table tbody tr").count() == 4 * 3
    assert page.locator("svg.tradeoff .curve").count() == 3
    point = page.locator("svg.tradeoff .point").last
    values = (point.get_attribute("aria-label") or "").removeprefix("With ").partition(":")[0]
    aim, minutes = map(int, values.split(", "))
    point.locator(".reach").click(force=True)
    page.wait_for_selector(".changes")
    assert brief_of(page)["goals"]["lats"]["aim"] == aim
    assert brief_of(page)["kinds"]["upper"]["minutes"]["most"] == minutes


def test_another_week_is_looked_for_and_taken(solved: Open) -> None:
    page = solved()
    best = plan_of(page)
    page.click("#others-ask")
    page.wait_for_selector("#answer .weeks li")
    assert page.locator("#answer .strip").count() == 1 + page.locator("#answer .weeks > li").count()
    page.click("#other-take-0")
    page.wait_for_selector(".changes")
    taken = plan_of(page)
    assert taken["brief"] == best["brief"]
    assert taken["sessions"] != best["sessions"]
    assert not any(rule["mode"] == "must" and not rule["kept"] for rule in taken["rules"])
    expect(page.locator(".proof .status")).to_contain_text("Checked")
    page.click("#changes-back")
    expect(page.locator(".proof .status")).to_contain_text("Proved best")
    assert plan_of(page)["sessions"] == best["sessions"]


def test_the_week_is_held_against_guidelines(solved: Open) -> None:
    """A novice's three sessions: ACSM 2009 (Ratamess et al.) names 2 to 3 days a week for novices."""
    page = solved()
    page.click("#audit-ask")
    page.click("#audit-acsm-2009 > summary")
    days = page.locator("#audit-acsm-2009 li", has_text="Novices train on 2 to 3 days a week")
    expect(days).to_contain_text("meets it")
    expect(days).to_contain_text("3 sessions")
    expect(days.locator("cite")).to_contain_text("Ratamess")
    assert page.locator("#audit-acsm-2009 li.outside, #audit-acsm-2009 li:not(.outside)").count() >= 4


def test_what_gives_way_names_its_sessions(solved: Open) -> None:
    """48 h as a wish where only neighbouring evenings are open: two sessions lie too close, and it is said which."""
    close = [{"day": ["mon", "tue", "wed"], "start": "17:00", "end": "18:30", "place": "mill_gym"}]
    off = {"mode": "off"}
    spacing = {"mode": "wish", "pairs": [{"from": "lower", "to": "upper", "hours": 48}]}
    page = solved(quick(openings=close, rules={"spacing": spacing, "rest_days": off, "recovery": off}))
    findings = [f for rule in plan_of(page)["rules"] if rule["rule"] == "spacing" for f in rule["findings"]]
    assert [len(found["sessions"]) for found in findings] in ([1], [2])
    item = page.locator(".proof li", has_text=findings[0]["breach_text"])
    for number in findings[0]["sessions"]:
        expect(item).to_contain_text(plan_of(page)["sessions"][number]["name"])
    expect(item).to_contain_text("day 17:")


def test_rules_equipment_and_kinds_are_edited(solved: Open) -> None:
    page = solved()
    page.click("#part-where summary")
    page.uncheck('[id="tick/places/mill_gym/barbell"]')
    assert brief_of(page)["places"]["mill_gym"]["lacks"] == ["barbell"]
    page.fill('[id="at/places/mill_gym/equipment/dumbbells/heaviest_kg"]', "22")
    assert brief_of(page)["places"]["mill_gym"]["equipment"] == {"dumbbells": {"heaviest_kg": 22}}
    page.click("#part-rules summary")
    page.click("#edit-rule-rest_days summary")
    page.check("#mode-rest_days-wish")
    page.fill('[id="at/rules/rest_days/least"]', "4")
    assert brief_of(page)["rules"] == {"rest_days": {"mode": "wish", "least": 4}}
    page.click("#part-kinds summary")
    page.fill('[id="at/kinds/upper/per_week/most"]', "3")
    assert brief_of(page)["kinds"]["upper"]["per_week"] == {"least": 2, "most": 3}
    page.click("#solve")
    page.wait_for_selector(".changes")
    exercises = {entry["exercise"] for session in plan_of(page)["sessions"] for entry in session["entries"]}
    assert not any("barbell" in exercise for exercise in exercises)


def test_an_exercise_is_found_by_its_name(solved: Open) -> None:
    """Nobody has to know how the catalogue spells it."""
    page = solved()
    page.click("#part-exercises summary")
    find = page.locator('[id="at/exercises/avoided/find"]')
    find.fill("barbell back squat")
    find.dispatch_event("change")
    find.fill("leg_press")
    find.dispatch_event("change")
    assert brief_of(page)["exercises"]["avoided"] == ["barbell_back_squat", "leg_press"]
    expect(page.locator('[id="at/exercises/avoided"]')).to_have_value("barbell_back_squat, leg_press")
    expect(find).to_have_value("")
    find.fill("no such thing")
    find.dispatch_event("change")
    assert len(brief_of(page)["exercises"]["avoided"]) == 2


@pytest.mark.parametrize("name", ["brief.json", "brief.yaml"])
def test_a_file_is_opened(opened: Open, tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    text = (
        json.dumps(quick(title="From a file")) if name.endswith("json") else yaml.safe_dump(quick(title="From a file"))
    )
    path.write_text(text, encoding="utf-8")
    page = opened("/")
    page.set_input_files("#file", path)
    expect(page.locator(".brief-title")).to_have_text("From a file")
    expect(page.locator("svg.week")).to_be_visible()
    assert brief_of(page)["goals"]["lats"]["aim"] == 6


@pytest.mark.parametrize("name", ["brief.json", "brief.yaml"])
def test_what_is_said_by_a_name_alone_stays(opened: Open, tmp_path: Path, name: str) -> None:
    """A goal with nothing but its muscle, equipment with nothing but its name: opened, solved, planned anew."""
    kit = ("barbell", "rack", "bench", "pulldown_machine", "seated_row_machine", "leg_press", "back_extension_bench")
    brief = quick(
        goals={"lats": {}, "quads": {}},
        places={"mill_gym": {"equipment": list(kit)}},
    )
    del brief["exercises"]
    path = tmp_path / name
    path.write_text(json.dumps(brief) if name.endswith("json") else yaml.safe_dump(brief), encoding="utf-8")
    page = opened("/")
    page.set_input_files("#file", path)
    page.click("#solve")
    page.wait_for_selector("article.session")
    assert {row["target"] for row in plan_of(page)["ledger"] if row["aim"]} == {"lats", "quads"}
    page.check("#replan-0-missed")
    page.click("#replan")
    page.wait_for_selector(".panel-answer .answer:has-text('The rest of the week') p:not(.waiting)")
    assert set(brief_of(page)["goals"]) == {"lats", "quads"}
    assert set(brief_of(page)["places"]["mill_gym"]["equipment"]) == set(kit)


def test_a_demo_brief_is_opened_and_solved(opened: Open) -> None:
    page = opened("/")
    page.click("[data-demo=upper_lower_four_days]")
    page.wait_for_selector(".session")
    expect(page.locator(".proof .status")).to_contain_text("Proved best")
    assert page.locator("article.session").count() == 4
    assert page.locator(".ledger tbody tr").count() >= 5
