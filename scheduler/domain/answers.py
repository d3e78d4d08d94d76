"""The nouns of the answers to why: conflicts, mends, and the price of a wish."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from scheduler.domain.units import Frozen

EXPLANATION_FORMAT: Literal["weekwright-explanation-1"] = "weekwright-explanation-1"
SHORTFALL_FORMAT: Literal["weekwright-shortfall-1"] = "weekwright-shortfall-1"


class Blamed(Frozen):
    """A switch that has its part in a conflict."""

    switch: str
    rule: str
    sentence: str
    """What it asks, with its figures."""
    evidence: tuple[str, ...] = ()
    """Keys of the evidence rows behind the figures."""


class Conflict(Frozen):
    """Musts that cannot hold together. Without members: what is past or pinned down clashes by itself."""

    members: tuple[Blamed, ...]
    sentences: tuple[str, ...]
    """What they ask, in order; what can be said in one sentence is."""
    verified: bool
    """Each member was shown necessary: without it the others hold together."""
    confirmed: bool
    """A model of its own, in which only these are musts, has no week either."""

    @property
    def told(self) -> str:
        if len(self.members) == 1:
            return "this cannot hold, whatever else gives way"
        return "these cannot hold together"


class Change(Frozen):
    """One must that gives way."""

    switch: str
    rule: str
    amount: int
    """By how much, in its base unit."""
    unit: str
    sentence: str
    """What that means, with the new figure."""
    cost: int


class Mend(Frozen):
    """Changes that together make the week possible."""

    changes: tuple[Change, ...]
    cost: int
    verified: bool
    """A week that keeps every other must was found, and refereed."""
    minimal: bool
    """With any one of the changes a unit smaller, and the others as they are, no week exists."""
    patch: Mapping[str, Mapping[str, int]]
    """The change as a JSON merge patch of the brief."""


class Explanation(Frozen):
    """Why a brief is impossible, and what would make it possible."""

    format: Literal["weekwright-explanation-1"] = EXPLANATION_FORMAT
    title: str
    possible: bool | None
    """None where the time did not suffice to tell."""
    conflicts: tuple[Conflict, ...] = ()
    every_conflict: bool = False
    """There is no other conflict."""
    mends: tuple[Mend, ...] = ()
    """Cheapest first."""
    every_mend: bool = False
    """No other set of demands can be let give way, where a kind gets at most one session more than it may have, or as
    many more as the kinds together lack of the sessions that are asked for in all."""
    truncated: bool = False
    """The time ran out before all that was asked was found and shown."""
    seconds: float = 0.0
    """Wall-clock time taken; no part of the answer."""


class Price(Frozen):
    """What a tier of the plan comes to without and with a demand."""

    tier: int
    name: str
    before: int
    after: int
    proved: bool
    """Both values are proved least."""


class GivesWay(Frozen):
    """A wish that falls shorter in return."""

    switch: str
    sentence: str
    before: str
    """How far it falls short without the demand; empty where it is kept."""
    after: str


class Shortfall(Frozen):
    """Why a wish falls short, or what it would cost to grant it."""

    format: Literal["weekwright-shortfall-1"] = SHORTFALL_FORMAT
    switch: str
    sentence: str
    can_be_met: bool | None
    """Whether some week that keeps every must grants the wish in full; None where the time did not suffice."""
    explanation: Explanation
    """Of the brief with the wish raised to a must; mends leave the wish itself alone."""
    prices: tuple[Price, ...] = ()
    """Where it can be met: what every tier comes to."""
    gives_way: tuple[GivesWay, ...] = ()
    truncated: bool = False
