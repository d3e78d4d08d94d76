"""Tiny blocks of two weeks whose every joint placement can be looked at: what week by week loses.

The content of a session is settled (one exercise, four sets), so a week is the days of its sessions, and a block every
pair of such weeks that keeps the musts. The joint optimum is the pair whose wishes cost least together.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from scheduler import referee
from scheduler.answers.replan import record_of
from scheduler.blocks.build import plan_block
from scheduler.briefs import brief_of
from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlannedSession
from scheduler.instance import Instance
from scheduler.planning import instance_of

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
SETTINGS = BlockSettings(weeks=2, easy_weeks=0, path=(100, 100), reps_in_reserve=(2, 2))


@dataclass(frozen=True)
class Loss:
    """Cost of the wishes of both weeks; None where there is no block."""

    joint: int | None
    week_by_week: int | None


def tiny(seed: int) -> Brief:
    """Two pulls and one or two leg sessions on five days, some of which are busy in one week or the other."""
    rng = random.Random(seed)
    days = sorted(rng.sample(range(7), 5))
    busy = []
    for week in (0, 1):
        for day in rng.sample(days, rng.choice((0, 1, 1, 2))):
            start = dt.datetime(2026, 11, 30) + dt.timedelta(days=7 * week + day)
            busy.append(
                {"title": "busy", "start": start.isoformat(), "end": (start + dt.timedelta(days=1)).isoformat()}
            )
    data: dict[str, Any] = {
        "week": {"start": "2026-11-30"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": [DAYS[d] for d in days], "start": "18:00", "end": "18:20", "place": "gym"}],
        "busy": busy,
        "kinds": {
            "pull": _kind(["vertical_pull"], 2),
            "legs": _kind(["squat"], rng.choice((1, 2))) | {"lower_body": True},
        },
        "goals": {
            "lats": {"least": 4, "aim": 8, "most": 12, "recovery_hours": rng.choice((23, 40, 47))},
            "quads": {"least": 4, "aim": 8, "most": 12, "frequency": {"least": 1, "most": 2}},
        },
        "prescription": {"sets_per_exercise": 4},
        "exercises": {"only": ["lat_pulldown", "leg_press"]},
        "rules": {
            "rest_days": {"mode": "must"},
            "spacing": {"mode": "wish", "pairs": [{"from": "pull", "to": "legs", "hours": rng.choice((40, 47))}]},
            **{rule: {"mode": "off"} for rule in ("stand_in", "rep_mix", "variety", "ramp")},
        },
    }
    data["sessions"] = 2 + data["kinds"]["legs"]["per_week"]
    return brief_of(data)


def _kind(patterns: list[str], per_week: int) -> dict[str, Any]:
    sizes = {"sets": {"least": 4, "most": 4}, "minutes": {"least": 5, "most": 60}}
    return {"patterns": patterns, "required": patterns, "per_week": per_week, **sizes}


def loss(brief: Brief) -> Loss | None:
    """What the joint optimum and week by week come to; None where not even a first week is there to take from."""
    block = plan_block(brief, SETTINGS)
    if not block.weeks[0].plan.tiers:
        return None
    costs = [cost(week.plan.sessions, instance_of(week.plan.brief)) for week in block.weeks]
    whole = all(w.plan.tiers for w in block.weeks) and None not in costs
    return Loss(joint(block), sum(c for c in costs if c is not None) if whole else None)


def joint(block: Block) -> int | None:
    """The least cost of the wishes over all pairs of weeks."""
    first = block.weeks[0].plan
    # Days that were shut to a kind on the way are open here.
    free = first.brief.model_copy(update={"kinds": block.brief.kinds, "previous": ()})
    settled = instance_of(free)
    days = [day.number for day in block.brief.openings[0].day]
    best: int | None = None
    for one in placements(first.sessions, 0, days):
        before = cost(one, settled)
        if before is None or (best is not None and before >= best):
            continue
        update = {
            "week": first.brief.week.model_copy(update={"start": first.brief.week.start + dt.timedelta(days=7)}),
            "busy": block.brief.busy,
            "history": tuple(record_of(s) for s in one),
        }
        second = instance_of(free.model_copy(update=update))
        for other in placements(first.sessions, 7, days):
            after = cost(other, second)
            if after is not None and (best is None or before + after < best):
                best = before + after
    return best


def cost(sessions: Sequence[PlannedSession], instance: Instance) -> int | None:
    """What the wishes of one week cost; None where a must is broken."""
    found = referee.review(referee.facts_of(instance, sessions))
    return None if found.broken_musts else found.tiers[1]


def placements(
    sessions: Sequence[PlannedSession], days_later: int, days: Sequence[int]
) -> Iterator[list[PlannedSession]]:
    """Every way to lay the sessions on the days of a week; sessions of one kind are alike."""
    kinds = sorted({s.kind for s in sessions})
    one = {kind: next(s for s in sessions if s.kind == kind) for kind in kinds}
    counts = [sum(s.kind == kind for s in sessions) for kind in kinds]

    def lay(left: Sequence[int], rest: Sequence[int]) -> Iterator[list[tuple[int, int]]]:
        if not left:
            yield []
            return
        for taken in combinations(rest, left[0]):
            for more in lay(left[1:], [d for d in rest if d not in taken]):
                yield [(len(counts) - len(left), d) for d in taken] + more

    for laid in lay(counts, days):
        found = []
        for kind, day in laid:
            session = one[kinds[kind]]
            by = dt.timedelta(days=day + days_later - session.start.weekday())
            found.append(session.model_copy(update={"start": session.start + by, "end": session.end + by}))
        yield sorted(found, key=lambda s: s.start)
