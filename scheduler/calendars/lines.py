"""From the bytes of an iCalendar file to the few lines that tell busy times.

A calendar export is mostly descriptions, attendees and alarms. Dropping them before the parser runs keeps large files
quick and leaves a hostile file little to be hostile with. RFC 5545 section 3.1 (content lines and folding).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from scheduler.domain.errors import InputError

MOST_BYTES = 5_000_000
MOST_COMPONENTS = 20_000
DEEPEST_NESTING = 8
ZONE_PARAMETER = "X-TZID"
"""TZID parameters are renamed to this, so that the parser leaves zones alone: it keeps one table of zones for the
whole process, in which a zone defined by one file would answer for another file."""

_EVENT_TEXTS = frozenset({"UID", "SEQUENCE", "STATUS", "TRANSP", "CLASS", "SUMMARY"})
_EVENT_TIMES = frozenset({"DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"})
_ZONE_LINES = frozenset({"TZID", "DTSTART", "RRULE", "RDATE", "TZOFFSETFROM", "TZOFFSETTO", "TZNAME"})
_KNOWN = _EVENT_TEXTS | _EVENT_TIMES | {"BEGIN", "END", "FREEBUSY", "CALSCALE"}
_NO_PROSE = _EVENT_TIMES - {"DURATION"}
"""Names that begin no sentence of a description: whatever follows them, such a line was meant."""

_NAME = re.compile(r"[A-Za-z0-9-]+")
_CONTENT_LINE = re.compile(r'([A-Za-z0-9-]+)((?:;(?:[^:"]|"[^"]*")*)?):(.*)', re.DOTALL)
_TZID = re.compile(r";\s*TZID\s*=", re.IGNORECASE)
_FOLD = re.compile(rb"\n[ \t]")


@dataclass
class Sieved:
    """What is left of a file: event lines for the parser, and the zones that the file defines."""

    events: list[str] = field(default_factory=list)
    zones: dict[str, list[str]] = field(default_factory=dict)
    """TZID to the lines of its VTIMEZONE."""

    @property
    def text(self) -> str:
        return "\r\n".join(["BEGIN:VCALENDAR", *self.events, "END:VCALENDAR", ""])


def plain(text: object, most: int) -> str:
    """The text in one printable line, cut to a length: what a file says must not steer a terminal."""
    words = "".join(c if c.isprintable() else " " for c in str(text)).split()
    return " ".join(words)[:most].strip()


def sieve(data: bytes, source: str) -> Sieved:
    """Keep the lines that tell busy times.

    Raises:
        InputError: too large, no iCalendar text, another calendar system, or components that do not nest.
    """
    return _Sieve(source).run(_unfolded(data, source))


def _unfolded(data: bytes, source: str) -> list[str]:
    if len(data) > MOST_BYTES:
        raise InputError.single(
            source,
            f"the file has {len(data):,} bytes, more than {MOST_BYTES:,}",
            "Export only the weeks around the one to plan",
        )
    text = data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not text.lstrip()[:15].upper().startswith(b"BEGIN:VCALENDAR"):
        raise InputError.single(
            source,
            f"the file is no iCalendar file; it begins with {text.lstrip()[:20].decode('ascii', 'replace')!r}",
            "Give an .ics file, whose first line is BEGIN:VCALENDAR",
        )
    if b"\0" in text:
        raise InputError.single(
            source, "the file holds zero bytes, which no text has", "Export it again as iCalendar (.ics, UTF-8)"
        )
    # Unfold before decoding: a fold may fall inside a character of several bytes (RFC 5545 section 3.1).
    unfolded = _FOLD.sub(b"", text).decode("utf-8", "replace")
    return [line for line in unfolded.split("\n") if line.strip()]


class _Sieve:
    def __init__(self, source: str) -> None:
        self._source = source
        self._stack: list[str] = []
        self._components = 0
        self._zone: list[str] = []
        self._kept = Sieved()

    def run(self, lines: list[str]) -> Sieved:
        for line in lines:
            self._take(line)
        if self._stack:
            raise self._fault(f"the file ends inside BEGIN:{self._stack[-1]}", "It was cut off; export it again")
        return self._kept

    def _take(self, line: str) -> None:
        match = _CONTENT_LINE.fullmatch(line)
        if match is None:
            name = _NAME.match(line)
            # Broken exports wrap descriptions without folding them; only a line that matters must be whole.
            known = name[0].upper() if name else ""
            if name and (known in _NO_PROSE or (known in _KNOWN and line[name.end() : name.end() + 1] in {"", ";"})):
                raise self._fault(
                    f"the line {line[:60]!r} cannot be read", "Lines read NAME:value or NAME;PARAMETER=x:value"
                )
            return
        name_upper, parameters, value = match[1].upper(), match[2], match[3]
        if name_upper == "BEGIN":
            self._begin(value.strip().upper())
        elif name_upper == "END":
            self._end(value.strip().upper())
        elif len(self._stack) > 1 and self._stack[1] == "VTIMEZONE":
            if name_upper in _ZONE_LINES:
                # Their parameters (LANGUAGE, VALUE) say nothing that the zone needs.
                self._zone.append(f"{name_upper}:{value.strip()}")
        else:
            self._property(name_upper, parameters, value)

    def _begin(self, name: str) -> None:
        self._components += 1
        self._stack.append(name)
        if self._components > MOST_COMPONENTS:
            raise self._fault(
                f"the file holds more than {MOST_COMPONENTS:,} components",
                "Export only the weeks around the one to plan",
            )
        if len(self._stack) > DEEPEST_NESTING:
            raise self._fault(f"components nest deeper than {DEEPEST_NESTING}", "Export the calendar again")
        if self._in_zone():
            self._zone.append(f"BEGIN:{name}")
        elif self._stack in (["VCALENDAR", "VEVENT"], ["VCALENDAR", "VFREEBUSY"]):
            self._kept.events.append(f"BEGIN:{name}")

    def _end(self, name: str) -> None:
        if not self._stack or self._stack[-1] != name:
            inside = f"BEGIN:{self._stack[-1]}" if self._stack else "no component"
            raise self._fault(f"END:{name[:40]} stands where {inside} is open", "The file is damaged; export it again")
        if self._in_zone():
            self._zone.append(f"END:{name}")
            if len(self._stack) == 2:
                self._close_zone()
        elif self._stack in (["VCALENDAR", "VEVENT"], ["VCALENDAR", "VFREEBUSY"]):
            self._kept.events.append(f"END:{name}")
        self._stack.pop()

    def _in_zone(self) -> bool:
        return self._stack[:2] == ["VCALENDAR", "VTIMEZONE"]

    def _close_zone(self) -> None:
        for line in self._zone:
            if line.startswith("TZID:"):
                self._kept.zones.setdefault(line.removeprefix("TZID:"), self._zone)
        self._zone = []

    def _property(self, name: str, parameters: str, value: str) -> None:
        if self._stack == ["VCALENDAR"] and name == "CALSCALE" and value.strip().upper() != "GREGORIAN":
            raise self._fault(f"the calendar system is {value[:40]!r}", "Export with CALSCALE:GREGORIAN")
        if self._stack == ["VCALENDAR", "VEVENT"]:
            if name in _EVENT_TEXTS:
                self._kept.events.append(f"{name}:{value}")
            elif name in _EVENT_TIMES:
                renamed = _TZID.sub(f";{ZONE_PARAMETER}=", parameters)
                self._kept.events.append(f"{name}{renamed}:{value.strip()}")
        elif self._stack == ["VCALENDAR", "VFREEBUSY"] and name == "FREEBUSY":
            self._kept.events.append(f"{name}{parameters}:{value.strip()}")

    def _fault(self, problem: str, advice: str) -> InputError:
        return InputError.single(self._source, problem, advice)
