"""Questions on a plan, or on a brief of their own; and their answers."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access import Caller, Reader, Served, Writer
from api.documents import JSON, MERGE_PATCH, YAML, Document, apart_from_brief, brief_in, model_of
from api.events import stream
from api.openapi import IDEMPOTENCY, LAST_EVENT, PREFER, answers, created, events, takes
from api.problems import Problem, unusable
from api.questions import OF_BRIEF, QUESTIONS, settled
from api.representations import ANSWERS, ID_PATTERN, PLANS, finished, json_answer
from api.resources import (
    AlternativesAnswer,
    AnswerHead,
    AnyAnswer,
    ReplanAnswer,
    TradeoffAnswer,
    WhatIfAnswer,
    WhyAnswer,
    WhyNotAnswer,
)
from api.routes.plans import STOP_SECONDS, Id
from api.routes.working import Effort, EffortAsked, begin, ended
from api.service import Service
from api.store import BLOCK, PLAN, Job, NewJob, State
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan
from scheduler.domain.units import Frozen

router = APIRouter(tags=["questions"])
AnswerId = Annotated[str, Path(pattern=ID_PATTERN, description="An answer's id.")]
_ANSWERS: dict[str, type[AnswerHead]] = {
    "why": WhyAnswer,
    "why-not": WhyNotAnswer,
    "what-if": WhatIfAnswer,
    "alternatives": AlternativesAnswer,
    "tradeoff": TradeoffAnswer,
    "replan": ReplanAnswer,
}
WHOLE_PATCH = "changes"
"""The name of the one variant where a what-if is a bare merge patch."""


def _add_question(kind: str, model: type[Frozen]) -> None:
    types = (JSON, YAML, MERGE_PATCH) if kind == "what-if" else (JSON, YAML)

    async def ask_of_plan(
        request: Request, plan_id: Id, caller: Writer, service: Served, effort: EffortAsked
    ) -> Response:
        def prepared(document: Document) -> NewJob:
            sent = document.data
            bare = document.media_type == MERGE_PATCH
            around = f"patches.{WHOLE_PATCH}" if bare else ""
            data = {"patches": {WHOLE_PATCH: sent}} if bare else sent
            question = model_of(model, data, document=sent, around=around)
            plan = _ended_plan(service, caller, plan_id)
            brief = Brief.model_validate(json.loads(plan.request)["brief"])
            return _job(kind, question, brief, sent, effort, plan=plan, around=around)

        return await begin(service, caller, request, types, prepared)

    operation = kind.replace("-", "_")
    text = f"{model.__doc__ or ''}\n\nThe answer is at `Location`; it is in the body where it is ready in time."
    router.add_api_route(
        f"{PLANS}/{{plan_id}}/{kind}",
        ask_of_plan,
        methods=["POST"],
        name=f"ask_{operation}_of_plan",
        description=text,
        status_code=201,
        openapi_extra=takes(model, *types, headers=[PREFER, IDEMPOTENCY], bare=MERGE_PATCH),
        responses=created(_ANSWERS[kind], not_ready=True),
    )
    if kind not in OF_BRIEF:
        return

    async def ask_of_brief(request: Request, caller: Writer, service: Served, effort: EffortAsked) -> Response:
        def prepared(document: Document) -> NewJob:
            question = model_of(model, apart_from_brief(document.data))
            brief = brief_in(document.data["brief"], document=document.data, inside="/brief")
            return _job(kind, question, brief, document.data, effort)

        return await begin(service, caller, request, (JSON, YAML), prepared)

    router.add_api_route(
        f"/v1/questions/{kind}",
        ask_of_brief,
        methods=["POST"],
        name=f"ask_{operation}_of_brief",
        description=text,
        status_code=201,
        openapi_extra=takes(OF_BRIEF[kind], JSON, YAML, headers=[PREFER, IDEMPOTENCY]),
        responses=created(_ANSWERS[kind]),
    )


def _job(
    kind: str, question: Frozen, brief: Brief, data: Any, effort: Effort, *, plan: Job | None = None, around: str = ""
) -> NewJob:
    """A question that can be asked, as work; ``around`` is the path to what was sent of it. Raises Problem."""

    def base() -> Plan:
        assert plan is not None
        return Plan.model_validate_json(finished(plan).answer or "")

    try:
        ready = settled(kind, question, brief, base)
    except InputError as error:
        raise unusable(error, data, around=around) from None
    asked = {"brief": brief.model_dump(mode="json"), "question": ready, "seconds": effort.seconds, "seed": effort.seed}
    return NewJob.of(kind, brief, json.dumps(asked), plan_id=plan.id if plan else None)


def _ended_plan(service: Service, caller: Caller, plan_id: str) -> Job:
    job = service.jobs.find(caller.tenant, plan_id)
    if job is None or job.kind != PLAN:
        raise Problem("not-found", "There is no such plan.")
    if not State(job.state).ended:
        raise Problem("not-ready", f"The plan is {job.state}.", headers={"Retry-After": "1"})
    if "brief" not in json.loads(job.request):
        raise Problem("no-answer", "This line of a batch held no brief that can be used.")
    return job


for _kind, _model in QUESTIONS.items():
    _add_question(_kind, _model)


@router.get(f"{ANSWERS}/{{answer_id}}", responses=answers(AnyAnswer, unmodified=True))
def get_answer(request: Request, answer_id: AnswerId, caller: Reader, service: Served) -> Response:
    """An answer: where it is on its way, and the answer itself once it is there."""
    return json_answer(request, _found(service.jobs.find(caller.tenant, answer_id)))


@router.get(f"{ANSWERS}/{{answer_id}}/events", responses=events(), openapi_extra={"parameters": [LAST_EVENT]})
async def follow_answer(request: Request, answer_id: AnswerId, caller: Reader, service: Served) -> Response:
    """The answer's way as server-sent events, like a plan's."""
    return stream(
        service, caller, request, _found(await run_in_threadpool(service.jobs.find, caller.tenant, answer_id))
    )


@router.delete(
    f"{ANSWERS}/{{answer_id}}",
    responses=answers(AnyAnswer) | created(AnyAnswer, only=202),
)
async def stop_answer(request: Request, answer_id: AnswerId, caller: Writer, service: Served) -> Response:
    """Stop looking for an answer. 200 with what there is; 202 where it takes a moment longer to end."""
    job = _found(await run_in_threadpool(service.jobs.ask_stop, caller.tenant, answer_id))
    service.changes.tell(job.id)
    job = _found(await ended(service, caller, job, STOP_SECONDS))
    return json_answer(request, job, status=200 if job.ended_at else 202)


def _found(job: Job | None) -> Job:
    if job is None or job.kind in (PLAN, BLOCK):
        raise Problem("not-found", "There is no such answer.")
    return job
