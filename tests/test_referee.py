"""What the referee says of a plan that was handed in, beyond whether it holds."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from scheduler.briefs import read_brief
from scheduler.domain.plan import Finding, Plan
from scheduler.planning import check, solve

BACK_FIRST = Path(__file__).resolve().parents[1] / "scenarios" / "back_first.yaml"


@pytest.fixture(scope="module")
def best() -> Plan:
    return solve(read_brief(BACK_FIRST))


def broken(plan: Plan) -> dict[str, Finding]:
    return {f.switch: f for rule in plan.rules for f in rule.findings if f.breach and not rule.measure}


def test_a_breach_names_the_pair_of_sessions_that_it_is_of(best: Plan) -> None:
    """A session is moved to the night after another: the pair lies too close, and the one leaves its opening."""
    legs = next(n for n, session in enumerate(best.sessions) if session.kind == "legs")
    back = next(n for n, s in enumerate(best.sessions) if n > legs and s.kind == "back_large")
    start = best.sessions[legs].start + dt.timedelta(hours=28)
    moved = best.sessions[back].model_copy(
        update={"start": start, "end": start + (best.sessions[back].end - best.sessions[back].start)}
    )
    sessions = [moved if n == back else session for n, session in enumerate(best.sessions)]
    found = broken(check(best.brief, sessions).plan)
    too_close = [f for f in found.values() if f.rule == "spacing"]
    assert [f.sessions for f in too_close] == [(legs, back)]
    outside = [f for f in found.values() if f.rule in ("opening", "busy")]
    assert outside
    assert all(f.sessions == (back,) for f in outside)


def test_what_the_whole_week_lacks_or_has_too_much_of_is_of_no_session(best: Plan) -> None:
    fewer = [s for s in best.sessions if s.kind != "legs"]
    found = broken(check(best.brief, fewer).plan)
    missing = [f for f in found.values() if f.rule in ("session_count", "weekly_sets")]
    assert missing
    assert not any(f.sessions for f in missing)

    much = [
        s.model_copy(update={"entries": tuple(e.model_copy(update={"sets": 9}) for e in s.entries)})
        for s in best.sessions
    ]
    of_lats = broken(check(best.brief, much).plan)["weekly_sets:most:lats"]
    trained = next(row for row in check(best.brief, much).plan.ledger if row.target == "lats").sets_by_session
    assert sum(map(bool, trained)) > 2, "three sessions or more make it"
    assert not of_lats.sessions
