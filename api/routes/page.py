"""The page: static files, which use only the JSON API, with the strict policy under which they run."""

from __future__ import annotations

import hashlib
import mimetypes
from functools import cache
from pathlib import Path

from fastapi import APIRouter, Request
from starlette.responses import Response

from api.problems import Problem
from api.representations import unchanged

router = APIRouter(include_in_schema=False)
FOLDER = Path(__file__).parent.parent / "page"
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)
"""Nothing from elsewhere, nothing inline, and no text is ever turned into markup."""
_TYPES = {".js": "text/javascript", ".json": "application/json", ".svg": "image/svg+xml", ".css": "text/css"}


@cache
def _files() -> dict[str, tuple[bytes, str, str]]:
    """By name: content, media type, entity tag. Read once: nothing outside of the folder can be asked for."""
    found = {}
    for path in sorted(FOLDER.rglob("*")):
        if path.is_file():
            content = path.read_bytes()
            kind = _TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "text/plain"
            name = path.relative_to(FOLDER).as_posix()
            found[name] = (content, kind, f'"{hashlib.sha256(content).hexdigest()[:20]}"')
    return found


@router.get("/")
def get_page(request: Request) -> Response:
    return _answer(request, "index.html")


@router.get("/page/{name:path}")
def get_part_of_page(request: Request, name: str) -> Response:
    return _answer(request, name)


def _answer(request: Request, name: str) -> Response:
    if name not in _files():
        raise Problem("not-found", "The page has no such part.")
    content, kind, etag = _files()[name]
    headers = {"ETag": etag, "Cache-Control": "no-cache", "Content-Security-Policy": POLICY}
    if unchanged(request, etag):
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=kind, headers=headers)
