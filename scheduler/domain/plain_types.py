"""Values are of the types that their JSON Schema names: a number is no text, and true is no number.

Left to itself pydantic reads ``false`` as 0, ``"10"`` as 10 and a bare number as a date of 1970: a slip in a brief
would be planned for instead of being told. Its own strict mode would also refuse the texts of dates and names, which
JSON and YAML have no other way to write.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, cast

from pydantic_core import CoreSchema, PydanticKnownError, core_schema

_INNER = ("schema", "items_schema", "values_schema", "choices", "fields")
"""Where the schemas of a model's own values stand; what else a schema holds says nothing of their types."""
_NUMBER = re.compile(r"\s*[-+]?[0-9.]+\s*")


def as_written(schema: CoreSchema) -> CoreSchema:
    """The schema of a model, which takes numbers, booleans, dates and clock times only as what they are written."""
    return cast(CoreSchema, _walked(schema))


def _walked(part: Any) -> Any:
    if isinstance(part, (list, tuple)):
        return type(part)(_walked(item) for item in part)
    if not isinstance(part, dict):
        return part
    kind = part.get("type")
    if kind in {"float", "bool"}:
        return {**part, "strict": True}
    if kind in _TAKEN:
        return core_schema.no_info_before_validator_function(_TAKEN[kind], cast(CoreSchema, part))
    if kind == "literal":
        return core_schema.no_info_before_validator_function(_choice(part["expected"]), cast(CoreSchema, part))
    if isinstance(kind, str):
        return {name: _walked(inner) if name in _INNER else inner for name, inner in part.items()}
    return {name: _walked(inner) for name, inner in part.items()}  # fields by name


def _whole(value: Any) -> Any:
    """Not strict mode: 3.0 is an integer of JSON Schema."""
    if isinstance(value, (bool, str)):
        raise PydanticKnownError("int_type")
    return value


def _choice(among: Sequence[Any]) -> Callable[[Any], Any]:
    """True equals 1, so that it would pass for it."""
    known = {type(choice) for choice in among}

    def taken(value: Any) -> Any:
        if isinstance(value, bool) and bool not in known:
            raise PydanticKnownError("literal_error", {"expected": ", ".join(str(choice) for choice in among)})
        return value

    return taken


def _no_number(error: Any) -> Callable[[Any], Any]:
    def taken(value: Any) -> Any:
        if isinstance(value, (int, float)) or (isinstance(value, str) and _NUMBER.fullmatch(value)):
            raise PydanticKnownError(error)
        return value

    return taken


_TAKEN: dict[str, Callable[[Any], Any]] = {
    "int": _whole,
    "date": _no_number("date_type"),
    "time": _no_number("time_type"),
    "datetime": _no_number("datetime_type"),
}
