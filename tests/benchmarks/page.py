"""From a change to the new plan on screen, in a real Chromium: ``python -m tests.benchmarks.page``.

The back-focused brief is solved once; then an aim is changed and the week is solved, over and over, each time with
another aim so that nothing is known already. What is measured is the time from the key that starts the solve to the
frame in which the new plan stands on the page. Beside it stands the solver's own part, as the plan tells it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile

from playwright.sync_api import Page

from tests.api.running import running
from tests.page.browser import chromium

_AIMS = (14, 13, 12, 16, 11, 17, 10, 18)
_SOLVE = """
() => new Promise((resolve) => {
  const began = performance.now();
  const place = document.querySelector('.panel-plan');
  new MutationObserver((_, observer) => {
    if (!document.getElementById('stop').hidden) return;
    observer.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => resolve(performance.now() - began)));
  }).observe(place, {childList: true});
  document.getElementById('solve').click();
})
"""
_TIMINGS = "JSON.parse(localStorage.getItem('weekwright.page.1')).plan.plan.timings"


def measured(page: Page, runs: int) -> tuple[list[float], list[float]]:
    """Milliseconds on the page, and those of building, solving and refereeing."""
    page.click("[data-demo=back_first]")
    page.wait_for_selector(".session", timeout=120_000)
    page.click("#part-goals summary")
    whole, solver = [], []
    for run in range(runs):
        page.fill('[id="at/goals/lats/aim"]', str(_AIMS[run % len(_AIMS)]))
        page.wait_for_load_state("networkidle")  # the differences to the plan before are drawn by then
        whole.append(page.evaluate(_SOLVE))
        timings = page.evaluate(_TIMINGS)
        solver.append(1000 * sum(timings[f"{part}_seconds"] for part in ("build", "solve", "referee")))
    return whole, solver


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=8)
    asked = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        running(f"sqlite:///{folder}/store.sqlite3") as server,
        chromium() as browser,
    ):
        page = browser.new_page()
        page.goto(server.url)
        whole, solver = measured(page, asked.runs)
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f}; milliseconds, median (least to most) of {asked.runs}")
    for name, found in (("change to plan on screen", whole), ("of that, the solver", solver)):
        print(f"{name:26} {statistics.median(found):7.0f} ({min(found):.0f} to {max(found):.0f})")
    rest = [a - b for a, b in zip(whole, solver, strict=True)]
    print(f"{'of that, all else':26} {statistics.median(rest):7.0f} ({min(rest):.0f} to {max(rest):.0f})")


if __name__ == "__main__":
    main()
