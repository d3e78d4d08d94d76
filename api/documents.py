"""Documents in requests: read strictly, every fault with the JSON pointer of its place."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar
from urllib.parse import unquote_to_bytes

from fastapi import Request
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from api.problems import Problem, unusable
from scheduler.briefs import brief_of, frames
from scheduler.calendars import read_busy
from scheduler.documents import parse_text, validate
from scheduler.domain.brief import Brief
from scheduler.domain.errors import Fault, InputError

JSON, YAML, MERGE_PATCH = "application/json", "application/yaml", "application/merge-patch+json"
NDJSON, CALENDAR = "application/x-ndjson", "text/calendar"
IDENTITY = "identity"
"""The content coding of a body that is not coded."""
Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class Document:
    """What a request carried."""

    media_type: str
    data: dict[str, Any]


async def read_raw(request: Request, *types: str) -> tuple[str, bytes]:
    """Media type and body of a request. Raises Problem for another type than those, and for a body that is coded."""
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type not in types:
        shown = f"{media_type[:60]!r} came" if media_type else "no Content-Type came"
        raise Problem("media-type", f"{shown}; read here: {', '.join(types)}.", headers={"Accept": ", ".join(types)})
    codings = ", ".join(request.headers.getlist("content-encoding")).strip().lower()
    if codings not in {"", IDENTITY}:
        detail = f"{codings[:60]!r} came; bodies are read as they are ({IDENTITY})."
        raise Problem("content-coding", detail, headers={"Accept-Encoding": IDENTITY})  # RFC 9110 section 15.5.16
    return media_type, await request.body()


async def read_document(request: Request, *types: str) -> Document:
    """The document that a request carries. Raises Problem."""
    media_type, raw = await read_raw(request, *(types or (JSON, YAML)))
    return Document(media_type, await run_in_threadpool(parsed, raw, media_type))


def parsed(raw: bytes, media_type: str = JSON) -> dict[str, Any]:
    try:
        return parse_text(raw, source="body" if media_type == YAML else "body.json", max_bytes=len(raw) + 1)
    except InputError as error:
        fault = error.faults[0]
        if fault.path == "body.json":
            raise unusable(InputError.single("body", fault.problem, fault.advice)) from None
        raise unusable(error, None if media_type == YAML else _loosely(raw)) from None


def _loosely(raw: bytes) -> object:
    """A JSON text as far as it can be read, in which the place of a fault is found."""
    try:
        return json.loads(raw, parse_int=str, parse_float=str, parse_constant=str)
    except (ValueError, RecursionError):
        return None


def model_of(
    model: type[Model], data: Mapping[str, Any], *, document: Mapping[str, Any] | None = None, around: str = ""
) -> Model:
    """The model that some data make. Raises Problem.

    Args:
        document: what the client sent, where that is only a part of the data.
        around: the dotted path to that part.
    """
    try:
        return validate(model, dict(data))
    except InputError as error:
        raise unusable(error, data if document is None else document, around=around) from None


def apart_from_brief(data: Mapping[str, Any]) -> dict[str, Any]:
    """What a document holds beside its brief. Raises Problem where it holds none."""
    if "brief" not in data:
        itself = {"week", "kinds", "openings"} & data.keys()
        advice = 'Put it in an object of its own: {"brief": {…}}' if itself else "Write one, or take a demo brief"
        raise unusable(InputError.single("brief", "the brief is missing", advice), data)
    return {name: value for name, value in data.items() if name != "brief"}


def brief_in(data: object, *, document: object = None, inside: str = "", weeks: int = 1) -> Brief:
    """A brief that can be used. Its ``calendars`` may be data URLs (RFC 2397) of iCalendar text. Raises Problem.

    Args:
        document: the whole document, where the brief is a part of it.
        inside: the JSON pointer of that part.
        weeks: how many weeks of the calendars are read.
    """
    whole = data if document is None else document
    try:
        if not isinstance(data, Mapping):
            return validate(Brief, data)
        names = data.get("calendars")
        listed = [names] if isinstance(names, str) else names
        if not isinstance(listed, list) or not all(isinstance(n, str) and n.startswith("data:") for n in listed):
            return brief_of(dict(data))
        brief = brief_of({key: value for key, value in data.items() if key != "calendars"})
        busy = list(brief.busy)
        for number, name in enumerate(listed):
            raw = _bytes_of(name, number)
            for frame in frames(brief.week, weeks):
                busy += read_busy(raw, frame, source=f"calendars[{number}]")
        return brief_of(brief.model_copy(update={"busy": tuple(dict.fromkeys(busy))}).model_dump(mode="json"))
    except InputError as error:
        raise unusable(error, whole, inside=inside) from None


def _bytes_of(url: str, number: int) -> bytes:
    head, comma, text = url.removeprefix("data:").partition(",")
    media_type, *parameters = (part.strip().lower() for part in head.split(";"))
    fault = Fault(
        f"calendars[{number}]", "this is no calendar", "Write data:text/calendar;base64, and the file in base64"
    )
    if not comma or media_type != CALENDAR:
        raise InputError([fault])
    raw = unquote_to_bytes(text)
    try:
        return base64.b64decode(raw, validate=True) if "base64" in parameters else raw
    except binascii.Error:
        raise InputError([fault]) from None
