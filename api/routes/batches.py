"""Many briefs in one request: NDJSON in, NDJSON out as they end."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response, StreamingResponse

from api.access import Caller, Reader, Served, Writer
from api.documents import JSON, NDJSON, brief_in, parsed
from api.openapi import IDEMPOTENCY, answers, takes_text
from api.preferences import chosen_type
from api.problems import Problem
from api.representations import BATCHES, ID_PATTERN, document_of, listed_of, plan_head
from api.resources import Batch
from api.routes.working import Effort, EffortAsked, take_in
from api.service import Service
from api.store import PLAN, Job, NewJob, State

router = APIRouter(prefix=BATCHES, tags=["batches"])
BatchId = Annotated[str, Path(pattern=ID_PATTERN, description="A batch's id.")]
_LOOK_SECONDS = 0.3


@router.post(
    "",
    openapi_extra=takes_text(
        IDEMPOTENCY,
        application__x_ndjson={"contentMediaType": "application/x-ndjson", "description": "A brief in JSON a line."},
    ),
    responses=answers(None, NDJSON, reads_body=True, takes_work=True, location=True),
)
async def post_batch(request: Request, caller: Writer, service: Served, effort: EffortAsked) -> Response:
    """Ask for the plans of many briefs, one a line. Each plan comes as a line of its own as soon as it has ended.

    A line that holds no brief that can be used comes back at once as failed, with its problem. `line` says which it
    is. All is accepted or nothing. When the client hangs up the work goes on: `Location` names the batch.
    """
    most = service.settings.most_batch_lines

    def prepared(_media_type: str, raw: bytes) -> list[NewJob]:
        lines = [(number, line) for number, line in enumerate(raw.splitlines(), start=1) if line.strip()]
        if not 1 <= len(lines) <= most:
            raise Problem("bad-request", f"{len(lines)} lines came; 1 to {most} are taken.")
        return [_job(number, line, effort) for number, line in lines]

    accepted = await take_in(service, caller, request, (NDJSON,), prepared, batch=True)
    batch_id = accepted.jobs[0].batch_id or ""
    return _stream(service, caller, batch_id, {"Location": f"{BATCHES}/{batch_id}"})


def _job(number: int, line: bytes, effort: Effort) -> NewJob:
    try:
        brief = brief_in(parsed(line))
    except Problem as problem:
        return NewJob(PLAN, "", "{}", line=number, problem=json.dumps(problem.document()))
    asked = {"brief": brief.model_dump(mode="json"), "seconds": effort.seconds, "seed": effort.seed}
    return NewJob.of(PLAN, brief, json.dumps(asked), line=number)


@router.get("/{batch_id}", responses=answers(Batch, NDJSON))
async def get_batch(request: Request, batch_id: BatchId, caller: Reader, service: Served) -> Response:
    """How far a batch has come; as NDJSON: its plans, those that have ended first, the others as they end."""
    jobs = await _found(service, caller, batch_id)
    if chosen_type(request, [JSON, NDJSON]) == NDJSON:
        return _stream(service, caller, batch_id, {})
    return JSONResponse({"id": batch_id, "plans": [listed_of(job) for job in jobs]})


@router.delete("/{batch_id}", responses=answers(Batch))
async def stop_batch(batch_id: BatchId, caller: Writer, service: Served) -> Batch:
    """Stop all of a batch that has not ended. What runs may take a moment."""
    for job in await _found(service, caller, batch_id):
        if not State(job.state).ended:
            await run_in_threadpool(service.jobs.ask_stop, caller.tenant, job.id)
    jobs = await _found(service, caller, batch_id)
    return Batch(id=batch_id, plans=tuple(plan_head(job) for job in jobs))


async def _found(service: Service, caller: Caller, batch_id: str) -> list[Job]:
    jobs = await run_in_threadpool(service.jobs.batch, caller.tenant, batch_id)
    if not jobs:
        raise Problem("not-found", "There is no such batch.")
    return jobs


def _stream(service: Service, caller: Caller, batch_id: str, headers: dict[str, str]) -> StreamingResponse:
    every = headers | {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(_lines(service, caller, batch_id), media_type=NDJSON, headers=every)


async def _lines(service: Service, caller: Caller, batch_id: str) -> AsyncIterator[bytes]:
    sent: set[str] = set()
    while not service.changes.closing:
        states = await run_in_threadpool(service.jobs.batch_states, caller.tenant, batch_id)
        for job_id, state in states:
            if state.ended and job_id not in sent:
                sent.add(job_id)
                job = await run_in_threadpool(service.jobs.find, caller.tenant, job_id)
                if job is not None:
                    yield document_of(job).replace(b"\n", b" ") + b"\n"
        if all(job_id in sent for job_id, _ in states):
            return
        await service.changes.wait(batch_id, _LOOK_SECONDS)
