"""The page in a real Chromium, without a screen. Where there is no browser these tests fail: they do not skip."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.api.running import Running, running
from tests.page.browser import BROWSERS, QUICK, chromium, link_of


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    assert any(map(shutil.which, BROWSERS)), "the page is tested in Chromium: apt-get install chromium"
    with chromium() as found:
        yield found


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(f"sqlite:///{tmp_path_factory.mktemp('page')}/store.sqlite3") as found:
        yield found


@pytest.fixture
def opened(browser: Browser, server: Running) -> Iterator[Callable[..., Page]]:
    """Opens the page in a browser of its own; at the end nothing may have been said on the console.

    A breach of the Content-Security-Policy is such a word, as is an error that nobody caught.
    """
    contexts, words = [], []

    def open_page(url: str = "/", *, on: str | None = None, **options: Any) -> Page:
        context = browser.new_context(**({"viewport": {"width": 1280, "height": 900}, "locale": "en-GB"} | options))
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.on("console", lambda message: words.append(message.text) if message.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: words.append(str(error)))
        page.goto((on or server.url) + url)
        page.wait_for_selector("body.ready")
        return page

    open_page.words = words  # type: ignore[attr-defined]
    yield open_page
    for context in contexts:
        context.close()
    assert not words, words


@pytest.fixture
def solved(opened: Callable[..., Page]) -> Callable[..., Page]:
    """The page with a small week, solved."""

    def open_solved(brief: dict[str, Any] | None = None, **options: Any) -> Page:
        page = opened(link_of(brief or QUICK), **options)
        page.click("#solve")
        page.wait_for_selector(".session")
        page.wait_for_selector("#part-goals")
        return page

    return open_solved


@pytest.fixture
def calendar_file(tmp_path: Path) -> Path:
    """A calendar as RFC 5545 writes one: a meeting every week on Tuesday evening."""
    path = tmp_path / "work.ics"
    lines = (
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//invented//EN",
        "BEGIN:VEVENT",
        "UID:meeting-1@example.org",
        "DTSTAMP:20261101T080000Z",
        "DTSTART;TZID=Europe/Berlin:20261103T160000",
        "DTEND;TZID=Europe/Berlin:20261103T210000",
        "RRULE:FREQ=WEEKLY",
        "SUMMARY:Choir",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    )
    path.write_bytes("\r\n".join(lines).encode())
    return path
