"""The OpenAPI 3.1 document: request bodies, headers and problems that FastAPI cannot see in the code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from api import demo
from api.problems import MEDIA_TYPE, SORTS
from api.resources import ProblemDocument
from scheduler.domain.brief import Brief
from scheduler.rules import RULES

JSON = "application/json"
_INPUT = "Input"
"""End of the names of what is sent: what is answered is fuller, for every default is written out."""
_REF = "#/components/schemas/{model}"
_BODIES: dict[str, type[BaseModel]] = {}
EXAMPLE = "upper_lower_four_days"
"""The demo brief that stands as the example."""


def _header(name: str, description: str, schema: Mapping[str, Any]) -> dict[str, Any]:
    return {"name": name, "in": "header", "required": False, "description": description, "schema": dict(schema)}


PREFER = _header(
    "Prefer", "`wait=N`: wait up to N seconds for the answer (RFC 7240).", {"type": "string", "examples": ["wait=20"]}
)
IDEMPOTENCY = _header(
    "Idempotency-Key",
    "A string in double quotes. The same request sent again with it begins nothing new.",
    {"type": "string", "pattern": '^"[ !#-\\[\\]-~]{1,255}"$', "examples": ['"8e03978e-40d5"']},
)
LAST_EVENT = _header("Last-Event-ID", "Only events after this one.", {"type": "string", "examples": ["4"]})
_EVENT = {
    "type": "object",
    "properties": {
        "id": {"type": "string"},
        "event": {"enum": ["progress", "end", "erased"]},
        "data": {"type": "string", "contentMediaType": JSON},
        "retry": {"type": "integer"},
    },
}


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """A reference to what a request carries; the schema itself is put into the document later."""
    _BODIES[model.__name__] = model
    return {"$ref": _REF.format(model=f"{model.__name__}{_INPUT}")}


def takes(
    model: type[BaseModel], *types: str, headers: Sequence[Mapping[str, Any]] = (), bare: str = ""
) -> dict[str, Any]:
    """A request body that is read by hand, for `openapi_extra`; of the type ``bare`` it is any object."""
    content = {kind: {"schema": {"type": "object"} if kind == bare else schema_of(model)} for kind in types or (JSON,)}
    return {"requestBody": {"required": True, "content": content}, "parameters": [dict(h) for h in headers]}


def events() -> dict[int | str, dict[str, Any]]:
    """The answers of a route that streams server-sent events."""
    found = answers(None)
    found[200]["content"] = {"text/event-stream": {"schema": _EVENT}}
    found[204] = {"description": "It has ended, and the client has seen it"}
    return found


def takes_text(*headers: Mapping[str, Any], **content: Mapping[str, Any]) -> dict[str, Any]:
    """A request body that is no JSON document: media type (``/`` as ``__``) to schema."""
    found = {kind.replace("__", "/").replace("_", "-"): {"schema": dict(schema)} for kind, schema in content.items()}
    return {"requestBody": {"required": True, "content": found}, "parameters": [dict(header) for header in headers]}


def answers(
    model: Any,
    *types: str,
    unmodified: bool = False,
    not_ready: bool = False,
    reads_body: bool = False,
    takes_work: bool = False,
    location: bool = False,
) -> dict[int | str, dict[str, Any]]:
    """The answers of a route: 200 as the model in JSON and as text of other types, and the problems."""
    texts = {kind: {"schema": {"type": "string"}} for kind in types}
    found: dict[int | str, dict[str, Any]] = {200: {"description": "The answer", "content": texts}}
    if model is not None:
        found[200]["model"] = model
    names = ["bad-request", *_EVERYWHERE, *(_BODY if reads_body else ())]
    if unmodified:
        found[200]["headers"] = {"ETag": {"description": "Names this version.", "schema": {"type": "string"}}}
        found[304] = {"description": "The client has this version"}
    if not_ready:
        names += ["not-ready", "no-answer"]
    if location:
        found[200]["headers"] = {"Location": {"description": "Where it is.", "schema": {"type": "string"}}}
    if takes_work:
        names += ["too-much-stored", "queue-full"]
    if types:
        names.append("not-acceptable")
    return found | _problems(names)


def created(model: Any, *, only: int | None = None, not_ready: bool = False) -> dict[int | str, dict[str, Any]]:
    """The answers of a route that begins work."""
    location = {"Location": {"description": "Where it is.", "schema": {"type": "string"}}}
    ready: dict[str, Any] = {"description": "It is ready", "model": model, "headers": location}
    begun: dict[str, Any] = {"description": "It is accepted, and on its way", "model": model, "headers": location}
    for answer in (ready, begun):
        answer["links"] = _links(model.__name__)
    if only == 202:
        return {202: {"description": "It is ending", "model": model}}
    names = [
        "bad-request",
        "too-much-stored",
        "queue-full",
        *_EVERYWHERE,
        *_BODY,
        *(["not-ready", "no-answer"] if not_ready else []),
    ]
    return {201: ready, 202: begun, **_problems(names)}


def _links(model: str) -> dict[str, Any]:
    """Where a client can go from what it has begun: the operations that take its id."""
    what = {"PlanResource": "plan", "BlockResource": "block"}.get(model, "answer")
    questions = ("why", "why_not", "what_if", "alternatives", "tradeoff", "replan")
    own = {"plan": ["audit_plan", *(f"ask_{kind}_of_plan" for kind in questions)], "block": ["log_week"]}
    after = [f"{act}_{what}" for act in ("get", "follow", "stop")] + own.get(what, [])
    return {made: {"operationId": made, "parameters": {f"{what}_id": "$response.body#/id"}} for made in after}


_EVERYWHERE = (
    *("not-recognised", "not-allowed", "not-found", "wrong-host", "cannot-be-used"),
    *("too-many-requests", "internal", "unavailable"),
)
_BODY = ("too-slow", "too-large", "media-type", "content-coding")


def _problems(names: Sequence[str]) -> dict[int | str, dict[str, Any]]:
    found: dict[int | str, dict[str, Any]] = {}
    for name in names:
        sort = SORTS[name]
        known = found.setdefault(
            sort.status,
            {"description": "", "content": {MEDIA_TYPE: {"schema": {"$ref": _REF.format(model="ProblemDocument")}}}},
        )
        known["description"] = ". ".join(filter(None, [known["description"], sort.title]))
    return found


def document(app: FastAPI, *, most_seconds: float) -> dict[str, Any]:
    """The whole document, made once; ``most_seconds`` is what this server gives to a search."""
    if app.openapi_schema is None:
        made = get_openapi(
            title=app.title,
            version=app.version,
            summary=app.summary,
            description=app.description,
            routes=app.routes,
            tags=app.openapi_tags,
        )
        schemas: dict[str, Any] = made.setdefault("components", {}).setdefault("schemas", {})
        for name in ("HTTPValidationError", "ValidationError"):
            schemas.pop(name, None)
        schemas["ProblemDocument"] = ProblemDocument.model_json_schema(mode="serialization", ref_template=_REF)
        for name, model in list(_BODIES.items()):
            schemas.update(_input_schemas(name, model))
        schemas.update(schemas["ProblemDocument"].pop("$defs", {}))
        _give_examples(made)
        _limit_seconds(made, most_seconds)
        app.openapi_schema = made
    return app.openapi_schema


def _input_schemas(name: str, model: type[BaseModel]) -> dict[str, Any]:
    whole = model.model_json_schema(mode="validation", ref_template=_REF)
    found = {f"{part}{_INPUT}": schema for part, schema in whole.pop("$defs", {}).items()}
    found[f"{name}{_INPUT}"] = whole
    if (brief := found.get(f"{Brief.__name__}{_INPUT}")) is not None:
        brief["properties"]["rules"], more = _rules()
        found |= more
    return {part: _renamed(schema) for part, schema in found.items()}


@cache
def _rules() -> tuple[dict[str, Any], dict[str, Any]]:
    """Each rule with its own numbers, as in the published schema of a brief."""
    properties: dict[str, Any] = {}
    more: dict[str, Any] = {}
    for rule in RULES:
        own = rule.setting_model.model_json_schema(ref_template=_REF)
        more |= {f"{part}{_INPUT}": schema for part, schema in own.pop("$defs", {}).items()}
        properties[rule.key] = own | {"title": rule.title, "description": f"{rule.meaning} {rule.formula}"}
    return {"type": "object", "properties": properties, "additionalProperties": False}, more


def _renamed(schema: Any) -> Any:
    """The schema with every reference to what is sent, not to what is answered."""
    if isinstance(schema, dict):
        return {
            key: f"{value}{_INPUT}"
            if key == "$ref" and isinstance(value, str) and not value.endswith(_INPUT)
            else _renamed(value)
            for key, value in schema.items()
        }
    return [_renamed(item) for item in schema] if isinstance(schema, list) else schema


def _limit_seconds(made: Mapping[str, Any], most: float) -> None:
    """The limit is a setting, which the routes do not know when they are made."""
    for path in made["paths"].values():
        for operation in path.values():
            for parameter in operation.get("parameters", ()):
                if parameter["name"] == "seconds":
                    parameter["schema"]["anyOf"][0]["maximum"] = most


def _give_examples(made: dict[str, Any]) -> None:
    brief = demo.brief(EXAMPLE) if EXAMPLE in demo.names() else None
    if brief is not None:
        made["components"]["schemas"][f"{Brief.__name__}{_INPUT}"]["examples"] = [brief]
