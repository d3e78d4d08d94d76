"""Plans: asked for, read, followed, stopped."""

from __future__ import annotations

import json
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access import Reader, Served, Writer
from api.documents import JSON, YAML, Document, brief_in
from api.events import stream
from api.openapi import IDEMPOTENCY, LAST_EVENT, PREFER, answers, created, events, takes
from api.preferences import chosen_type
from api.problems import Problem
from api.representations import ID_PATTERN, PLANS, etag_of, finished, json_answer, next_page, plan_head, unchanged
from api.resources import PlanPage, PlanResource
from api.routes.exports import FORMS, exported
from api.routes.working import EffortAsked, begin, ended
from api.store import PLAN, Job, NewJob
from scheduler.domain.brief import Brief

router = APIRouter(prefix=PLANS, tags=["plans"])
STOP_SECONDS = 5.0
"""How long a DELETE waits for the solve to end."""
Id = Annotated[str, Path(pattern=ID_PATTERN, description="A plan's id.")]


@router.post(
    "",
    status_code=201,
    openapi_extra=takes(Brief, JSON, YAML, headers=[PREFER, IDEMPOTENCY]),
    responses=created(PlanResource),
)
async def post_plan(request: Request, caller: Writer, service: Served, effort: EffortAsked) -> Response:
    """Ask for the best week of a brief.

    201 with the plan where it is ready within `Prefer: wait=N` seconds, else 202: look at `Location` again, or follow
    its events. An impossible week is an answer like any other; its `explanation` says what clashes and what mends it.
    """

    def prepared(document: Document) -> NewJob:
        brief = brief_in(document.data)
        asked = {"brief": brief.model_dump(mode="json"), "seconds": effort.seconds, "seed": effort.seed}
        return NewJob.of(PLAN, brief, json.dumps(asked))

    return await begin(service, caller, request, (JSON, YAML), prepared)


@router.get("", responses=answers(PlanPage))
def list_plans(
    caller: Reader,
    service: Served,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    before: Annotated[str | None, Query(pattern=ID_PATTERN, description="Only plans older than this.")] = None,
    client: Annotated[str | None, Query(max_length=2000, description="Only of this client.")] = None,
) -> PlanPage:
    """The plans of this tenant, newest first."""
    number = None
    if before is not None:
        number = _found(service.jobs.find(caller.tenant, before)).number
    jobs = service.jobs.page(caller.tenant, limit=limit + 1, before=number, client=client)
    return PlanPage(plans=tuple(plan_head(job) for job in jobs[:limit]), next=next_page(PLANS, jobs, limit, client))


@router.get("/{plan_id}", responses=answers(PlanResource, *FORMS, unmodified=True, not_ready=True))
def get_plan(request: Request, plan_id: Id, caller: Reader, service: Served) -> Response:
    """A plan: where it is on its way, and the plan itself once it is there.

    `Accept` chooses the form: JSON, `text/calendar` (iCalendar), `text/html` (a page to print) or `text/csv`.
    """
    job = _found(service.jobs.find(caller.tenant, plan_id))
    form = chosen_type(request, [JSON, *FORMS])
    if form == JSON:
        return json_answer(request, job)
    etag = etag_of(finished(job), form.partition("/")[2])
    headers = {"ETag": etag, "Vary": "Accept", "Cache-Control": "private, no-cache"}
    if unchanged(request, etag):
        return Response(status_code=304, headers=headers)
    return exported(job, form, headers)


@router.get("/{plan_id}/events", responses=events(), openapi_extra={"parameters": [LAST_EVENT]})
async def follow_plan(request: Request, plan_id: Id, caller: Reader, service: Served) -> Response:
    """The plan's way as server-sent events: `progress` with the state as data, at last `end`.

    With `Last-Event-ID` only what is newer comes.
    """
    job = _found(await run_in_threadpool(service.jobs.find, caller.tenant, plan_id))
    return stream(service, caller, request, job)


@router.delete("/{plan_id}", responses=answers(PlanResource) | created(PlanResource, only=202))
async def stop_plan(request: Request, plan_id: Id, caller: Writer, service: Served) -> Response:
    """Stop the search. 200 with the best week so far; 202 where it takes a moment longer to end.

    Stopping what has ended changes nothing. To erase a plan for good, ask for an erasure.
    """
    job = _found(await run_in_threadpool(service.jobs.ask_stop, caller.tenant, plan_id))
    service.changes.tell(job.id)
    job = _found(await ended(service, caller, job, STOP_SECONDS))
    return json_answer(request, job, status=200 if job.ended_at else 202)


def _found(job: Job | None) -> Job:
    if job is None or job.kind != PLAN:
        raise Problem("not-found", "There is no such plan.")
    return job
