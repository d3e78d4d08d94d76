"""JSON Schemas of what people write and get. The rules section is put together from the rules themselves."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.brief import Brief
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import Plan
from scheduler.rules import RULES

_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def brief_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a brief, each rule with its own numbers."""
    schema = Brief.model_json_schema()
    definitions = schema.setdefault("$defs", {})
    properties = {}
    for rule in RULES:
        own = rule.setting_model.model_json_schema(ref_template="#/$defs/{model}")
        definitions.update(own.pop("$defs", {}))
        own["properties"]["mode"] = {"enum": [*(mode.value for mode in rule.modes), None], "default": None}
        properties[rule.key] = own | {"title": rule.title, "description": f"{rule.meaning} {rule.formula}"}
    schema["properties"]["rules"] = {"type": "object", "properties": properties, "additionalProperties": False}
    return {"$schema": _DRAFT, **schema}


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a plan."""
    return {"$schema": _DRAFT, **Plan.model_json_schema(mode="serialization")}


def block_request_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a file that asks for a block: a brief, changes of it, how its weeks hang together."""
    brief = brief_schema()
    settings = BlockSettings.model_json_schema()
    definitions = brief.pop("$defs", {}) | settings.pop("$defs", {})
    definitions |= {
        "Brief": {key: value for key, value in brief.items() if key != "$schema"},
        "BlockSettings": settings,
    }
    return {
        "$schema": _DRAFT,
        "title": "A block that is asked for",
        "type": "object",
        "properties": {
            "title": {"type": "string"},
            "story": {"type": "string"},
            "brief": {
                "description": "The brief of a week, or a file beside this one that holds it.",
                "anyOf": [{"$ref": "#/$defs/Brief"}, {"type": "string"}],
            },
            "changes": {"type": "object", "description": "A JSON merge patch (RFC 7396) of the brief."},
            "block": {"$ref": "#/$defs/BlockSettings"},
            "log": {"type": "object", "description": "A week that was done; read by tests."},
            "expect": {"type": "object", "description": "What is to be shown; read by tests."},
        },
        "required": ["brief"],
        "additionalProperties": False,
        "$defs": definitions,
    }


def block_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a block that was planned."""
    return {"$schema": _DRAFT, **Block.model_json_schema(mode="serialization")}


def log_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a week's log."""
    return {"$schema": _DRAFT, **WeekLog.model_json_schema()}


SCHEMAS: Mapping[str, Callable[[], dict[str, Any]]] = {
    "brief": brief_schema,
    "plan": plan_schema,
    "block-request": block_request_schema,
    "block": block_schema,
    "log": log_schema,
}
"""By the name of a document."""
