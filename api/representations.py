"""Stored rows as the answers that clients get. Stored documents go out as they are, without being read again."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import Response

from api.problems import Problem
from api.resources import BlockHead, PlanHead
from api.store import BLOCK, LOG, PLAN, Job, State

PLANS, BLOCKS, ANSWERS, BATCHES = "/v1/plans", "/v1/blocks", "/v1/answers", "/v1/batches"
ID_PATTERN = "^[0-9a-f]{32}$"
_ROOTS = {PLAN: PLANS, BLOCK: BLOCKS}


def path_of(job: Job) -> str:
    return f"{_ROOTS.get(job.kind, ANSWERS)}/{job.id}"


def _instant(moment: dt.datetime) -> str:
    """A moment in UTC by RFC 3339, ending in Z as the models write it, so that lists and resources agree."""
    return moment.isoformat().replace("+00:00", "Z")


def head_of(job: Job) -> dict[str, Any]:
    """The fields that plans and answers share, as JSON data."""
    path = path_of(job)
    links = {"self": path, "events": f"{path}/events"}
    if job.plan_id is not None:
        about = BLOCK if job.kind == LOG else PLAN
        links[about] = f"{_ROOTS[about]}/{job.plan_id}"
    if job.batch_id is not None:
        links["batch"] = f"{BATCHES}/{job.batch_id}"
    return {
        "id": job.id,
        "state": job.state,
        "client": job.client,
        "created_at": _instant(job.created_at),
        "started_at": job.started_at and _instant(job.started_at),
        "ended_at": job.ended_at and _instant(job.ended_at),
        "progress": job.progress and json.loads(job.progress),
        "line": job.line,
        "links": links,
    }


def listed_of(job: Job) -> dict[str, Any]:
    """The fields of a plan or a block in a list, as JSON data."""
    return head_of(job) | {"status": job.status, "title": job.title, "week": job.week and job.week.isoformat()}


def next_page(path: str, jobs: Sequence[Job], limit: int, client: str | None) -> str | None:
    """Where the older ones are, where there are more than were asked for."""
    if len(jobs) <= limit:
        return None
    query = {"limit": limit, "before": jobs[limit - 1].id} | ({} if client is None else {"client": client})
    return f"{path}?{urlencode(query, quote_via=quote)}"


def plan_head(job: Job) -> PlanHead:
    return PlanHead.model_validate(listed_of(job))


def block_head(job: Job) -> BlockHead:
    return BlockHead.model_validate(listed_of(job))


def document_of(job: Job) -> bytes:
    """The whole resource as JSON."""
    head = listed_of(job) if job.kind in _ROOTS else head_of(job)
    if job.kind in _ROOTS:
        parts = {job.kind: job.answer, "explanation": job.explanation, "problem": job.problem}
    else:
        parts = {"answer": job.answer, "problem": job.problem}
        head["question"] = job.kind
        if job.new_plan_id is not None:
            made = BLOCK if job.kind == LOG else PLAN
            head["links"][f"new_{made}"] = f"{_ROOTS[made]}/{job.new_plan_id}"
    text = json.dumps(head, ensure_ascii=False)[:-1]
    return "".join([text, *(f', "{name}": {value or "null"}' for name, value in parts.items()), "}"]).encode()


def etag_of(job: Job, form: str = "") -> str:
    return f'"{job.revision}{form and "-"}{form}"'


def unchanged(request: Request, etag: str) -> bool:
    """Whether the client has this version already (If-None-Match, RFC 9110 section 13.1.2)."""
    given = request.headers.get("if-none-match", "")
    tags = {tag.strip().removeprefix("W/") for tag in given.split(",")}
    return given.strip() == "*" or etag in tags


def json_answer(request: Request, job: Job, *, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    """The resource with its ETag; 304 where the client has it."""
    etag = etag_of(job)
    every = {"ETag": etag, "Vary": "Accept", "Cache-Control": "private, no-cache", **(headers or {})}
    if request.method in ("GET", "HEAD") and unchanged(request, etag):
        return Response(status_code=304, headers=every)
    if not State(job.state).ended:
        every.setdefault("Retry-After", "1")
    return Response(document_of(job), status_code=status, media_type="application/json", headers=every)


def finished(job: Job | None, what: str = "plan") -> Job:
    """A job that has an answer. Raises Problem."""
    if job is None:
        raise Problem("not-found", f"There is no such {what}.")
    if not State(job.state).ended:
        raise Problem("not-ready", f"The {what} is {job.state}.", headers={"Retry-After": "1"})
    if job.answer is None:
        raise Problem("no-answer", f"The {what} has {job.state} without an answer.")
    return job
