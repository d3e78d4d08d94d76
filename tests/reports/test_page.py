"""The printable page: well-formed, self-contained, escaped."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest

from scheduler.domain.plan import Plan, PlanStatus
from scheduler.reports import render_html

VOID = {"meta", "rect", "path", "wbr"}


class Page(HTMLParser):
    """Reads a page and fails on any tag that is not closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert not self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self._open:
            self.text += data

    def count(self, tag: str, css_class: str = "") -> int:
        return sum(t == tag and css_class in ("", *(a.get("class") or "").split()) for t, a in self.tags)

    @property
    def flat(self) -> str:
        return " ".join(self.text.split())


def test_page_is_semantic_and_self_contained(plan: Plan) -> None:
    html = render_html(plan)
    page = Page(html)
    assert dict(page.tags)["html"] == {"lang": "en"}
    assert page.count("script") == page.count("link") == page.count("img") == 0
    assert not re.search(r"https?:|url\(|@import", html)
    assert page.count("h1") == 1
    assert all("scope" in attrs for tag, attrs in page.tags if tag == "th")
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert {a["aria-labelledby"] for _, a in page.tags if "aria-labelledby" in a} <= set(ids)


def test_a_breach_names_its_sessions(plan: Plan) -> None:
    spacing = plan.rules[1]
    finding = spacing.findings[0].model_copy(update={"breach": 84, "breach_text": "7 h short", "sessions": (0, 1)})
    broken = spacing.model_copy(update={"kept": False, "findings": (finding,)})
    text = Page(render_html(plan.model_copy(update={"rules": (broken,)}))).flat
    first, second = (f"{s.start:%a %H:%M} {s.name}" for s in plan.sessions[:2])
    assert f"7 h short: {first} and {second}" in text


def test_page_holds_all_of_the_plan(plan: Plan) -> None:
    text = Page(render_html(plan)).flat
    for session in plan.sessions:
        assert session.name in text
        for entry in session.entries:
            assert entry.name in text
    for row in plan.ledger:
        assert row.name.removesuffix(" (latissimus dorsi)") in text
    assert "latissimus" not in text
    for caution in plan.cautions:
        assert caution.text in text
    for finding in (f for rule in plan.rules for f in rule.findings if f.breach and not rule.measure):
        assert f"{finding.sentence} {finding.breach_text}" in text
    assert "Monday Back, vertical pull first 4 May, 18:00–19:10, Quarry Lane hall, 70 min" in text
    assert "119 h 30 min" in text
    assert "As few exercises" not in text, "a measure is never said to give way"
    assert "Kept as small as possible: Few exercises 118." in text
    assert "short 1" in text
    assert "Status: proved best. Weekwright 0.1.0, seed 1, brief 3fa9c1d73fa9" in text


def test_one_square_for_each_set(plan: Plan) -> None:
    sets = sum(entry.sets for session in plan.sessions for entry in session.entries)
    assert Page(render_html(plan)).count("span", "square") == sets
    done = plan.sessions[0].model_copy(update={"state": "done"})
    page = Page(render_html(plan.model_copy(update={"sessions": (done,)})))
    assert page.count("span", "ticked") == sum(entry.sets for entry in done.entries)


def test_timings_do_not_change_the_page(plan: Plan) -> None:
    later = plan.timings.model_copy(update={"solve_seconds": 99.0})
    assert render_html(plan) == render_html(plan.model_copy(update={"timings": later}))


def test_text_is_escaped(plan: Plan) -> None:
    bad = "<script>alert(1)</script>\"'&[bold]"
    session = plan.sessions[0]
    entry = session.entries[0].model_copy(update={"name": bad})
    row, note = plan.ledger[0].model_copy(update={"name": bad}), plan.cautions[0].model_copy(update={"text": bad})
    fields = {
        "title": bad,
        "sessions": (session.model_copy(update={"name": bad, "entries": (entry,)}),),
        "ledger": (row,),
    }
    html = render_html(plan.model_copy(update={**fields, "cautions": (note,), "notes": (bad,)}))
    page = Page(html)
    assert "<script" not in html
    assert page.text.count(bad) >= 7


@pytest.mark.parametrize(
    ("status", "words"),
    [(PlanStatus.IMPOSSIBLE, "Impossible: no week"), (PlanStatus.STOPPED, "Stopped before any week")],
)
def test_a_page_without_a_week_says_why_and_keeps_its_cautions(plan: Plan, status: PlanStatus, words: str) -> None:
    empty = {"sessions": (), "ledger": (), "rules": (), "tiers": (), "notes": (), "cautions": ()}
    text = Page(render_html(plan.model_copy(update={"status": status, **empty}))).flat
    assert words in text
    assert "not medical advice" in text
    assert "rest" not in re.findall(r"\w+", text), "an empty week is no week of rest"


def test_importing_the_reports_does_not_import_jinja2() -> None:
    code = "import sys, scheduler.reports; sys.exit('jinja2' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
