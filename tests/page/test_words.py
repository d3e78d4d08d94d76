"""Every word of the page comes from its one file; what the server says is declared to be in the server's language.

The file is swapped for one in which every text stands in brackets, as software is tried out for translation before it
is translated. What then stands on the page without brackets is either a literal in a module or the server's word,
and that has to say so by ``lang`` (HTML, "the lang attribute"; WCAG 2.2, 3.1.2 language of parts).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from scheduler.domain.brief import Brief
from scheduler.rules import TIER_NAMES
from tests.page.browser import link_of, quick, two_evenings

Open = Callable[..., Page]
FOLDER = Path(__file__).parents[2] / "api" / "page"
WORDS: dict[str, Any] = json.loads((FOLDER / "text.en.json").read_text(encoding="utf-8"))
MODULES = sorted((FOLDER / "modules").glob("*.js"))
OURS, THEIRS = "⟦{}⟧", "§"
"""Around the page's words; before a person's own words."""

FOREIGN = """([ours, theirs]) => {
  const days = [...Array(7).keys()].flatMap((i) => ["long", "short"].map((weekday) =>
    new Intl.DateTimeFormat(undefined, {weekday, timeZone: "UTC"}).format(Date.UTC(2024, 0, 1 + i))));
  const months = [...Array(12).keys()].map((i) =>
    new Intl.DateTimeFormat(undefined, {month: "long", timeZone: "UTC"}).format(Date.UTC(2024, i, 1)));
  const dated = new RegExp([...days, ...months].join("|"), "g");
  const isOurs = (text) => text.includes(ours) || text.includes(theirs) || !/\\p{L}/u.test(text.replace(dated, ""));
  const found = [];
  const language = (node) => node.closest("[lang]")?.getAttribute("lang");
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const inside = node.parentElement;
    if (inside.closest("noscript, script, style, textarea")) continue;
    if (language(inside) !== "en" && !isOurs(node.data)) found.push(`${inside.tagName} ${node.data}`);
  }
  for (const node of document.body.querySelectorAll("*"))
    for (const name of ["aria-label", "title", "placeholder", "alt", "abbr", "label"])
      if (node.hasAttribute(name) && language(node) !== "en" && !isOurs(node.getAttribute(name)))
        found.push(`${node.tagName} ${name} ${node.getAttribute(name)}`);
  return found;
}"""


def bracketed(route: Route) -> None:
    def around(found: Any) -> Any:
        return {key: around(part) for key, part in found.items()} if isinstance(found, dict) else OURS.format(found)

    words = {key: found if key == "language" else around(found) for key, found in WORDS.items()}
    route.fulfill(json=words | {"language": "de"})


def marked(brief: dict[str, Any]) -> dict[str, Any]:
    """The brief with a sign before all that a person could have written."""
    brief |= {"title": f"{THEIRS} title", "story": f"{THEIRS} story"}
    brief["lifter"] |= {"name": f"{THEIRS} who"}
    for part in ("places", "kinds"):
        brief[part] = {f"{THEIRS}{key}": each | {"name": f"{THEIRS} {key}"} for key, each in brief[part].items()}
    for opening in brief["openings"]:
        opening["place"] = THEIRS + opening["place"]
    return brief


@pytest.fixture
def translated(opened: Open) -> Open:
    def open_page(brief: dict[str, Any] | None) -> Page:
        page = opened("/")
        page.route("**/page/text.en.json", bracketed)
        address = page.url + (link_of(marked(brief))[1:] if brief else "")
        page.goto("about:blank")
        page.goto(address)
        page.wait_for_selector("body.ready")
        return page

    return open_page


def foreign(page: Page) -> list[str]:
    return page.evaluate(FOREIGN, [OURS[0], THEIRS])


def test_the_first_screen(translated: Open) -> None:
    page = translated(None)
    page.wait_for_selector("[data-demo]")
    assert page.get_attribute("html", "lang") == "de"
    assert foreign(page) == []


def test_a_week_with_its_questions(translated: Open) -> None:
    page = translated(quick(goals={"lats": {"least": 10, "aim": 30, "most": 40}, "quads": {"least": 3, "aim": 4}}))
    page.wait_for_selector("#part-goals")
    assert foreign(page) == []
    page.click("#solve")
    page.wait_for_selector(".session")
    page.click("#variant-keep")
    page.click("#bar-lats")
    page.wait_for_selector("#answer .verdict")
    assert foreign(page) == []
    page.click("#others-ask")
    page.wait_for_selector("#answer .small")
    page.click("#audit-ask")
    page.wait_for_selector(".guideline", state="attached")
    page.click("#tradeoff-ask")
    page.wait_for_selector("svg.tradeoff .point")
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    page.wait_for_selector(".sources li")
    assert foreign(page) == []
    page.locator("article button").first.click()
    page.wait_for_selector("dialog.card")
    assert foreign(page) == []


def test_a_block_with_its_log(translated: Open) -> None:
    page = translated(quick())
    page.fill("#block-weeks", "2")
    page.click("#block-plan")
    page.wait_for_selector("#block-found")
    page.click("#block-week-1")
    page.evaluate("for (const each of document.querySelectorAll('.block-of-weeks details')) each.open = true")
    page.check("#log-0-missed")
    page.check("#log-1-otherwise")
    assert foreign(page) == []
    page.click("#log-do")
    page.wait_for_selector("#block-report")
    assert foreign(page) == []


def test_what_went_wrong(translated: Open, opened: Any) -> None:
    page = translated(two_evenings())
    page.click("#solve")
    page.wait_for_selector(".impossible .mends button")
    assert foreign(page) == []
    page.click("#part-goals > summary")
    page.fill('[id="at/goals/lats/least"]', "11")
    page.click("#solve")
    page.wait_for_selector(".trouble")
    opened.words.clear()  # the browser itself says that a request was refused
    expect(page.locator(".fault[id]")).to_have_attribute("lang", "en")
    assert foreign(page) == []


def test_dates_clocks_and_numbers_are_the_readers(solved: Open) -> None:
    """As the Unicode CLDR writes them: 12 hours in en-US, and comma for point in de-DE."""
    page = solved(locale="en-US", viewport={"width": 1600, "height": 900})
    assert re.search(r"5:00\sPM", page.inner_text("article.session >> nth=0"))
    page = solved(quick(goals={"lats": {"least": 4, "aim": 6}, "biceps": {"aim": 2}}), locale="de-DE")
    assert page.text_content("svg.week .day-name >> nth=0") in ("Montag", "Mo")
    assert re.search(r"17:\d\d", page.inner_text("article.session >> nth=0"))
    assert "," in page.inner_text(".ledger") or "." not in page.inner_text(".ledger table")


# --- the modules themselves ---

LITERAL = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`')
PROSE = re.compile(r"[A-Za-z]{2,} [A-Za-z]{2,}|^[A-Z][a-z]+$")
KEYS_OF_A_KEYBOARD = {"Enter", "Home", "End"}


def code_of(path: Path) -> str:
    text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S)
    return re.sub(r"(?m)(^|\s)//.*$", "", text)


def literals(code: str) -> Iterator[tuple[str, str]]:
    """Every text literal, with what stands before it."""
    for match in LITERAL.finditer(code):
        found = next(part for part in match.groups() if part is not None)
        yield re.sub(r"\$\{[^}]*\}", "", found), code[max(0, match.start() - 80) : match.start()]


def prose(code: str) -> list[str]:
    """Literals that read like words for a person: no name of a class, a key, or a text of the file."""
    return [
        found
        for found, before in literals(code)
        if PROSE.search(found)
        and not re.search(r"(class: [^,]*|item\()$", before)
        and found not in KEYS_OF_A_KEYBOARD
        and not any(key.endswith(f".{found}") for key in WORDS)
    ]


def test_the_search_for_prose_finds_it() -> None:
    assert prose('h("p", {}, "Nothing here yet")') == ["Nothing here yet"]
    assert prose('button("Save", act)') == ["Save"]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_no_module_holds_words_for_a_person(path: Path) -> None:
    assert prose(code_of(path)) == []


def test_the_steps_of_a_search_are_the_tiers() -> None:
    code = (FOLDER / "modules" / "search.js").read_text(encoding="utf-8")
    steps = re.search(r"STEPS = (\[.*?\])", code)
    assert steps is not None
    assert json.loads(steps[1]) == list(TIER_NAMES.values())


def test_every_text_is_there_and_every_one_is_used() -> None:
    code = "\n".join(map(code_of, MODULES))
    asked = set(re.findall(r'\bt\("([^"]+)"', code))
    assert sorted(asked - WORDS.keys()) == []
    stems = set(re.findall(r"`([a-z-]+(?:\.[a-z-]+)*\.)\$\{", code))
    groups = {f"{group}." for group in re.findall(r'word\("([a-z_-]+)"', code)} | {"field."}
    literal = {found for found, _ in literals(code)}
    enums = {key.partition(".")[0] + "." for key in WORDS if f"field.{key.partition('.')[0]}" in WORDS}
    used = asked | literal | {"language"}
    unused = [key for key in WORDS if key not in used and not key.startswith((*stems, *groups, *enums))]
    assert unused == []


def test_every_field_of_a_brief_has_its_word() -> None:
    schema = Brief.model_json_schema()
    parts = [schema, *schema["$defs"].values()]
    names = {name for part in parts for name in part.get("properties", ())}
    assert sorted(name for name in names if f"field.{name}" not in WORDS) == []
