"""What the fuzzer cannot know by the document alone: how to write NDJSON, and briefs that can be solved.

A brief made up from its schema hardly ever names a muscle that exists. So of the requests that are meant to be good
some get a real brief, with a title of their own; then what comes after a plan or a block is reached too.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import schemathesis
from schemathesis import Case, GenerationMode, HookContext

from api import demo

BRIEF = demo.brief("pinned_solid")
_EVERY_SECOND = 2


@schemathesis.serializer("application/x-ndjson")
def ndjson(_context: Any, value: Any) -> bytes:
    return value if isinstance(value, bytes) else str(value).encode(errors="replace")


@schemathesis.hook
def before_call(_context: HookContext, case: Case, _kwargs: dict[str, Any]) -> None:
    body = case.body
    if case.meta is None or case.meta.generation.mode is not GenerationMode.POSITIVE:
        return
    label = case.operation.label
    if label == "POST /v1/batches":
        case.body = json.dumps(BRIEF)
    if not isinstance(body, dict) or len(str(body)) % _EVERY_SECOND:
        return
    if label.endswith("/logs"):
        case.body = {"log": {"week": BRIEF["week"]["start"]}}
        return
    real = copy.deepcopy(BRIEF) | {"title": str(len(str(body)))}
    if label == "POST /v1/plans":
        case.body = real
    elif "brief" in body:
        case.body = body | {"brief": real}
