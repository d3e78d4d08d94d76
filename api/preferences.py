"""Request headers that say how an answer should come: Prefer (RFC 7240), Idempotency-Key, Accept (RFC 9110)."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence

from starlette.requests import Request

from api.problems import Problem

_PREFERENCE = re.compile(r'\s*([!#$%&\'*+.^_`|~0-9A-Za-z-]+)\s*(?:=\s*("(?:[^"\\]|\\.)*"|[^\s";,]*))?')
_KEY = re.compile(r'"((?:[\x20-\x21\x23-\x5b\x5d-\x7e]|\\["\\])*)"')
"""A string of a structured field (RFC 8941 section 3.3.3)."""


def wait_seconds(request: Request, most: float) -> float | None:
    """How long the client would wait for the answer, at most so long; None where it says nothing of it."""
    for header in request.headers.getlist("prefer"):
        for part in header.split(","):
            match = _PREFERENCE.match(part)
            if match and match[1].lower() == "wait":
                value = (match[2] or "").strip('"')
                if value.isdecimal() and len(value) < 10:
                    return min(float(value), most)
    return None


def repeat_of(request: Request, body: bytes) -> tuple[str, str] | None:
    """The idempotency key of a request and its fingerprint. Raises Problem for a key that is no string."""
    given = request.headers.get("idempotency-key")
    if given is None:
        return None
    match = _KEY.fullmatch(given.strip())
    if match is None or not 1 <= len(match[1]) <= 255:
        raise Problem(
            "bad-request", 'Idempotency-Key has to be a string of 1 to 255 characters in double quotes: "8e03978e".'
        )
    target = f"{request.method} {request.url.path}?{request.url.query}\n"
    media_type = request.headers.get("content-type", "")
    return match[1], hashlib.sha256(f"{target}{media_type}\n".encode() + body).hexdigest()


def chosen_type(request: Request, offered: Sequence[str]) -> str:
    """The offered media type that the client likes best; the first where it says nothing. Raises Problem for none."""
    header = ",".join(request.headers.getlist("accept"))
    if not header.strip():
        return offered[0]
    ranges = [_range(part) for part in header.split(",") if part.strip()]
    best = max(offered, key=lambda kind: (_quality(kind, ranges), -offered.index(kind)))
    if _quality(best, ranges) <= 0:
        raise Problem("not-acceptable", f"Offered are: {', '.join(offered)}.")
    return best


def _range(part: str) -> tuple[str, float]:
    kind, *parameters = (piece.strip().lower() for piece in part.split(";"))
    quality = 1.0
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            try:
                quality = min(1.0, max(0.0, float(value)))
            except ValueError:
                quality = 0.0
    return kind, quality


def _quality(kind: str, ranges: Sequence[tuple[str, float]]) -> float:
    """The quality of the most specific range that the type falls in."""
    for pattern in (kind, f"{kind.partition('/')[0]}/*", "*/*"):
        found = [quality for name, quality in ranges if name == pattern]
        if found:
            return max(found)
    return 0.0
