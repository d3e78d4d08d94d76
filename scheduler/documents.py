"""Strict reading of YAML and JSON texts, and pydantic's complaints in plain words.

A text from outside may be broken, huge or hostile. :func:`parse_text` returns a mapping of plain values or raises
:class:`~scheduler.domain.errors.InputError`, and nothing else. YAML is read as YAML 1.2 core schema: only ``true``
and ``false`` are booleans, so ``off`` and ``yes`` stay words; ``18:00`` and ``2026-03-02`` stay text.
:func:`validate` turns that mapping into a model, or into one fault for each thing that is wrong in it.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, NoReturn

import yaml

from scheduler.document_faults import validate
from scheduler.domain.errors import Fault, InputError

__all__ = ["BRIEF_BYTES", "PLAN_BYTES", "in_file", "parse_text", "validate"]

BRIEF_BYTES = 1_000_000
PLAN_BYTES = 20_000_000
MOST_DEPTH = 60
MOST_ALIASES = 100
MOST_NODES = 200_000
"""Values of a YAML document once every alias is written out."""
MOST_NUMBER_CHARACTERS = 40
MOST_PATH_CHARACTERS = 300
MOST_DIGITS = 18
"""Whole numbers stay within 64 bits."""

# The C parser is some ten times faster; wheels of PyYAML carry it, a build from source may not.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_error = InputError.single
_NULLS = frozenset({"", "~", "null", "Null", "NULL"})
_BOOLEANS = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INTEGER = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_SURROGATE = re.compile("[\ud800-\udfff]")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")


def parse_text(data: bytes, *, source: str, max_bytes: int = BRIEF_BYTES) -> dict[str, Any]:
    """The mapping that a YAML or JSON text holds.

    It is read as JSON when ``source`` ends in ``.json`` or the text begins with ``{``, else as YAML. ``source`` is a
    file name or a word like ``request``; it stands in faults of the whole document. Faults of a text that cannot be
    read carry ``line 12, column 3``, those of one value in JSON its dotted path. Raises InputError for whatever is no
    single, finite, string-keyed mapping within the limits.
    """
    if len(data) > max_bytes:
        size, limit = len(data) / 1e6, max_bytes / 1e6
        raise _error(
            source, f"the document has {size:.1f} MB, more than the {limit:g} MB read here", "Send a shorter document."
        )
    text = _decode(data, source)
    if not text.strip():
        raise _empty(source)
    is_json = source.lower().endswith(".json") or text.lstrip().startswith("{")
    value = _read_json(text, source) if is_json else _read_yaml(text, source)
    if not isinstance(value, dict):
        raise _error(
            source,
            f"the document holds {_sort_of(value)}, not a block of fields",
            "Begin with fields, one a line, as name: value.",
        )
    if "\\" in text:  # only an escape can bring in what the decoding has refused
        _refuse_hidden_characters(value, source)
    return value


def _decode(data: bytes, source: str) -> str:
    if b"\0" in data:
        raise _error(source, "this is no text: it holds zero bytes", "Save it as plain text in UTF-8.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _error(
            source,
            f"this is no UTF-8 text: byte {error.start + 1} fits no character",
            "Save it as plain text in UTF-8.",
        ) from None


def _empty(source: str) -> InputError:
    return _error(source, "the document is empty", "Begin with fields, one a line, as name: value.")


def _sort_of(value: object) -> str:
    if value is None:
        return "nothing"
    return "a list" if isinstance(value, list) else "a single value"


def _refuse_hidden_characters(value: object, source: str) -> None:
    for path, text in _texts(value):
        if "\0" in text or (not text.isascii() and _SURROGATE.search(text)):
            raise _error(
                path or source,
                "an escaped character is no character of any text",
                "Remove the escapes like \\u0000 or \\ud800.",
            )


def _texts(value: object) -> Iterator[tuple[str, str]]:
    """Every text with its path; a field's name at its block."""
    for path, item in _values(value):
        if isinstance(item, str):
            yield path, item
        elif isinstance(item, dict):
            yield from ((path, name) for name in item)


def _values(value: object) -> Iterator[tuple[str, object]]:
    """Every value with its dotted path, in their order."""
    pending = [("", value)]
    while pending:
        path, item = pending.pop()
        yield path, item
        inner: list[tuple[str, object]] = []
        if isinstance(item, list):
            inner = [(f"{path}[{number}]", each) for number, each in enumerate(item)]
        elif isinstance(item, dict):
            names = ((name[: MOST_PATH_CHARACTERS + 1], each) for name, each in item.items())
            inner = [(f"{path}.{name}" if path else name, each) for name, each in names]
        # A path that would fill a page is told as far as its block: hostile names would be copied for every value.
        pending += [(way if len(way) <= MOST_PATH_CHARACTERS else path, each) for way, each in reversed(inner)]


def _too_deep(path: str) -> InputError:
    return _error(path, f"the document nests deeper than {MOST_DEPTH} levels", "Flatten it.")


def _integer(text: str, path: str) -> int:
    if len(text.lstrip("+-")) > MOST_DIGITS:
        raise _error(path, f"a number has more than {MOST_DIGITS} digits", "Shorten it, or quote it as text.")
    return int(text, 0 if text[:2] in {"0x", "0o"} else 10)


def _float(text: str, path: str) -> float:
    if len(text) > MOST_NUMBER_CHARACTERS:
        raise _error(
            path, f"a number has more than {MOST_NUMBER_CHARACTERS} characters", "Shorten it, or quote it as text."
        )
    value = float(text)
    if not math.isfinite(value):
        _refuse_not_finite(text, path)
    return value


def _refuse_not_finite(text: str, path: str) -> NoReturn:
    raise _error(path, f"{text} is no finite number", "Write a finite number, or leave the field out.")


# ---------------------------------------------------------------------------------------------------------------- JSON


def _read_json(text: str, source: str) -> object:
    refused = False

    def standing_in(fault: Fault) -> Fault:
        """Where a value cannot be taken its fault stands until all is read: the parser does not say where it is."""
        nonlocal refused
        refused = True
        return fault

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        result = dict(items)
        if len(result) < len(items):
            seen: set[str] = set()
            twice = next(key for key, _ in items if key in seen or seen.add(key))  # type: ignore[func-returns-value]
            problem = f'the field "{twice[:60]}" is written twice in one block'
            result[twice] = standing_in(Fault("", problem, "Keep one of them."))
        return result

    def number(read: Callable[[str, str], object]) -> Callable[[str], object]:
        def taken(text: str) -> object:
            try:
                return read(text, "")
            except InputError as error:
                return standing_in(error.faults[0])

        return taken

    try:
        value: object = json.loads(
            text,
            object_pairs_hook=pairs,
            parse_int=number(_integer),
            parse_float=number(_float),
            parse_constant=number(_refuse_not_finite),
        )
    except json.JSONDecodeError as error:
        raise _error(
            f"line {error.lineno}, column {error.colno}",
            f"this is not valid JSON: {error.msg[:1].lower()}{error.msg[1:].rstrip('.')}",
            "Correct it there, or write YAML, which needs no outer braces.",
        ) from None
    except RecursionError:
        raise _too_deep(source) from None
    _refuse_deep(value, source)
    if refused:
        path, fault = next((path, item) for path, item in _values(value) if isinstance(item, Fault))
        raise InputError([replace(fault, path=path or source)])
    return value


def _refuse_deep(value: object, source: str) -> None:
    level = [value]
    for _ in range(MOST_DEPTH):
        level = [child for item in level for child in _children(item) if isinstance(child, (dict, list))]
        if not level:
            return
    raise _too_deep(source)


def _children(item: object) -> Iterable[object]:
    if isinstance(item, dict):
        return item.values()
    return item if isinstance(item, list) else ()


# ---------------------------------------------------------------------------------------------------------------- YAML


def _at(mark: Any) -> str:
    return f"line {mark.line + 1}, column {mark.column + 1}"


def _read_yaml(text: str, source: str) -> object:
    try:
        return _YamlReader(yaml.parse(text, Loader=_LOADER), source).document()
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise _error(
            _at(mark) if mark else source,
            f"this is not valid YAML: {error.problem or error.context}",
            "Check the indentation, the colons and the quotes there.",
        ) from None
    except yaml.YAMLError as error:
        reason = getattr(error, "reason", None) or "it cannot be read"
        raise _error(source, f"this is not valid YAML: {reason}", "Save it as plain text in UTF-8.") from None
    except (ValueError, OverflowError):  # the Python parser on an escape past the last character
        raise _error(source, "an escaped character is no character of any text", "Remove the escape.") from None


class _YamlReader:
    """Builds values from the parser's events, so that a hostile document is refused before it is built."""

    def __init__(self, events: Iterator[Any], source: str) -> None:
        self._events = events
        self._source = source
        self._nodes = 0
        self._aliases = 0
        self._anchored: dict[str, tuple[object, int]] = {}
        """Per anchor its value and how many values that is, written out."""

    def document(self) -> object:
        next(self._events)  # the start of the stream
        if isinstance(next(self._events), yaml.StreamEndEvent):
            raise _empty(self._source)
        value = self._node(next(self._events), 1)
        next(self._events)  # the end of the document
        after = next(self._events)
        if not isinstance(after, yaml.StreamEndEvent):
            raise _error(_at(after.start_mark), "a second document begins", "Keep one document a file.")
        return value

    def _count(self, nodes: int, event: Any) -> None:
        self._nodes += nodes
        if self._nodes > MOST_NODES:
            raise _error(
                _at(event.start_mark), f"the document holds more than {MOST_NODES:,} values", "Split or shorten it."
            )

    def _node(self, event: Any, depth: int) -> object:
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event, depth)
        path = _at(event.start_mark)
        if event.tag is not None:
            raise _error(path, f"the tag {event.tag[:60]!r} is not read here", "Remove it; quote what is text.")
        before = self._nodes
        self._count(1, event)
        value: object
        if isinstance(event, yaml.ScalarEvent):
            value = _scalar(event.value, path) if event.implicit[0] else event.value
        elif depth > MOST_DEPTH:
            raise _too_deep(path)
        elif isinstance(event, yaml.SequenceStartEvent):
            value = [self._node(item, depth + 1) for item in self._until(yaml.SequenceEndEvent)]
        else:
            value = self._mapping(depth)
        if event.anchor is not None:
            self._anchored[event.anchor] = (value, self._nodes - before)
        return value

    def _until(self, end: type[Any]) -> Iterator[Any]:
        while not isinstance(event := next(self._events), end):
            yield event

    def _mapping(self, depth: int) -> dict[str, object]:
        result: dict[str, object] = {}
        for event in self._until(yaml.MappingEndEvent):
            path = _at(event.start_mark)
            if isinstance(event, yaml.ScalarEvent) and event.value == "<<" and event.implicit[0]:
                raise _error(path, "merge keys (<<) are not read here", "Write the fields out.")
            key = self._node(event, depth + 1)
            if not isinstance(key, str):
                shown = event.value if isinstance(event, yaml.ScalarEvent) else "a list or block"
                raise _error(path, f"a field's name must be text, got {shown}", "Put the name in quotes.")
            if key in result:
                raise _error(path, f'the field "{key[:60]}" is written twice in one block', "Keep one of them.")
            result[key] = self._node(next(self._events), depth + 1)
        return result

    def _alias(self, event: Any, depth: int) -> object:
        self._aliases += 1
        path = _at(event.start_mark)
        if self._aliases > MOST_ALIASES:
            raise _error(path, f"the document uses more than {MOST_ALIASES} aliases", "Write the values out.")
        if event.anchor not in self._anchored:
            raise _error(
                path, f"the alias *{event.anchor[:60]} stands before the end of its anchor", "Write the value out."
            )
        value, nodes = self._anchored[event.anchor]
        self._count(nodes, event)  # before the copy is made, so that an exploding document costs nothing
        return _copy(value, depth, path)


def _copy(value: object, depth: int, path: str) -> object:
    if isinstance(value, (dict, list)) and depth > MOST_DEPTH:
        raise _too_deep(path)
    if isinstance(value, dict):
        return {key: _copy(item, depth + 1, path) for key, item in value.items()}
    return [_copy(item, depth + 1, path) for item in value] if isinstance(value, list) else value


def _scalar(text: str, path: str) -> object:
    """A plain scalar by the YAML 1.2 core schema (section 10.3.2), less infinity and NaN."""
    if text in _NULLS:
        return None
    if text in _BOOLEANS:
        return _BOOLEANS[text]
    if text[0] not in "+-.0123456789":
        return text
    if _INTEGER.fullmatch(text):
        return _integer(text, path)
    if _FLOAT.fullmatch(text):
        return _float(text, path)
    if _NOT_FINITE.fullmatch(text):
        _refuse_not_finite(text, path)
    return text


def in_file(name: str, error: InputError) -> InputError:
    """The same faults with a file's name before their place, for when several files are read as one."""
    return InputError(
        Fault(f"{name}, {fault.path}" if fault.path not in {"", name} else name, fault.problem, fault.advice)
        for fault in error.faults
    )
