"""Errors that a user can mend. Each names the place in the document, the value, and what to try."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from scheduler.domain.wording import listed

_MOST_CLOSE = 3
"""Names that advice shows where they are merely like what was written."""
_MOST_SHOWN = 8


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a document: where (dotted path), what, and what to try."""

    path: str
    problem: str
    advice: str

    def __str__(self) -> str:
        where = f"{self.path}: " if self.path else ""
        return f"{where}{self.problem}. {self.advice}"


class InputError(Exception):
    """A document, calendar or option that cannot be used as it is. Carries one or more faults."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @classmethod
    def single(cls, path: str, problem: str, advice: str) -> InputError:
        return cls((Fault(path, problem, advice),))


class RefereeDisagreement(Exception):  # noqa: N818, the name says what is wrong
    """The solver and the referee compute different figures for one plan: a defect of this program."""


def unknown(path: str, what: str, names: Iterable[str], known: Collection[str]) -> Iterator[Fault]:
    """A fault for each name that is not known, with the nearest that are."""
    for name in names:
        if name not in known:
            yield Fault(path, f"unknown {what} {name!r}", nearest(name, known))


def nearest(name: str, known: Iterable[str]) -> str:
    """Advice that suggests the known names that hold the words of the given one, or else those most like it.

    Rows that ``known`` maps its keys to may have a full name, as those of the catalogue have: it leads to its key.
    """
    known = known if isinstance(known, Mapping) else list(known)
    spelled = _spelled(known)
    found = [suggested for _, suggested in _holding(name, spelled)]
    if not found:
        close = difflib.get_close_matches(_plain(name), spelled, n=2 * _MOST_CLOSE, cutoff=0.5)
        found = [suggested for _, suggested in _once(spelled[text] for text in close)][:_MOST_CLOSE]
    if found:
        more = [f"one of {len(found) - _MOST_SHOWN} more"] if len(found) > _MOST_SHOWN else []
        return f"Did you mean {listed([*found[:_MOST_SHOWN], *more], 'or')}?"
    shown = ", ".join(sorted(known)[:_MOST_SHOWN])
    return f"Known names begin with: {shown}." if shown else "None are defined."


def holding(name: str, known: Iterable[str]) -> list[str]:
    """The keys that hold all the words of a name, in themselves or in full; only the one that is just it, if one is."""
    return [key for key, _ in _holding(name, _spelled(known))]


_Spelled: TypeAlias = dict[str, tuple[str, str]]
"""From what may be written for a known name to its key, and to how advice shows it."""


def _holding(name: str, spelled: _Spelled) -> list[tuple[str, str]]:
    text = _plain(name)
    if text in spelled:
        return [spelled[text]]
    words = set(text.split())
    return _once(row for spelling, row in spelled.items() if words and words <= set(spelling.split()))


def _once(rows: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """Each key as it was found first."""
    found: dict[str, str] = {}
    for row in rows:
        found.setdefault(*row)
    return list(found.items())


def _spelled(known: Iterable[str]) -> _Spelled:
    found = {_plain(key): (key, repr(key)) for key in known}
    for key, row in known.items() if isinstance(known, Mapping) else ():
        # 'Lats (latissimus dorsi)' may be written as a whole, or as either of its parts.
        parts = re.split(r" *[()]", getattr(row, "name", None) or "")
        for text, shown in ((" ".join(parts), parts[0]), *zip(parts, parts, strict=True)):
            full = "" if _plain(shown) == _plain(key) else f" ({shown})"
            found.setdefault(_plain(text), (key, f"{key!r}{full}"))
    found.pop("", None)
    return found


def _plain(name: str) -> str:
    """A name by its words alone, whatever joins them."""
    return " ".join(re.findall(r"[^\W_]+", name.casefold()))
