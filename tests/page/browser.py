"""A Chromium without a screen, a small brief, and links that hold a brief: for tests, screenshots, the benchmark."""

from __future__ import annotations

import base64
import json
import shutil
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from copy import deepcopy
from typing import Any

from playwright.sync_api import Browser, sync_playwright

BROWSERS = ("chromium", "chromium-browser", "google-chrome")

QUICK: dict[str, Any] = {
    "title": "Two and one",
    "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
    "lifter": {"name": "client 17", "status": "novice"},
    "places": {"mill_gym": {"name": "Mill Street gym", "base": "full_gym"}},
    "openings": [{"day": ["mon", "tue", "thu", "sat"], "start": "17:00", "end": "20:00", "place": "mill_gym"}],
    "kinds": {
        "upper": {"base": "upper", "per_week": 2, "minutes": {"least": 20, "most": 60},
                  "sets": {"least": 4, "most": 14},
                  "patterns": ["vertical_pull", "horizontal_pull", "horizontal_push"], "required": ["horizontal_push"]},
        "lower": {"base": "lower", "per_week": 1, "minutes": {"least": 20, "most": 60},
                  "sets": {"least": 4, "most": 14},
                  "patterns": ["squat", "hinge", "trunk_extension"], "required": ["squat"]},
    },
    "goals": {"lats": {"least": 4, "aim": 6, "most": 12}, "quads": {"least": 3, "aim": 4, "most": 12, "frequency": 1}},
    "exercises": {"only": ["lat_pulldown", "machine_row", "barbell_bench_press", "machine_chest_press", "leg_press",
                           "barbell_back_squat", "romanian_deadlift", "back_extension"]},
}  # fmt: skip


def quick(**changes: Any) -> dict[str, Any]:
    return deepcopy(QUICK) | changes


def two_evenings() -> dict[str, Any]:
    """Three sessions on two days: there is no such week."""
    return quick(openings=[{"day": ["mon", "tue"], "start": "17:00", "end": "18:30", "place": "mill_gym"}])


def a_lot() -> dict[str, Any]:
    """A week that keeps a solver busy for half a minute and more: the whole catalogue, twelve muscles, long days."""
    goals = ("lats", "pectorals", "side_delts", "rear_delts", "biceps", "triceps", "quads", "hamstrings", "glutes")
    days = ["mon", "tue", "wed", "thu", "fri", "sat"]
    found = quick(
        title="A lot at once",
        lifter={"name": "client 18", "status": "advanced"},
        openings=[{"day": days, "start": "06:00", "end": "22:00", "place": "mill_gym"}],
        kinds={"upper": {"base": "upper", "per_week": 3}, "lower": {"base": "lower", "per_week": 2}},
        goals={goal: {"least": 6, "aim": 11, "most": 18} for goal in (*goals, "calves", "trapezius_middle", "abs")},
    )
    del found["exercises"]
    return found


def link_of(brief: dict[str, Any]) -> str:
    """A link as the page makes it: the brief deflated (RFC 1951), in base64url (RFC 4648 section 5)."""
    deflate = zlib.compressobj(wbits=-15)
    raw = deflate.compress(json.dumps(brief).encode()) + deflate.flush()
    return "/#brief=" + base64.urlsafe_b64encode(raw).decode().rstrip("=")


@contextmanager
def chromium() -> Iterator[Browser]:
    path = next(filter(None, map(shutil.which, BROWSERS)))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()
