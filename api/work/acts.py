"""What a job does, by its kind: the library's acts, from a request document to an answer document."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from api.store.models import LOG
from scheduler.domain.block import Block, BlockSettings, worst_status
from scheduler.domain.brief import Brief
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.variants import Demand, Vary
from scheduler.week.climb import TierProgress
from scheduler.week.solver import Cancel, Limits

BlockProgress = Callable[[int, int, str], None]
EXPLAIN_SECONDS = 10.0
"""What an impossible plan may spend at most on saying why."""


@dataclass(frozen=True)
class Asked:
    """A request as a worker gets it."""

    brief: Brief
    base: Plan | None
    """The plan that a question is about."""
    block: Block | None
    """The block that a log is about."""
    question: Mapping[str, Any]
    seconds: float
    seed: int
    cancel: Cancel
    progress: TierProgress
    weeks_done: BlockProgress

    def limits(self, solves: int = 1) -> Limits:
        """Limits of one solve where the time has to do for several."""
        return Limits(wall_seconds=max(0.1, self.seconds / solves), seed=self.seed)


@dataclass(frozen=True)
class Answer:
    document: str
    status: str | None = None
    explanation: str | None = None
    """Why a week is impossible: the plan's, or one of the block's."""
    new_plan: Plan | None = None
    new_block: Block | None = None


def plan(asked: Asked) -> Answer:
    from scheduler.answers.conflicts import explain
    from scheduler.planning import solve

    found = solve(asked.brief, limits=asked.limits(), cancel=asked.cancel, progress=asked.progress)
    reasons = None
    if found.status is PlanStatus.IMPOSSIBLE:
        seconds = min(EXPLAIN_SECONDS, asked.seconds)
        reasons = explain(asked.brief, budget_seconds=seconds, most_conflicts=1, cancel=asked.cancel)
    return Answer(
        found.model_dump_json(),
        status=found.status.value,
        explanation=None if reasons is None else reasons.model_dump_json(),
    )


def why(asked: Asked) -> Answer:
    from scheduler.answers.conflicts import explain, explain_short

    question = asked.question
    options: dict[str, Any] = {
        "budget_seconds": asked.seconds,
        "costs": question["costs"],
        "most_mends": question["mends"],
        "protected": question["keep"],
        "cancel": asked.cancel,
    }
    if question["wish"] is not None:
        return Answer(explain_short(asked.brief, question["wish"], **options).model_dump_json())
    return Answer(explain(asked.brief, most_conflicts=question["conflicts"], **options).model_dump_json())


def why_not(asked: Asked) -> Answer:
    from scheduler.answers.why_not import why_not as answer_of

    demand = Demand.model_validate(asked.question["demand"])
    found = answer_of(
        asked.brief,
        demand,
        base=asked.base,
        limits=asked.limits(3),
        explain_seconds=asked.seconds / 3,
        cancel=asked.cancel,
    )
    return Answer(found.model_dump_json())


def what_if(asked: Asked) -> Answer:
    from scheduler.answers.variants import what_if as answer_of

    patches = asked.question["patches"]
    limits = asked.limits(len(patches) + (asked.base is None))
    found = answer_of(
        asked.brief,
        patches,
        base=asked.base,
        limits=limits,
        explain_seconds=min(EXPLAIN_SECONDS, asked.seconds),
        cancel=asked.cancel,
    )
    return Answer(found.model_dump_json())


def alternatives(asked: Asked) -> Answer:
    from scheduler.answers.alternatives import Loss
    from scheduler.answers.alternatives import alternatives as answer_of

    question = asked.question
    by_tier = {int(tier): Loss(**loss) for tier, loss in question["losses"].items()}
    found = answer_of(
        asked.brief,
        count=question["count"],
        apart=question["apart"],
        loss=Loss(question["loss_percent"]),
        losses=by_tier,
        best=asked.base,
        limits=asked.limits(),
        cancel=asked.cancel,
    )
    return Answer(found.model_dump_json())


def tradeoff(asked: Asked) -> Answer:
    from scheduler.answers.tradeoff import sweep

    varied = [Vary.model_validate(vary) for vary in asked.question["vary"]]
    points = 1
    for vary in varied:
        points *= len(vary.values)
    return Answer(sweep(asked.brief, varied, limits=asked.limits(points), cancel=asked.cancel).model_dump_json())


def replan(asked: Asked) -> Answer:
    import datetime as dt

    from scheduler.answers.replan import replan as answer_of

    assert asked.base is not None
    question = asked.question
    found = answer_of(
        asked.base,
        done=question["done"],
        missed=question["missed"],
        now=None if question["now"] is None else dt.datetime.fromisoformat(question["now"]),
        changes=question["changes"],
        limits=asked.limits(),
        explain_seconds=min(EXPLAIN_SECONDS, asked.seconds),
        cancel=asked.cancel,
    )
    return Answer(found.model_dump_json(), new_plan=found.plan if found.plan.tiers else None)


def block(asked: Asked) -> Answer:
    from scheduler.blocks.build import plan_block

    found = plan_block(
        asked.brief,
        BlockSettings.model_validate(asked.question["block"]),
        limits=asked.limits(),
        seconds=asked.seconds,
        cancel=asked.cancel,
        progress=asked.weeks_done,
    )
    return Answer(
        found.model_dump_json(), status=worst_status(found.weeks).value, explanation=_why_it_ends(found, asked)
    )


def _why_it_ends(found: Block, asked: Asked) -> str | None:
    from scheduler.answers.conflicts import explain
    from scheduler.blocks.weeks import kept_from

    week = found.impossible
    if week is None:
        return None
    seconds = min(EXPLAIN_SECONDS, asked.seconds)
    reasons = explain(
        week.plan.brief,
        budget_seconds=seconds,
        most_conflicts=1,
        protected=kept_from(found, week),
        cancel=asked.cancel,
    )
    return reasons.model_dump_json()


def log(asked: Asked) -> Answer:
    from scheduler.blocks.log import log_week

    assert asked.block is not None
    question = asked.question
    found, report = log_week(
        asked.block,
        WeekLog.model_validate(question["log"]),
        easy=question["easy"],
        limits=asked.limits(),
        cancel=asked.cancel,
    )
    return Answer(report.model_dump_json(), explanation=_why_it_ends(found, asked), new_block=found)


ACTS: Mapping[str, Callable[[Asked], Answer]] = {
    "plan": plan,
    "why": why,
    "why-not": why_not,
    "what-if": what_if,
    "alternatives": alternatives,
    "tradeoff": tradeoff,
    "replan": replan,
    "block": block,
    "log": log,
}


def asked_of(
    kind: str,
    request: str,
    base: str | None,
    *,
    cancel: Cancel,
    progress: TierProgress,
    weeks_done: BlockProgress,
) -> Asked:
    """A request document, as it was stored, and the plan or the block that it is about."""
    data = json.loads(request)
    of_block = kind == LOG
    return Asked(
        brief=Brief.model_validate(data["brief"]),
        base=None if base is None or of_block else Plan.model_validate_json(base),
        block=Block.model_validate_json(base) if base is not None and of_block else None,
        question=data.get("question", {}),
        seconds=data["seconds"],
        seed=data.get("seed", 0),
        cancel=cancel,
        progress=progress,
        weeks_done=weeks_done,
    )
