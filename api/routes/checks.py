"""Plans from elsewhere, refereed; plans held against published guidelines; calendars read; data erased."""

from __future__ import annotations

import datetime as dt
import json
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access import Eraser, Reader, Served, Writer
from api.documents import CALENDAR, JSON, YAML, brief_in, model_of, parsed, read_document, read_raw
from api.openapi import IDEMPOTENCY, answers, created, takes, takes_text
from api.problems import Problem, unusable
from api.representations import ID_PATTERN, PLANS, finished, json_answer, path_of
from api.resources import BusyTimes, Erased, Erasure, PlanResource
from api.routes.plans import Id
from api.routes.working import take_in
from api.store import PLAN, NewJob
from scheduler.answers.audit import ALL, audit
from scheduler.answers.variants import difference
from scheduler.briefs import HandPlan, plan_of
from scheduler.calendars import read_busy
from scheduler.domain.brief import WeekFrame
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan
from scheduler.domain.variants import Audit, Difference
from scheduler.planning import check

router = APIRouter(prefix="/v1")
HOLDS, BREAKS = "holds", "breaks a must"


@router.post(
    "/checks",
    tags=["plans"],
    status_code=201,
    openapi_extra=takes(HandPlan, JSON, YAML, headers=[IDEMPOTENCY]),
    responses=created(PlanResource),
)
async def check_plan(request: Request, caller: Writer, service: Served) -> Response:
    """Referee a plan, without a solver: one of this program's, or one written by hand with its brief.

    It is kept as a plan, whose `status` says whether it `holds` or `breaks a must`, so that questions can be asked of
    it and it can be exported.
    """

    def refereed(media_type: str, raw: bytes) -> list[NewJob]:
        whole = data = parsed(raw, media_type)
        given = data.get("brief")
        if "format" not in data and isinstance(given, dict):
            brief = brief_in(given, document=whole, inside="/brief")
            data = data | {"brief": brief.model_dump(mode="json")}
        try:
            brief, sessions = plan_of(data)
            report = check(brief, sessions)
        except InputError as error:
            raise unusable(error, whole) from None
        asked = json.dumps({"brief": brief.model_dump(mode="json"), "seconds": 0.0})
        status = HOLDS if report.holds else BREAKS
        return [NewJob.of(PLAN, brief, asked, answer=report.plan.model_dump_json(), status=status)]

    accepted = await take_in(service, caller, request, (JSON, YAML), refereed, work=False)
    job = accepted.jobs[0]
    return json_answer(request, job, status=201, headers={"Location": path_of(job)})


@router.get(f"{PLANS.removeprefix('/v1')}/{{plan_id}}/audit", tags=["plans"], responses=answers(Audit, not_ready=True))
def audit_plan(
    plan_id: Id,
    caller: Reader,
    service: Served,
    against: Annotated[list[str] | None, Query(description="Guidelines by name; left out: all.")] = None,
) -> Audit:
    """Hold a plan against published guidelines, each finding with its source."""
    job = service.jobs.find(caller.tenant, plan_id)
    if job is not None and job.kind != PLAN:
        job = None
    plan = Plan.model_validate_json(finished(job).answer or "")
    return audit(plan, against or [ALL])


@router.get(
    f"{PLANS.removeprefix('/v1')}/{{plan_id}}/difference", tags=["plans"], responses=answers(Difference, not_ready=True)
)
def compare_plan(
    plan_id: Id,
    caller: Reader,
    service: Served,
    base: Annotated[str, Query(pattern=ID_PATTERN, description="The plan that it is held against.")],
) -> Difference:
    """What is different in a plan against another: sessions, contents, ledger, rules, tiers."""
    found = [service.jobs.find(caller.tenant, each) for each in (base, plan_id)]
    before, after = (
        Plan.model_validate_json(finished(job if job and job.kind == PLAN else None).answer or "") for job in found
    )
    return difference(before, after)


@router.post(
    "/busy-times",
    tags=["plans"],
    openapi_extra=takes_text(text__calendar={"type": "string"}),
    responses=answers(BusyTimes, reads_body=True),
)
async def read_calendar(
    request: Request,
    _caller: Writer,
    service: Served,
    start: Annotated[dt.date, Query(description="The week's Monday.")],
    zone: Annotated[str, Query(max_length=100, description="The week's IANA time zone.")] = "UTC",
) -> BusyTimes:
    """The busy times of an iCalendar file in one week, to be put into a brief's `busy`. Nothing is kept."""
    _, raw = await read_raw(request, CALENDAR)

    def read() -> BusyTimes:
        week = model_of(WeekFrame, {"start": start.isoformat(), "zone": zone})
        return BusyTimes(busy=read_busy(raw, week, source="body"))

    return await service.in_turn(read)


@router.post(
    "/erasures", tags=["plans"], openapi_extra=takes(Erasure, JSON), responses=answers(Erased, reads_body=True)
)
async def erase(request: Request, caller: Eraser, service: Served) -> Erased:
    """Erase for good: one plan or block with its questions, all of a client, or everything of this tenant.

    Briefs, answers and idempotency keys go with it; what is running is stopped. Nothing can be brought back.
    """
    document = await read_document(request, JSON)
    wish = model_of(Erasure, document.data)
    if sum(part is not None for part in (wish.plan, wish.block, wish.client, wish.everything)) != 1:
        raise Problem("bad-request", "Name one of plan, block, client and everything.")
    job_id = wish.plan or wish.block
    erased = await run_in_threadpool(service.jobs.erase, caller.tenant, job_id=job_id, client=wish.client)
    return Erased(erased=erased)
