"""What every route that begins work has in common: accepted, waited for, answered 201 or 202."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access import Caller, Served
from api.documents import Document, parsed, read_raw
from api.preferences import repeat_of, wait_seconds
from api.problems import Problem, unfit_parameter
from api.representations import json_answer, path_of
from api.service import Service
from api.store import Accepted, Full, Job, KeyUsedOtherwise, NewJob, State


@dataclass(frozen=True)
class Effort:
    """How hard to search."""

    seconds: float
    seed: int


async def effort_of(
    service: Served,
    seconds: Annotated[float | None, Query(gt=0, description="Seconds to search at most.")] = None,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1, description="Seed of the solver.")] = 0,
) -> Effort:
    """What the query asks for. Raises Problem where that is more than the server gives."""
    most = service.settings.most_solve_seconds
    if seconds is not None and seconds > most:
        raise unfit_parameter("query seconds", f"{seconds:g} is more than {most:g}", f"Ask for {most:g} or less.")
    return Effort(seconds or service.settings.solve_seconds, seed)


async def long_effort_of(
    service: Served,
    seconds: Annotated[float | None, Query(gt=0, description="Seconds for all weeks together.")] = None,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1, description="Seed of the solver.")] = 0,
) -> Effort:
    """The same for many weeks in one: as long as may be, where nothing is said. Raises Problem."""
    return await effort_of(service, seconds or service.settings.most_solve_seconds, seed)


EffortAsked = Annotated[Effort, Depends(effort_of)]
LongEffortAsked = Annotated[Effort, Depends(long_effort_of)]
_LOOK_SECONDS = 1.0
"""A job may be run by another server, whose end only the store tells."""


Prepare = Callable[[str, bytes], Sequence[NewJob]]
"""From media type and body to what is to be taken in; raises Problem."""


async def take_in(
    service: Service,
    caller: Caller,
    request: Request,
    types: Sequence[str],
    prepare: Prepare,
    *,
    batch: bool = False,
    work: bool = True,
) -> Accepted:
    """Read a request and take in what it asks for, all or none; a repeated one gets what it began. Raises Problem.

    Args:
        types: media types that are read.
        work: it needs a worker; else it has its answer already.
    """
    media_type, raw = await read_raw(request, *types)
    repeat = repeat_of(request, raw)

    def read_and_accept() -> Accepted:
        new = prepare(media_type, raw)
        return service.jobs.accept(caller.tenant, new, service.room, repeat=repeat, batch=batch)

    try:
        # First what costs little: a body that cannot be taken in anyway is not even parsed.
        known = await run_in_threadpool(service.jobs.look_ahead, caller.tenant, service.room, repeat, work=work)
        accepted = known if known is not None else await service.in_turn(read_and_accept)
    except KeyUsedOtherwise:
        raise Problem("key-used-otherwise", "A key stands for one request: its address and body.") from None
    except Full as full:
        if full.stored:
            raise Problem("too-much-stored", f"{full.waiting} plans and answers are stored.") from None
        seconds = max(1, math.ceil(full.waiting / service.settings.workers))
        raise Problem(
            "queue-full", f"{full.waiting} are waiting.", headers={"Retry-After": str(min(60, seconds))}
        ) from None
    service.dispatcher.wake()
    return accepted


async def begin(
    service: Service, caller: Caller, request: Request, types: Sequence[str], prepare: Callable[[Document], NewJob]
) -> Response:
    """Accept one piece of work and answer: 201 if it ends while the client would wait, else 202. Raises Problem."""
    accepted = await take_in(
        service, caller, request, types, lambda kind, raw: [prepare(Document(kind, parsed(raw, kind)))]
    )
    job = accepted.jobs[0]
    headers = {"Location": path_of(job)}
    if accepted.repeated:
        headers["Idempotent-Replayed"] = "true"
    wait = wait_seconds(request, service.settings.most_wait_seconds)
    if wait is not None:
        headers["Preference-Applied"] = f"wait={wait:g}"
        job = await ended(service, caller, job, wait) or job
    return json_answer(request, job, status=201 if State(job.state).ended else 202, headers=headers)


async def ended(service: Service, caller: Caller, job: Job, seconds: float) -> Job | None:
    """The job once it has ended, or as it is after so many seconds; None where it has been erased meanwhile."""
    deadline = time.monotonic() + seconds
    while True:
        seen = await run_in_threadpool(service.jobs.revision, caller.tenant, job.id)
        left = deadline - time.monotonic()
        if seen is None or seen[1].ended or left <= 0 or service.changes.closing:
            return await run_in_threadpool(service.jobs.find, caller.tenant, job.id)
        await service.changes.wait(job.id, min(left, _LOOK_SECONDS))
