"""The application: routes, middleware and problems put together."""

from __future__ import annotations

import asyncio
import logging
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.middleware.cors import CORSMiddleware
from fastapi.responses import JSONResponse
from fastapi.routing import iter_route_contexts
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from api import openapi
from api.logs import REQUEST_ID
from api.middleware import BodyLimits, Envelope
from api.problems import MEDIA_TYPE, Problem
from api.representations import BATCHES, ID_PATTERN
from api.routes import batches, blocks, catalogue, checks, page, plans, questions, system
from api.service import Service
from api.settings import Settings
from api.store import StoreUnavailable
from scheduler.document_faults import complaint, shown
from scheduler.domain.errors import InputError
from scheduler.planning import program_version

_log = logging.getLogger(__name__)
_ADDRESSES = "The addresses that there are stand in /v1/openapi.json."
_DESCRIPTION = """\
Turns training intent into a real week of strength sessions, proved best, and defends every choice in it.

General information, not medical advice: screen first, stop on sharp pain; a clinician's or a qualified coach's word
comes before any plan.
"""


def create_app(settings: Settings | None = None) -> FastAPI:
    """The application for some settings, those of the environment if left out."""
    settings = settings or Settings()
    service = Service(settings)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        service.start(asyncio.get_running_loop())
        try:
            yield
        finally:
            service.changes.close()
            await run_in_threadpool(service.stop)

    app = FastAPI(
        title="Weekwright",
        version=program_version(),
        summary="Weeks of strength training, proved best.",
        description=_DESCRIPTION,
        openapi_url="/v1/openapi.json",
        docs_url=None,  # the pages that come with the framework load scripts from elsewhere
        redoc_url=None,
        lifespan=lifespan,
        redirect_slashes=False,
        generate_unique_id_function=lambda route: route.name,
    )
    app.state.service = service
    for module in (plans, questions, checks, batches, blocks, catalogue, system, page):
        app.include_router(module.router)
    app.openapi = lambda: openapi.document(app, most_seconds=settings.most_solve_seconds)  # type: ignore[method-assign]
    _add_problems(app)
    _add_middleware(app, service)
    return app


def _add_middleware(app: FastAPI, service: Service) -> None:
    settings = service.settings

    def most_bytes(path: str) -> int:
        return settings.most_batch_bytes if path == BATCHES else settings.most_body_bytes

    app.add_middleware(BodyLimits, most_bytes=most_bytes, seconds=settings.body_seconds)
    if settings.origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=settings.origins,
            allow_methods=["GET", "POST", "DELETE"],
            allow_headers=[
                "Authorization",
                "Content-Type",
                "Idempotency-Key",
                "If-None-Match",
                "Last-Event-ID",
                "Prefer",
            ],
            expose_headers=["ETag", "Location", "Preference-Applied", "Retry-After", "X-Request-Id"],
        )
    app.add_middleware(Envelope, metrics=service.metrics)


def _methods(app: FastAPI, path: str) -> set[str]:
    """Every method that some route takes at a path; the framework names those of the first route alone."""
    found: set[str] = set()
    for route in iter_route_contexts(app.routes):
        pattern = re.sub(r"\\{\w+\\}", "[^/]+", re.escape(route.path or ""))
        if re.fullmatch(pattern, path):
            found |= set(route.methods or ())
    return found | ({"HEAD"} if "GET" in found else set())


def _of_parameter(detail: Any) -> tuple[str, str]:
    """Problem and advice for a parameter in the path or the query."""
    if detail["type"] == "missing":
        return "it is missing", "Add it."
    if detail["type"] == "string_pattern_mismatch":
        if detail["ctx"]["pattern"] == ID_PATTERN:
            return (
                f"{shown(detail['input'])} is no id",
                "An id is 32 characters, 0 to 9 and a to f; a link has it.",
            )
        return f"{shown(detail['input'])} is no name of anything here", "Names are small letters, digits and _."
    return complaint(str(detail["loc"][-1]), detail)


def _add_problems(app: FastAPI) -> None:
    """Every error leaves as problem details."""

    def answer(problem: Problem) -> JSONResponse:
        document = problem.document() | {"request_id": REQUEST_ID.get()}
        return JSONResponse(document, problem.sort.status, dict(problem.headers), media_type=MEDIA_TYPE)

    async def known(_request: Request, error: Problem) -> JSONResponse:
        return answer(error)

    async def unusable(_request: Request, error: InputError) -> JSONResponse:
        from api.problems import unusable as problem_of

        return answer(problem_of(error))

    async def parameters(_request: Request, error: RequestValidationError) -> JSONResponse:
        faults = tuple(
            {
                "place": " ".join(str(part) for part in detail["loc"]),
                **dict(zip(("problem", "advice"), _of_parameter(detail), strict=True)),
            }
            for detail in error.errors()
        )
        if all(detail["loc"][0] == "path" for detail in error.errors()):
            # What cannot be a name or a number of anything here is the address of nothing.
            why = " ".join(f"{fault['problem']}." for fault in faults)
            return answer(Problem("not-found", why, advice=faults[0]["advice"]))
        names = ", ".join(str(detail["loc"][-1]) for detail in error.errors())
        return answer(Problem("cannot-be-used", f"Of the request's parameters: {names}.", faults))

    async def away(_request: Request, error: StoreUnavailable) -> JSONResponse:
        _log.warning("the store is away: %s", error)
        return answer(Problem("unavailable", "The request was not carried out.", headers={"Retry-After": "5"}))

    async def http(request: Request, error: HTTPException) -> JSONResponse:
        if error.status_code == 405:
            allowed = ", ".join(sorted(_methods(app, request.url.path)))
            return answer(Problem("method-not-allowed", f"Allowed: {allowed}.", headers={"Allow": allowed}))
        name = {401: "not-recognised", 403: "not-allowed"}
        if error.status_code == 404:
            return answer(Problem("not-found", "No route has this address.", advice=_ADDRESSES))
        detail = str(error.detail or HTTPStatus(error.status_code).phrase)
        return answer(Problem(name.get(error.status_code, "bad-request"), detail, headers=dict(error.headers or {})))

    async def gone(_request: Request, _error: ClientDisconnect) -> JSONResponse:
        return answer(Problem("bad-request", "The connection ended before the body did."))  # nobody will read it

    async def unforeseen(_request: Request, error: Exception) -> JSONResponse:
        _log.error("a request failed", exc_info=error)
        return answer(Problem("internal", "It is in the log under the request id."))

    handlers: dict[Any, Any] = {
        Problem: known,
        InputError: unusable,
        RequestValidationError: parameters,
        StoreUnavailable: away,
        HTTPException: http,
        ClientDisconnect: gone,
        Exception: unforeseen,
    }
    for sort, handler in handlers.items():
        app.add_exception_handler(sort, handler)
