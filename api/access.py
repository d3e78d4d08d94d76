"""Who may come in: API keys with tenant and scopes; on this machine alone also without."""

from __future__ import annotations

import math
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.security import HTTPBearer
from starlette.concurrency import run_in_threadpool

from api.problems import Problem
from api.service import Service
from api.settings import is_loopback
from api.store import Key
from api.store.keys import Scope

LOCAL = "local"
"""The tenant of requests without a key."""
bearer = HTTPBearer(
    auto_error=False,
    scheme_name="key",
    description="An API key (`weekwright keys create`). On its own machine a server without keys needs none.",
)
_CHALLENGE = {"WWW-Authenticate": 'Bearer realm="weekwright"'}


@dataclass(frozen=True)
class Caller:
    tenant: str
    scopes: frozenset[Scope]
    key: Key | None = None


def service_of(request: Request) -> Service:
    service: Service = request.app.state.service
    return service


async def _service(request: Request) -> Service:
    """A coroutine, for the framework would send a plain function to a thread."""
    return service_of(request)


Served = Annotated[Service, Depends(_service)]


def may(scope: Scope) -> Callable[..., Coroutine[Any, Any, Caller]]:
    """The dependency of a route that needs a scope."""

    async def caller_of(request: Request, _credentials: Annotated[Any, Depends(bearer)]) -> Caller:
        service = service_of(request)
        caller = await run_in_threadpool(_recognised, service, request)
        request.state.caller = caller
        name = caller.key.id if caller.key else request.client.host if request.client else ""
        wait = service.rates.take(name)
        if wait:
            seconds = math.ceil(wait)
            raise Problem(
                "too-many-requests",
                f"{service.settings.requests_per_minute} a minute are allowed, {service.rates.at_once} at once.",
                headers={"Retry-After": str(seconds)},
            )
        if scope not in caller.scopes:
            raise Problem("not-allowed", f"This needs the scope {scope.value}.")
        return caller

    return caller_of


def _recognised(service: Service, request: Request) -> Caller:
    header = request.headers.get("authorization")
    if header is not None:
        scheme, _, token = header.partition(" ")
        key = service.keys.recognise(token.strip()) if scheme.lower() == "bearer" else None
        if key is None:
            raise Problem(
                "not-recognised", "The key is unknown, expired or revoked.", headers=_with_error("invalid_token")
            )
        return Caller(key.tenant, frozenset(Scope(name) for name in key.scopes.split()), key)
    if not _comes_from_here(service, request) or service.keys.any_active():
        raise Problem("not-recognised", "No key came with the request.", headers=_CHALLENGE)
    name = request.headers.get("host", "").rpartition(":")
    host = name[0] if name[0] and name[2].isdecimal() else request.headers.get("host", "")
    if host not in service.settings.hosts:
        raise Problem("wrong-host", f"Without keys it is called {', '.join(service.settings.hosts)}.")
    return Caller(LOCAL, frozenset(Scope))


def _with_error(error: str) -> dict[str, str]:
    return {"WWW-Authenticate": f'{_CHALLENGE["WWW-Authenticate"]}, error="{error}"'}


def _comes_from_here(service: Service, request: Request) -> bool:
    """Whether only this machine can have sent it: not by the network, and not through a proxy that passes others on."""
    if not service.settings.on_loopback or request.client is None or not is_loopback(request.client.host):
        return False
    return not any(name in request.headers for name in ("forwarded", "x-forwarded-for", "x-real-ip"))


Reader = Annotated[Caller, Depends(may(Scope.READ))]
Writer = Annotated[Caller, Depends(may(Scope.WRITE))]
Eraser = Annotated[Caller, Depends(may(Scope.ERASE))]
Monitor = Annotated[Caller, Depends(may(Scope.METRICS))]
