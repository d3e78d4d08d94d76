"""Problem details (RFC 9457): every error a client can meet, with a stable type, the faults and what to try."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from scheduler.domain.errors import Fault, InputError

MEDIA_TYPE = "application/problem+json"
_SEGMENT = re.compile(r"\[(\d+)\]|\.?([^.\[\]]+)")
_TEXT_PLACE = re.compile(r"line \d+")


@dataclass(frozen=True)
class Sort:
    """A sort of problem: its type is ``/problems/<name>``, and stays."""

    name: str
    status: int
    title: str
    advice: str


SORTS = {
    sort.name: sort
    for sort in (
        Sort("bad-request", 400, "The request cannot be read", "Correct what the detail names."),
        Sort("not-recognised", 401, "No valid key came with the request", "Send Authorization: Bearer and your key."),
        Sort("not-allowed", 403, "The key does not allow this", "Use a key that has the scope the detail names."),
        Sort("not-found", 404, "There is nothing here", "Check the address; what stood there may have been erased."),
        Sort("method-not-allowed", 405, "The method is not allowed here", "Use a method that Allow names."),
        Sort("not-acceptable", 406, "No such form is offered", "Accept one of the types that the detail names."),
        Sort("too-slow", 408, "The request came in too slowly", "Send it again."),
        Sort("not-ready", 409, "The plan is not there yet", "Wait until its state is done, then ask again."),
        Sort("no-answer", 409, "It ended without an answer and never will have one", "Ask for it anew."),
        Sort("too-much-stored", 409, "As much is stored as may be", "Erase what is no longer needed."),
        Sort("too-large", 413, "The request is too large", "Send less; the detail names the limit."),
        Sort("media-type", 415, "The body is of another type than is read here", "Send a type that the detail names."),
        Sort("content-coding", 415, "The body is coded as is not read here", "Send it without Content-Encoding."),
        Sort("wrong-host", 421, "The server is not called by this name", "Call it by a name of its own."),
        Sort(
            "cannot-be-used",
            422,
            "The document cannot be used as it is",
            "Mend each fault, then send it again.",
        ),
        Sort("key-used-otherwise", 422, "The idempotency key came with another request", "Use a new key."),
        Sort("too-many-requests", 429, "Too many requests came in", "Wait as long as Retry-After says."),
        Sort("queue-full", 429, "Too much work is waiting", "Wait as long as Retry-After says."),
        Sort("internal", 500, "A fault of this program", "Report it with the request id."),
        Sort("worker-lost", 500, "The work was lost, twice", "Ask for less: a shorter brief, fewer exercises."),
        Sort("unavailable", 503, "The store cannot be used just now", "Try again in a moment."),
    )
}


@dataclass(eq=False)
class Problem(Exception):  # noqa: N818, problem details is what the standard calls them
    """An error as the client gets it."""

    name: str
    detail: str
    faults: tuple[Mapping[str, str], ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)
    advice: str = ""
    """What to try here; left out: what its sort says."""

    @property
    def sort(self) -> Sort:
        return SORTS[self.name]

    def document(self) -> dict[str, Any]:
        sort = self.sort
        document: dict[str, Any] = {
            "type": f"/problems/{sort.name}",
            "title": sort.title,
            "status": sort.status,
            "detail": self.detail,
            "advice": self.advice or sort.advice,
        }
        return document | ({"faults": [dict(fault) for fault in self.faults]} if self.faults else {})


def unusable(error: InputError, document: object = None, *, inside: str = "", around: str = "") -> Problem:
    """The problem of a document with faults.

    Args:
        document: what the client sent; JSON pointers (RFC 6901) are found in it.
        inside: pointer of the part that the faults' paths begin in.
        around: dotted path to what the client sent, where that was put into a document of ours: faults are told from
            there on.
    """
    part = _at(document, inside)
    found = [replace(fault, path=fault.path.removeprefix(around).removeprefix(".")) for fault in error.faults]
    faults = tuple(_fault(fault, part, inside) for fault in found)
    return Problem("cannot-be-used", str(found[0]) if found else "It cannot be used.", faults)


def unfit_parameter(place: str, problem: str, advice: str) -> Problem:
    """The problem of a request whose parameter cannot be taken, a place being ``query seconds``."""
    fault = {"place": place, "problem": problem, "advice": advice}
    return Problem("cannot-be-used", f"{place}: {problem}. {advice}", (fault,))


def _fault(fault: Fault, document: object, inside: str) -> Mapping[str, str]:
    place = pointer(fault.path, document)
    words = {"problem": fault.problem, "advice": fault.advice}
    if place is not None:
        return {"pointer": f"#{inside}{place}", **words}
    return {"place": fault.path, **words} if fault.path else {"pointer": f"#{inside}", **words}


def pointer(path: str, document: object) -> str | None:
    """The JSON pointer of a dotted path like ``openings[2].start``; None for a path that is no place in the document.

    A name may hold dots itself: the longest that stands in the document counts. What is missing may be named last.
    """
    if not path:
        return ""
    if _TEXT_PLACE.match(path) or not isinstance(document, Mapping):
        return None
    parts: list[str] = []
    here: object = document
    rest = path
    while rest:
        name, rest = _step(here, rest)
        if name is None:
            return None
        parts.append(name)
        here = _child(here, name)
    if not parts or (parts[0] not in document and len(parts) > 1):
        return None
    return "".join(f"/{part.replace('~', '~0').replace('/', '~1')}" for part in parts)


def _step(here: object, rest: str) -> tuple[str | None, str]:
    if isinstance(here, Mapping):
        plain = rest.removeprefix(".")
        names = [n for n in here if isinstance(n, str) and n and (plain == n or plain.startswith((f"{n}.", f"{n}[")))]
        if names:
            name = max(names, key=len)
            return name, plain[len(name) :]
    match = _SEGMENT.match(rest)
    if match is None or " " in match[0]:
        return None, ""
    return match[1] or match[2], rest[match.end() :]


def _child(here: object, name: str) -> object:
    if isinstance(here, Mapping):
        return here.get(name)
    if isinstance(here, (list, tuple)) and name.isdecimal() and int(name) < len(here):
        return here[int(name)]
    return None


def _at(document: object, place: str) -> object:
    for name in place.split("/")[1:]:
        document = _child(document, name)
    return document
