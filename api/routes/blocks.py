"""Blocks of weeks: asked for, read, followed, stopped; and logs, from which the next week is planned."""

from __future__ import annotations

import json
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access import Reader, Served, Writer
from api.documents import JSON, YAML, Document, apart_from_brief, brief_in, model_of
from api.events import stream
from api.openapi import IDEMPOTENCY, LAST_EVENT, PREFER, answers, created, events, takes
from api.preferences import chosen_type
from api.problems import Problem, unusable
from api.questions import BlockOfBrief, BlockQuestion, LogQuestion
from api.representations import BLOCKS, ID_PATTERN, block_head, etag_of, finished, json_answer, next_page, unchanged
from api.resources import BlockPage, BlockResource, LogAnswer
from api.routes.exports import BLOCK_FORMS, exported_block
from api.routes.plans import STOP_SECONDS
from api.routes.working import EffortAsked, LongEffortAsked, begin, ended
from api.store import BLOCK, LOG, Job, NewJob
from scheduler.blocks.build import check_settings
from scheduler.blocks.log import check_log
from scheduler.domain.block import Block
from scheduler.domain.errors import InputError

router = APIRouter(prefix=BLOCKS, tags=["blocks"])
BlockId = Annotated[str, Path(pattern=ID_PATTERN, description="A block's id.")]


@router.post(
    "",
    status_code=201,
    openapi_extra=takes(BlockOfBrief, JSON, YAML, headers=[PREFER, IDEMPOTENCY]),
    responses=created(BlockResource),
)
async def post_block(request: Request, caller: Writer, service: Served, effort: LongEffortAsked) -> Response:
    """Ask for a block: weeks that build and easy ones, each planned from the one before.

    `brief` is what is asked of a week; its busy times may lie anywhere in the block. `block` says how its weeks hang
    together; `patches` in it are changes for some weeks. `seconds` are for the whole block. A week that is impossible
    after those before it ends the block; `explanation` says why.
    """

    def prepared(document: Document) -> NewJob:
        data = document.data
        question = model_of(BlockQuestion, apart_from_brief(data))
        settings = question.block
        brief = brief_in(data["brief"], document=data, inside="/brief", weeks=settings.weeks + settings.easy_weeks)
        try:
            check_settings(brief, settings)
        except InputError as error:
            raise unusable(error, data) from None
        asked = {
            "brief": brief.model_dump(mode="json"),
            "question": {"block": settings.model_dump(mode="json")},
            "seconds": effort.seconds,
            "seed": effort.seed,
        }
        return NewJob.of(BLOCK, brief, json.dumps(asked))

    return await begin(service, caller, request, (JSON, YAML), prepared)


@router.get("", responses=answers(BlockPage))
def list_blocks(
    caller: Reader,
    service: Served,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    before: Annotated[str | None, Query(pattern=ID_PATTERN, description="Only blocks older than this.")] = None,
    client: Annotated[str | None, Query(max_length=2000, description="Only of this client.")] = None,
) -> BlockPage:
    """The blocks of this tenant, newest first."""
    number = None if before is None else _found(service.jobs.find(caller.tenant, before)).number
    jobs = service.jobs.page(caller.tenant, BLOCK, limit=limit + 1, before=number, client=client)
    return BlockPage(blocks=tuple(block_head(job) for job in jobs[:limit]), next=next_page(BLOCKS, jobs, limit, client))


@router.get("/{block_id}", responses=answers(BlockResource, *BLOCK_FORMS, unmodified=True, not_ready=True))
def get_block(request: Request, block_id: BlockId, caller: Reader, service: Served) -> Response:
    """A block: where it is on its way, and the block itself once it is there.

    `Accept` chooses the form: JSON, `text/calendar` (every session), `text/html` (a sheet to print), `text/csv` (a row
    a muscle and week) or, where the server can draw, `image/svg+xml`.
    """
    job = _found(service.jobs.find(caller.tenant, block_id))
    form = chosen_type(request, [JSON, *BLOCK_FORMS])
    if form == JSON:
        return json_answer(request, job)
    etag = etag_of(finished(job, "block"), form.partition("/")[2])
    headers = {"ETag": etag, "Vary": "Accept", "Cache-Control": "private, no-cache"}
    if unchanged(request, etag):
        return Response(status_code=304, headers=headers)
    return exported_block(job, form, headers)


@router.get("/{block_id}/events", responses=events(), openapi_extra={"parameters": [LAST_EVENT]})
async def follow_block(request: Request, block_id: BlockId, caller: Reader, service: Served) -> Response:
    """The block's way as server-sent events: `progress` after each week, at last `end`."""
    job = _found(await run_in_threadpool(service.jobs.find, caller.tenant, block_id))
    return stream(service, caller, request, job)


@router.delete("/{block_id}", responses=answers(BlockResource) | created(BlockResource, only=202))
async def stop_block(request: Request, block_id: BlockId, caller: Writer, service: Served) -> Response:
    """Stop planning a block. 200 with the weeks so far; 202 where it takes a moment longer to end."""
    job = _found(await run_in_threadpool(service.jobs.ask_stop, caller.tenant, block_id))
    service.changes.tell(job.id)
    job = _found(await ended(service, caller, job, STOP_SECONDS))
    return json_answer(request, job, status=200 if job.ended_at else 202)


@router.post(
    "/{block_id}/logs",
    status_code=201,
    openapi_extra=takes(LogQuestion, JSON, YAML, headers=[PREFER, IDEMPOTENCY]),
    responses=created(LogAnswer, not_ready=True),
)
async def log_week(
    request: Request, block_id: BlockId, caller: Writer, service: Served, effort: EffortAsked
) -> Response:
    """Log what was done in a week of the block, and plan the next week from it.

    The answer compares what was done with the plan. The block with the log and the next week is another one, at the
    link `new_block`; this one stays as it is.
    """

    def prepared(document: Document) -> NewJob:
        question = model_of(LogQuestion, document.data)
        block = Block.model_validate_json(
            finished(_found(service.jobs.find(caller.tenant, block_id)), "block").answer or ""
        )
        try:
            check_log(block, question.log)
        except InputError as error:
            raise unusable(error, document.data, inside="/log") from None
        asked = {
            "brief": block.brief.model_dump(mode="json"),
            "question": question.model_dump(mode="json"),
            "seconds": effort.seconds,
            "seed": effort.seed,
        }
        return NewJob.of(LOG, block.brief, json.dumps(asked), plan_id=block_id)

    return await begin(service, caller, request, (JSON, YAML), prepared)


def _found(job: Job | None) -> Job:
    if job is None or job.kind != BLOCK:
        raise Problem("not-found", "There is no such block.")
    return job
