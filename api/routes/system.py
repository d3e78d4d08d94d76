"""The server itself: is it well, what may this key do, what has it done."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from api.access import Monitor, Reader, Served
from api.metrics import CONTENT_TYPE
from api.openapi import answers
from api.problems import Problem
from api.resources import Access, Health, Version
from scheduler.data import catalogue_sha256
from scheduler.planning import program_version

router = APIRouter(tags=["server"])


@router.get("/healthz", response_model=Health)
async def health() -> Health:
    """The process answers."""
    return Health(status="ok")


@router.get("/readyz", responses=answers(Health))
def ready(service: Served) -> Health:
    """The store answers and work is handed out. Raises Problem 503."""
    service.store.ping()
    if not service.dispatcher.is_alive:
        raise Problem("unavailable", "No work is handed out.")
    return Health(status="ok")


@router.get("/metrics", responses=answers(None, "text/plain"))
def metrics(service: Served, _caller: Monitor) -> Response:
    """Figures for Prometheus."""
    return Response(service.metrics.text(), media_type=CONTENT_TYPE)


@router.get("/v1", responses=answers(Version))
def version(_caller: Reader) -> Version:
    """What answers here, and where to begin."""
    links = {
        "plans": "/v1/plans",
        "batches": "/v1/batches",
        "catalogue": "/v1/catalogue",
        "demo_briefs": "/v1/demo-briefs",
        "schemas": "/v1/schemas/brief",
        "openapi": "/v1/openapi.json",
        "access": "/v1/access",
    }
    return Version(name="weekwright", version=program_version(), catalogue_sha256=catalogue_sha256(), links=links)


@router.get("/v1/access", responses=answers(Access))
def access(caller: Reader, service: Served) -> Access:
    """Whose the request's key is, what it allows, and the limits it has."""
    settings = service.settings
    return Access(
        tenant=caller.tenant,
        scopes=tuple(sorted(scope.value for scope in caller.scopes)),
        expires_at=caller.key.expires_at if caller.key else None,
        limits={
            "body_bytes": settings.most_body_bytes,
            "batch_lines": settings.most_batch_lines,
            "solve_seconds": settings.most_solve_seconds,
            "wait_seconds": settings.most_wait_seconds,
            "requests_per_minute": settings.requests_per_minute,
            "requests_at_once": service.rates.at_once,
            "stored": settings.most_stored,
            "retention_days": settings.retention_days,
        },
    )
