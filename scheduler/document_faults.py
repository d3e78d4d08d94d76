"""Pydantic's complaints in plain words: where in the document, what is wrong with the value given, what to try."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from scheduler.domain.errors import Fault, InputError, nearest

Model = TypeVar("Model", bound=BaseModel)

MOST_FAULTS = 50
"""A document of nonsense would else be answered by a book of it."""
_SHOWN_CHARACTERS = 60

# Beginning of a pydantic error type -> what was expected, and advice. The first that fits counts.
_EXPECTED: tuple[tuple[str, str, str], ...] = (
    ("int_", "a whole number", "Write it in digits without quotes, like 3."),
    ("float_", "a number", "Write it in digits without quotes, like 2.5."),
    ("bool_", "true or false", "Write true or false, without quotes."),
    ("string_type", "text", "Put it in quotes."),
    ("string_unicode", "text", "Remove the characters that are no text."),
    ("string_sub_type", "text", "Put it in quotes."),
    ("tuple_type", "a list", "Write it as [a, b], or one item a line behind a dash."),
    ("list_type", "a list", "Write it as [a, b], or one item a line behind a dash."),
    ("datetime_", "a date and time like 2026-03-02T18:00", "Write year-month-day, a T, and hours:minutes."),
    ("timezone_", "a date and time like 2026-03-02T18:00+01:00", "Add the offset, or leave it out everywhere."),
    ("date_", "a date like 2026-03-02", "Write year-month-day."),
    ("time_", "a clock time like 18:00", "Write hours:minutes."),
)
_AS_WRITTEN = {"True": "true", "False": "false"}
_LIMITS = {
    "greater_than": ("gt", "is too small: it must be above {limit}", "Write more than {limit}."),
    "greater_than_equal": ("ge", "is too small: at least {limit}", "Write {limit} or more."),
    "less_than": ("lt", "is too large: it must be below {limit}", "Write less than {limit}."),
    "less_than_equal": ("le", "is too large: at most {limit}", "Write {limit} or less."),
    "multiple_of": ("multiple_of", "is no multiple of {limit}", "Use steps of {limit}."),
}
_RANGE = {"least", "most"}
"""The fields of what may be a bare number as well."""
_BLOCKS = frozenset({"dict_type", "mapping_type", "model_type", "model_attributes_type"})


def validate(model: type[Model], data: object, *, prefix: str = "") -> Model:
    """The model that the data make. Raises InputError with every fault (at most 50), each with its dotted path.

    ``prefix`` is the path of ``data`` in a larger document. Paths read like ``goals.lats.least`` or
    ``openings[2].start`` and name only what stands in the document.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise InputError(_faults(model, data, error, prefix)) from None


@dataclass(frozen=True)
class _Place:
    """Where a complaint points: the document's path, the types that may stand there, and whether one was of a union."""

    parts: tuple[str | int, ...]
    kinds: tuple[Any, ...]
    of_union: bool

    def path(self, prefix: str) -> str:
        path = prefix
        for part in self.parts:
            if isinstance(part, int):
                path += f"[{part}]"
            else:
                path += f".{part}" if path else part
        return path


def _faults(model: type[BaseModel], data: object, error: ValidationError, prefix: str) -> list[Fault]:
    details = [detail for detail in error.errors(include_url=False) if not _is_echo(detail)]
    first = details[:MOST_FAULTS]
    placed = [(_locate(model, data, detail["loc"], detail["type"]), detail) for detail in first]
    deepest = [place.parts for place, _ in placed if place.of_union]
    by_path: dict[str, list[Fault]] = {}
    for place, detail in placed:
        inside = any(len(parts) > len(place.parts) and parts[: len(place.parts)] == place.parts for parts in deepest)
        if place.of_union and inside:
            continue  # another member of the union fits better and says what is wrong inside
        fault = _fault(place, detail, prefix)
        if fault not in by_path.setdefault(fault.path, []):
            by_path[fault.path].append(fault)
    unions = {place.path(prefix) for place, _ in placed if place.of_union}
    faults: list[Fault] = []
    for path, found in by_path.items():
        faults.extend([_either(found)] if path in unions and len(found) > 1 else found)
    if len(details) > len(first):
        faults.append(Fault(prefix, f"{len(details) - len(first)} more faults are not shown", "Mend these first."))
    return faults


def _is_echo(detail: Any) -> bool:
    """Whether a list is called too short only because its entries, each with a fault of its own, were not counted."""
    return bool(detail["type"] == "too_short" and len(detail["input"]) >= detail["ctx"]["min_length"])


def _either(faults: Sequence[Fault]) -> Fault:
    """One fault for a value that fits no member of a union."""
    expected: list[re.Match[str]] = []
    for fault in faults:
        match = re.fullmatch(r"expected (.*?), got (.*)", fault.problem, re.DOTALL)
        if match is None:
            return fault  # the right sort of value with something else amiss: that member was meant
        expected.append(match)
    wanted = " or ".join(dict.fromkeys(match[1] for match in expected))
    return Fault(faults[0].path, f"expected {wanted}, got {expected[0][2]}", "Write one of these.")


def _locate(model: type[BaseModel], data: object, loc: tuple[str | int, ...], error_type: str) -> _Place:
    """Follow pydantic's location through the data; what does not stand there is pydantic's own and is left out."""
    parts: list[str | int] = []
    kinds: tuple[Any, ...] = (model,)
    here: Any = data
    of_union = False
    for index, part in enumerate(loc):
        is_missing_field = error_type == "missing" and index == len(loc) - 1
        if _holds(here, part):
            here = here[part]
        elif not is_missing_field:
            of_union = of_union or len(_members(kinds)) > 1
            continue
        parts.append(part)
        if error_type != "extra_forbidden" or index < len(loc) - 1:  # else the block's own type is of use
            kinds = tuple(inner for kind in _members(kinds) for inner in _inside(kind, part))
    return _Place(tuple(parts), tuple(_members(kinds)), of_union)


def _holds(value: object, part: str | int) -> bool:
    if isinstance(value, Mapping):
        return part in value
    return isinstance(value, (list, tuple)) and isinstance(part, int) and part < len(value)


def _members(kinds: Sequence[Any]) -> list[Any]:
    """The types without the wrappings of Annotated, Union and None."""
    found: list[Any] = []
    for kind in kinds:
        origin = get_origin(kind)
        if origin is Annotated:
            found += _members(get_args(kind)[:1])
        elif origin in {Union, UnionType}:
            found += _members([inner for inner in get_args(kind) if inner is not type(None)])
        else:
            found.append(kind)
    return found


def _inside(kind: Any, part: str | int) -> tuple[Any, ...]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        field = kind.model_fields.get(str(part))
        return (field.annotation,) if field else ()
    arguments = get_args(kind)
    return arguments[-1:] if isinstance(part, str) else arguments[:1]


def _fields(kinds: Sequence[Any]) -> list[str]:
    models = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
    return [name for kind in models for name in kind.model_fields]


def shown(value: object) -> str:
    """A value of a document, short enough for a message."""
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= _SHOWN_CHARACTERS else f'"{value[:_SHOWN_CHARACTERS]}..."'
    if isinstance(value, bool):
        return str(value).lower()
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return "a block of fields" if value else "an empty block"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}" if value else "an empty list"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _fault(place: _Place, detail: Any, prefix: str) -> Fault:
    problem, advice = _words(place, detail)
    return Fault(place.path(prefix), problem.rstrip("."), advice if advice.endswith((".", "?", "!")) else f"{advice}.")


def complaint(name: str, detail: Any) -> tuple[str, str]:
    """Problem and advice for pydantic's error of a value that stands in no document, as one of a query."""
    return _words(_Place((name,), (), of_union=False), detail)


def _words(place: _Place, detail: Any) -> tuple[str, str]:
    """Problem and advice for one error of pydantic, by its type."""
    kind: str = detail["type"]
    context: Mapping[str, Any] = detail.get("ctx", {})
    value = detail["input"]
    name = str(place.parts[-1])[:_SHOWN_CHARACTERS] if place.parts else ""
    if kind == "missing":
        return f'the field "{name}" is missing', f'Add "{name}" here.'
    if kind == "extra_forbidden":
        return f'unknown field "{name}"', nearest(name, _fields(place.kinds))
    if kind in {"value_error", "assertion_error"}:
        return _own_words(str(context.get("error", detail["msg"])))
    if kind in {"enum", "literal_error"}:
        choices = [_AS_WRITTEN.get(c, c).strip("'") for c in re.split(r", | or ", str(context["expected"]))]
        if len(choices) == 1:
            return f"expected {choices[0]}, got {shown(value)}", f"Write {choices[0]}, or leave the field out."
        advice = nearest(str(value)[:_SHOWN_CHARACTERS].lower(), choices)
        listed = f"Write one of: {', '.join(choices)}"
        return f"{shown(value)} is not known here", advice if advice.startswith("Did") else listed
    if kind in _LIMITS:
        key, problem, advice = _LIMITS[kind]
        limit = shown(context[key])
        return f"{shown(value)} {problem.format(limit=limit)}", advice.format(limit=limit)
    if kind in _BLOCKS:
        fields = _fields(place.kinds)
        if not fields:
            return f"expected names with values, got {shown(value)}", "Write them below it, one a line, as name: value."
        if set(fields) == _RANGE:
            return (
                f"expected a whole number or a range, got {shown(value)}",
                "Write it like 2, or like {least: 2, most: 3}.",
            )
        example = ", ".join(f"{field}: ..." for field in fields[:2])
        return f"expected a block of fields, got {shown(value)}", f"Write it as {{{example}}}, or one field a line."
    if kind in {"too_short", "too_long"}:
        count = len(value) if isinstance(value, (Mapping, list, tuple)) else 1
        limit = context["min_length" if kind == "too_short" else "max_length"]
        if kind == "too_short":
            return f"it has {count} entries and needs at least {limit}", f"Add {limit - count} or more."
        return f"it has {count} entries and may have at most {limit}", "Remove some."
    if kind == "string_too_long":
        return f"the text is longer than {context['max_length']} characters", "Shorten it."
    if kind == "finite_number":
        return f"{value} is no finite number", "Write a finite number, or leave the field out."
    for beginning, expected, advice in _EXPECTED:
        if kind.startswith(beginning):
            return f"expected {expected}, got {shown(value)}", advice
    message = str(detail["msg"])
    return f"{message[:1].lower()}{message[1:]}, got {shown(value)}", "Correct the value."


def _own_words(message: str) -> tuple[str, str]:
    """A validator's own message; by the habit of this project what follows its last semicolon is advice."""
    problem, found, advice = message.rpartition("; ")
    if not found:
        return message, "Correct the value."
    return problem, f"{advice[:1].upper()}{advice[1:]}."
