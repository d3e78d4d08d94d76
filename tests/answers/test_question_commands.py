"""The commands that ask about a week, run as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from scheduler.cli import main

BRIEF = """
title: A small week
week: {start: 2026-03-02}
places: {gym: {base: full_gym}}
openings: [{day: [mon, tue, thu], start: "18:00", end: "19:00", place: gym}]
kinds:
  pull: {base: pull, patterns: [horizontal_pull, vertical_pull], required: [], sets: {least: 2, most: 8},
    minutes: {least: 0, most: 60}, per_week: 2}
sessions: 2
goals: {lats: {least: 2, aim: 6, most: 14}}
exercises: {only: [machine_row, lat_pulldown, chin_up]}
rules: {stand_in: {mode: off}, coverage: {mode: off}}
"""


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture
def brief(tmp_path: Path) -> Path:
    path = tmp_path / "brief.yaml"
    path.write_text(BRIEF)
    return path


@pytest.fixture
def plan(brief: Path, tmp_path: Path) -> Path:
    path = tmp_path / "plan.json"
    assert run("plan", brief, "-o", path).exit_code == 0
    return path


def first_day(plan: Path) -> str:
    return str(json.loads(plan.read_text())["sessions"][0]["start"])[:10]


def test_replan_with_nothing_to_change(plan: Path) -> None:
    result = run("replan", plan)
    assert result.exit_code == 0, result.output
    assert "Nothing needs to change." in result.output
    assert "General information, not medical advice" in result.output


def test_replan_says_what_moves_and_why(plan: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.json"
    result = run("replan", plan, "--missed", "mon", "--now", "2026-03-03T12:00", "-o", out)
    assert result.exit_code == 0, result.output
    assert "because: It was missed." in result.output
    # The new plan can be asked again.
    assert "Nothing needs to change." in run("replan", out, "--now", "2026-03-03T12:00").output


def test_replan_as_json_with_changes(plan: Path) -> None:
    change = "busy+={title: dentist, start: 2026-03-05T08:00, end: 2026-03-05T23:00}"
    result = run("replan", plan, "--set", change, "--set", "goals.lats.aim=8", "--json")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    assert answer["plan"]["brief"]["goals"]["lats"]["aim"] == 8
    assert answer["plan"]["brief"]["busy"][0]["title"] == "dentist"


def test_what_if_shows_variants_side_by_side(brief: Path, plan: Path, tmp_path: Path) -> None:
    patch = tmp_path / "longer.yaml"
    patch.write_text("variants:\n  one: {sessions: {least: 1, most: 3}}\n  two: {goals: {lats: {aim: 8}}}\n")
    result = run("what-if", plan, patch, "--set", "more: goals.lats.aim=10", "--set", "more: sessions.most=3")
    assert result.exit_code == 0, result.output
    for word in ("as it is", "one", "two", "more", "cost of wishes", "Lats"):
        assert word in result.output
    answer = json.loads(run("what-if", brief, "--set", "goals.lats.aim=8", "--json").stdout)
    assert [v["name"] for v in answer["variants"]] == ["changes"]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["what-if", "{brief}"], "no change is given"),
        (["what-if", "{brief}", "--set", "goals.lats.aim"], "sets nothing"),
        (["what-if", "{brief}", "--set", "goals.latz.aim=3"], "unknown muscle"),
        (["what-if", "{brief}", "--set", "goals+=3"], "no list"),
        (["what-if", "{brief}", "nowhere.yaml"], "cannot be read"),
        (["replan", "{brief}"], "no plan that the program wrote"),
        (["replan", "{plan}", "--now", "noon"], "no moment"),
        (["replan", "{plan}", "--done", "sun"], "names no session"),
    ],
)
def test_bad_input_is_said(args: list[str], words: str, brief: Path, plan: Path) -> None:
    result = run(*(a.format(brief=brief, plan=plan) for a in args))
    assert result.exit_code == 2, result.output
    assert words in result.stderr
    assert "Traceback" not in result.output


def test_why_not_costs_or_is_impossible(brief: Path, plan: Path) -> None:
    result = run("why-not", plan, "pull", "on", "tue", "at", "18:15")
    assert result.exit_code == 0, result.output
    assert "You ask for: Pull on Tuesday at 18:15." in result.output
    assert "What it costs" in result.output
    result = run("why-not", brief, '{"kind": "pull", "day": "sun"}')
    assert result.exit_code == 3, result.output
    assert "Impossible." in result.output
    answer = json.loads(run("why-not", plan, "pull on sun", "--json").stdout)
    assert answer["verified"]
    assert run("why-not", plan, "pull on someday").exit_code == 2


def test_alternatives_show_what_they_trade(brief: Path, plan: Path) -> None:
    result = run("alternatives", brief, "-k", "2", "--apart", "1", "--loss", "50", "--loss", "3=20", "--loss", "1=4")
    assert result.exit_code == 0, result.output
    for words in ("The best week", "Alternative 1", "What it trades", "General information"):
        assert words in result.output
    answer = json.loads(run("alternatives", plan, "-k", "1", "--json").stdout)
    assert answer["apart"] == 2
    for loss in ("much", "99=3", "-1", "x=3", "inf"):
        assert run("alternatives", plan, "--loss", loss).exit_code == 2
    for loss in ("6=10%", "8=1", "0=1"):
        refused = run("alternatives", plan, "--loss", loss)
        assert refused.exit_code == 2
        assert "tiers 1 to 5; later ones compare like weeks only" in refused.output


def test_a_question_file_is_asked_as_a_brief_is() -> None:
    """It holds its brief, or names one beside it."""
    folder = Path(__file__).resolve().parents[2] / "scenarios" / "questions"
    result = run("why-not", folder / "price_of_sunday.yaml", "lower on sun")
    assert result.exit_code == 0, result.output
    assert "Possible, at a cost." in result.output
    assert run("why", folder / "three_ways_out.yaml", "--mends", "0").exit_code == 3
