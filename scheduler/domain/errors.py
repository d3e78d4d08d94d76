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
_LIKE = 0.6
"""How like, of 1; below it 'upper' is told of 'tue'."""
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


def nearest(name: str, known: Iterable[str], otherwise: str = "") -> str:
    """Advice that suggests the known names that hold the words of the given one, or else those most like it.

    Rows that ``known`` maps its keys to may have a full name, as those of the catalogue have: it leads to its key.
    Where none is like it, it says ``otherwise``, or some of what there is.
    """
    known = known if isinstance(known, Mapping) else list(known)
    spelled = _spelled(known)
    found = [suggested for _, suggested in _holding(name, spelled)]
    if not found:
        close = difflib.get_close_matches(_plain(name), spelled, n=2 * _MOST_CLOSE, cutoff=_LIKE)
        found = [suggested for _, suggested in _once(spelled[text] for text in close)][:_MOST_CLOSE]
    if found:
        # The last one is rather named than counted.
        shown = found if len(found) <= _MOST_SHOWN + 1 else found[:_MOST_SHOWN]
        more = [f"one of {len(found) - len(shown)} more"] if len(found) > len(shown) else []
        return f"Did you mean {listed([*shown, *more], 'or')}?"
    if otherwise or not known:
        return otherwise or "None are defined."
    return f"Known names begin with: {', '.join(sorted(known)[:_MOST_SHOWN])}."


def spelling(name: str, known: Iterable[str]) -> str | None:
    """The key that a name spells, itself or in full."""
    return _spelled(known).get(_plain(name), (None, ""))[0]


def holding(name: str, known: Iterable[str]) -> list[str]:
    """The keys that hold all the words of a name, in themselves or in full; only the one that is just it, if one is."""
    return [key for key, _ in _holding(name, _spelled(known))]


_Spelled: TypeAlias = dict[str, tuple[str, str]]
"""From what may be written for a known name to its key, and to how advice shows it."""


def _holding(name: str, spelled: _Spelled) -> list[tuple[str, str]]:
    text = _plain(name)
    if text in spelled:
        return [spelled[text]]
    words = _words(text)
    return _once(row for known, row in spelled.items() if words and words <= _words(known))


def _words(text: str) -> set[str]:
    """The words of a name, plurals as their singular: squats, lats, but not abs."""
    return {word.removesuffix("s") if len(word) > 3 else word for word in text.split()}


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
