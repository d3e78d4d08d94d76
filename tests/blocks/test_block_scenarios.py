"""Blocks in scenarios/blocks with what they must show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from scheduler.blocks.build import plan_block
from scheduler.blocks.log import log_week
from scheduler.briefs import read_block
from scheduler.domain.block import Block, WeekRole
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import Entry, PlanStatus
from scheduler.loads import one_rep_max

FOLDER = Path(__file__).parents[2] / "scenarios" / "blocks"
FILES = sorted(FOLDER.glob("*.yaml"))
REQUIRED = {"weeks", "proved", "easy", "keeps"}
KNOWN = REQUIRED | {
    "distinct_exercises_least",
    "main_in_every_week",
    "sessions",
    "same_days",
    "places",
    "log",
    "distinct",
    "says",
}


def test_there_are_some() -> None:
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_what_a_block_must_show(path: Path) -> None:
    data: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))
    expect = data["expect"]
    assert REQUIRED <= set(expect) <= KNOWN
    brief, settings = read_block(path)
    found = plan_block(brief, settings)
    assert len(found.weeks) == expect["weeks"]
    assert all(w.plan.status is PlanStatus.OPTIMAL for w in found.weeks) == expect["proved"]
    assert [w.number for w in found.weeks if w.role is WeekRole.EASY] == expect["easy"]
    kept = {f.key: f.kept for f in found.findings}
    assert [key for key in expect["keeps"] if not kept[key]] == []
    assert found.holds
    assert found.distinct_exercises >= expect.get("distinct_exercises_least", 0)
    for week in found.weeks:
        held = {e.exercise for s in week.plan.sessions for e in s.entries}
        assert set(expect.get("main_in_every_week", ())) <= held, week.number
        assert {s.place for s in week.plan.sessions} == set(
            expect.get("places", {}).get(str(week.number), {s.place for s in week.plan.sessions})
        )
    for muscle, number in expect.get("distinct", {}).items():
        row = next(r for r in found.rows if r.target == muscle)
        assert row.distinct_asked == number
        assert len(row.exercises) >= number
    for key, words in expect.get("says", {}).items():
        finding = next(f for f in found.findings if f.key == key)
        assert not finding.kept
        assert words in "; ".join(finding.found)
    if "sessions" in expect:
        assert [len(w.plan.sessions) for w in found.weeks] == expect["sessions"]
    days = [
        [(s.kind, s.start.weekday()) for s in found.weeks[n - 1].plan.sessions] for n in expect.get("same_days", ())
    ]
    assert all(one == days[0] for one in days)
    if "log" in data:
        _check_log(found, data["log"], expect["log"])


def _check_log(found: Block, log: dict[str, Any], expect: dict[str, Any]) -> None:
    after, report = log_week(found, WeekLog.model_validate(log))
    assert [s.kind for s in report.sessions if s.done is None] == expect["missed"]
    assert [text.partition(":")[0].partition(" (")[0] for text in report.behind] == expect["behind"]
    assert after.holds
    before, now = ({e.exercise for s in b.weeks[1].plan.sessions for e in s.entries} for b in (found, after))
    assert set(expect.get("left_out", ())) <= before - now
    for exercise in expect["heavier"]:
        # At whatever reps: where weeks tie the exercise may have changed its zone.
        old, new = (
            next(_maximum(e) for s in b.weeks[1].plan.sessions for e in s.entries if e.exercise == exercise)
            for b in (found, after)
        )
        assert new > old


def _maximum(entry: Entry) -> float:
    assert entry.load_kg is not None
    return one_rep_max(entry.load_kg, entry.reps + entry.reps_in_reserve)
