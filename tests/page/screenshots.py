"""Pictures of the page for people to look at: ``python -m tests.page.screenshots -o DIR``.

Every state that has a design of its own, at four widths, light and dark, from a server of its own.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

from tests.api.running import running
from tests.page.browser import a_lot, chromium, link_of

SIZES = {"phone": (360, 740), "tablet": (768, 1024), "laptop": (1280, 800), "desk": (1600, 1000)}
SCHEMES = ("light", "dark")


def demo(name: str, *, ends: str = ".session") -> Callable[[Page], None]:
    def open_demo(page: Page) -> None:
        page.click(f"[data-demo={name}]")
        page.wait_for_selector(ends, timeout=120_000)
        page.wait_for_selector("#part-goals")

    return open_demo


def asked(page: Page) -> None:
    """Why not here, answered."""
    demo("back_first")(page)
    page.select_option("#demand-kind", "push")
    page.select_option("#demand-day", "tue")
    page.fill("#demand-start", "18:00")
    page.click("#demand-ask")
    page.wait_for_selector("#answer .verdict", timeout=120_000)


def changed(page: Page) -> None:
    """The old plan as a ghost under the new one."""
    asked(page)
    page.click("#answer .act")
    page.wait_for_selector(".changes", timeout=120_000)
    page.evaluate("window.scrollTo(0, 0)")


def edited(page: Page) -> None:
    demo("back_first")(page)
    page.click("#part-when summary")
    page.locator(".paint").scroll_into_view_if_needed()


def solving(page: Page) -> None:
    address = page.url.rstrip("/") + link_of(a_lot())
    page.goto("about:blank")
    page.goto(address)
    page.wait_for_selector("#part-goals")
    page.click("#solve")
    page.wait_for_selector("#way:has-text('Step')")


def asked_by_keys(page: Page) -> None:
    """The focus stands in the hours of the week."""
    demo("back_first")(page)
    page.focus("#week-spot")
    for key in ("PageDown", "ArrowRight", "ArrowDown", "ArrowDown"):
        page.keyboard.press(key)


def unsolved(page: Page) -> None:
    page.click("#start-empty")
    page.wait_for_selector("#part-goals")


def faulty(page: Page) -> None:
    """What was typed cannot be; the server says where and what to try."""
    demo("back_first")(page)
    page.click("#part-goals summary")
    page.fill('[id="at/goals/lats/least"]', "30")
    page.click("#solve")
    page.wait_for_selector(".trouble")
    page.evaluate("window.scrollTo(0, 0)")


def offline(page: Page) -> None:
    demo("back_first")(page)
    page.context.set_offline(True)
    page.click("#solve")
    page.wait_for_selector(".trouble")


def compared(page: Page) -> None:
    """Weeks kept side by side, other weeks, two numbers swept, guidelines."""
    demo("back_first")(page)
    page.click("#variant-keep")
    page.click("#part-goals summary")
    page.fill('[id="at/goals/biceps/aim"]', "16")
    page.click("#solve")
    page.wait_for_selector(".changes", timeout=120_000)
    page.click("#variant-keep")
    page.click("#audit-ask")
    page.wait_for_selector(".guideline", state="attached")
    page.select_option("#tradeoff-vary", "goals.lats.aim")
    page.select_option("#tradeoff-second", "kinds.back_large.minutes.most")
    page.click("#tradeoff-ask")
    page.wait_for_selector("svg.tradeoff", timeout=300_000)
    page.click("#others-ask")
    page.wait_for_selector("#answer .weeks", timeout=120_000)
    page.evaluate("window.scrollTo(0, 0)")


def card(page: Page) -> None:
    demo("back_first")(page)
    page.locator("article button").first.click()
    page.wait_for_selector("dialog.card")


def block(page: Page) -> None:
    """Eight weeks and an easy one, the last that builds opened."""
    demo("back_first")(page)
    page.click("#block-plan")
    page.wait_for_selector("#block-found", timeout=240_000)
    page.click("#block-week-8")
    page.locator("#block-title").scroll_into_view_if_needed()


STATES: dict[str, Callable[[Page], None]] = {
    "start": lambda page: page.wait_for_selector("[data-demo]") and None,
    "solving": solving,
    "week": demo("back_first"),
    "ring": demo("repeating_week"),
    "tight": demo("over_tight"),
    "impossible": demo("impossible", ends=".impossible .mends"),
    "asked": asked,
    "changed": changed,
    "openings": edited,
    "block": block,
    "unsolved": unsolved,
    "keys": asked_by_keys,
    "faulty": faulty,
    "offline": offline,
    "compared": compared,
    "card": card,
}

README = ("week", "impossible")
"""The states whose first screen the README shows."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("-o", "--out", type=Path, required=True, help="folder for the pictures")
    parser.add_argument("--only", nargs="*", default=list(STATES), choices=list(STATES))
    parser.add_argument("--sizes", nargs="*", default=list(SIZES), choices=list(SIZES))
    parser.add_argument("--first-screen", action="store_true", help="only what is seen without scrolling")
    parser.add_argument("--readme", action="store_true", help="only the pictures that the README shows")
    wish = parser.parse_args()
    wish.out.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        running(f"sqlite:///{folder}/store.sqlite3") as server,
        chromium() as browser,
    ):
        if wish.readme:
            for state in README:
                page = browser.new_page(viewport={"width": 1200, "height": 720}, locale="en-GB", color_scheme="light")
                page.goto(server.url)
                STATES[state](page)
                page.screenshot(path=wish.out / f"{state}.png")
                page.close()
            return
        for state in wish.only:
            for size in wish.sizes:
                width, height = SIZES[size]
                context = browser.new_context(viewport={"width": width, "height": height}, locale="en-GB")
                page = context.new_page()
                page.goto(server.url)
                STATES[state](page)
                for scheme in SCHEMES:
                    page.emulate_media(color_scheme=scheme)
                    path = wish.out / f"{state}-{size}-{scheme}.png"
                    page.screenshot(path=path, full_page=not wish.first_screen)
                    print(path)
                if state == "week" and size == "desk":
                    page.pdf(path=wish.out / "week.pdf", prefer_css_page_size=True)
                if page.locator("#stop").is_visible():
                    page.click("#stop")  # else the next picture waits for the one worker
                    page.wait_for_selector("#stop", state="hidden")
                context.close()


if __name__ == "__main__":
    main()
