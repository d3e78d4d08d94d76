"""Errors that a user can mend. Each names the place in the document, the value, and what to try."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass


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
    """Advice that suggests the known names most like the given one."""
    candidates = list(known)
    close = difflib.get_close_matches(name, candidates, n=3, cutoff=0.5)
    if close:
        return f"Did you mean {' or '.join(repr(c) for c in close)}?"
    shown = ", ".join(sorted(candidates)[:8])
    return f"Known names begin with: {shown}." if shown else "None are defined."
