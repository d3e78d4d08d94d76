"""JSON Schemas of brief and plan. The rules section is put together from the rules themselves."""

from __future__ import annotations

from typing import Any

from scheduler.domain.brief import Brief
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
        properties[rule.key] = own | {"title": rule.title, "description": f"{rule.meaning} {rule.formula}"}
    schema["properties"]["rules"] = {"type": "object", "properties": properties, "additionalProperties": False}
    return {"$schema": _DRAFT, **schema}


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a plan."""
    return {"$schema": _DRAFT, **Plan.model_json_schema(mode="serialization")}
