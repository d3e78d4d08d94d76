"""What every request passes: its id, its log line, its limits on size and time, the security headers."""

from __future__ import annotations

import asyncio
import logging
import re
import secrets
import time
from collections.abc import Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.logs import REQUEST_ID
from api.metrics import Metrics
from api.problems import Problem

_log = logging.getLogger("api.requests")
_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
SECURITY_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Set where an answer says nothing else. A plan may be kept by nobody but the client."""


class Envelope:
    """Outermost: a request id (the client's own where it is plain), one log line, figures, security headers."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self._app, self._metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        given = Headers(scope=scope).get("x-request-id", "")
        request_id = given if _ID.fullmatch(given) else secrets.token_hex(8)
        token = REQUEST_ID.set(request_id)
        started = time.perf_counter()
        status = 0

        async def dressed(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = MutableHeaders(scope=message)
                headers["X-Request-Id"] = request_id
                for name, value in SECURITY_HEADERS.items():
                    headers.setdefault(name, value)
                self._metrics.answered(
                    scope["method"] if status != 405 else "other", _route(inner), status, time.perf_counter() - started
                )
            await send(message)

        inner = scope
        if scope["method"] == "HEAD" and not scope["path"].endswith("/events"):  # what GET would say; no body is sent
            inner = {**scope, "method": "GET"}
        try:
            await self._app(inner, receive, dressed)
        finally:
            caller = inner.get("state", {}).get("caller")
            fields = {
                "method": scope["method"],
                "route": _route(inner),
                "status": status,
                "milliseconds": round(1000 * (time.perf_counter() - started), 1),
                "tenant": caller.tenant if caller else None,
                "key": caller.key.id if caller and caller.key else None,
            }
            _log.info("answered", extra={"fields": fields})
            REQUEST_ID.reset(token)


def _route(scope: Scope) -> str:
    """The route's pattern: a path may hold a client's name."""
    return getattr(scope.get("route"), "path", "other")


class BodyLimits:
    """A body may not be larger, nor come in more slowly, than the settings say."""

    def __init__(self, app: ASGIApp, most_bytes: Callable[[str], int], seconds: float) -> None:
        """``most_bytes`` gives the limit of a path."""
        self._app, self._most_bytes, self._seconds = app, most_bytes, seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most = self._most_bytes(scope["path"])
        length = Headers(scope=scope).get("content-length", "")
        announced = int(length) if length.isdecimal() else 0
        deadline = time.monotonic() + self._seconds
        size = 0
        whole = False

        async def limited() -> Message:
            nonlocal size, whole
            if whole:
                return await receive()
            if announced > most:
                raise _too_large(most)
            try:
                message = await asyncio.wait_for(receive(), max(0.01, deadline - time.monotonic()))
            except TimeoutError:
                raise Problem(
                    "too-slow",
                    f"The body has to come in within {self._seconds:g} s.",
                    headers={"Connection": "close"},
                ) from None
            size += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if size > most:
                raise _too_large(most)
            return message

        await self._app(scope, limited, send)


def _too_large(most: int) -> Problem:
    return Problem("too-large", f"At most {most:,} bytes are read here.", headers={"Connection": "close"})
