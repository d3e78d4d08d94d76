"""Server-sent events: how a plan or an answer comes along."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from api.access import Caller
from api.problems import Problem
from api.representations import head_of
from api.service import Service
from api.store import Job, State

EVENT_STREAM = "text/event-stream"
_LOOK_SECONDS = 0.5
_KEEP_ALIVE_LOOKS = 30
"""A comment line goes out after so many looks without news, so that proxies keep the connection."""


def stream(service: Service, caller: Caller, request: Request, job: Job) -> Response:
    """The events of a job from where the client left off (``Last-Event-ID``) to its end."""
    given = request.headers.get("last-event-id", "")
    seen = int(given) if given.isdecimal() and len(given) < 10 else 0
    if State(job.state).ended and seen >= job.revision:
        return Response(status_code=204)  # nothing will come: a browser stops asking
    if service.streams[caller.tenant] >= service.settings.most_streams:
        raise Problem(
            "too-many-requests", f"{service.settings.most_streams} streams are open.", headers={"Retry-After": "5"}
        )
    return StreamingResponse(
        _counted(service, caller, job.id, seen),
        media_type=EVENT_STREAM,
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )


async def _counted(service: Service, caller: Caller, job_id: str, seen: int) -> AsyncIterator[str]:
    service.streams[caller.tenant] += 1
    try:
        async for event in _events(service, caller, job_id, seen):
            yield event
    finally:
        service.streams[caller.tenant] -= 1


async def _events(service: Service, caller: Caller, job_id: str, seen: int) -> AsyncIterator[str]:
    quiet = 0
    yield "retry: 2000\n\n"
    while not service.changes.closing:
        found = await run_in_threadpool(service.jobs.revision, caller.tenant, job_id)
        if found is None:
            yield "event: erased\ndata: {}\n\n"
            return
        if found[0] > seen or found[1].ended:
            job = await run_in_threadpool(service.jobs.find, caller.tenant, job_id)
            if job is None:
                continue
            seen, quiet = job.revision, 0
            over = State(job.state).ended
            data = json.dumps(head_of(job) | {"status": job.status}, ensure_ascii=False)
            yield f"id: {seen}\nevent: {'end' if over else 'progress'}\ndata: {data}\n\n"
            if over:
                return
        quiet += 1
        if quiet % _KEEP_ALIVE_LOOKS == 0:
            yield ": still here\n\n"
        await service.changes.wait(job_id, _LOOK_SECONDS)
