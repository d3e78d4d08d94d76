"""The nouns of the answers that change a week: differences, variants, alternatives, re-plans, sweeps, audits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from enum import StrEnum

from pydantic import Field, JsonValue

from scheduler.domain.answers import Explanation
from scheduler.domain.brief import AgeBand, Status
from scheduler.domain.catalogue import Grade
from scheduler.domain.plan import CautionNote, Plan, Zone
from scheduler.domain.units import ClockTime, Day, Frozen


class Move(Frozen):
    """A session that goes to another day, time or place."""

    kind: str
    name: str
    from_start: dt.datetime
    from_place: str | None
    to_start: dt.datetime
    to_place: str | None
    sentence: str


class SessionChange(Frozen):
    """A session that one plan has and the other has not."""

    kind: str
    name: str
    start: dt.datetime
    place: str | None
    sentence: str


class SetsChange(Frozen):
    exercise: str
    name: str
    before: int
    after: int


class ContentChange(Frozen):
    """What changes inside a session that both plans have."""

    kind: str
    name: str
    start: dt.datetime
    """In the new plan."""
    added: tuple[str, ...] = ()
    """Exercises, by key."""
    dropped: tuple[str, ...] = ()
    sets: tuple[SetsChange, ...] = ()
    sentence: str


class LedgerChange(Frozen):
    target: str
    name: str
    before: float
    """Counted sets."""
    after: float
    hits_before: int
    hits_after: int
    aim: float | None = None
    """The aim in the new plan; None where the muscle has no goal."""


class TierChange(Frozen):
    tier: int
    name: str
    before: int | None
    """None where there is no plan."""
    after: int | None
    proved: bool
    """Whether both values are proved."""

    @property
    def cost(self) -> int | None:
        return None if self.before is None or self.after is None else self.after - self.before


class RuleChange(Frozen):
    """A switch that is broken in one of the plans at least, and not by as much in the other."""

    switch: str
    sentence: str
    before: str
    """The breach in words; empty where it is kept."""
    after: str
    worse: bool


class Difference(Frozen):
    """What is different in a plan against another; done sessions are on neither side."""

    moved: tuple[Move, ...] = ()
    added: tuple[SessionChange, ...] = ()
    dropped: tuple[SessionChange, ...] = ()
    contents: tuple[ContentChange, ...] = ()
    ledger: tuple[LedgerChange, ...] = ()
    rules: tuple[RuleChange, ...] = ()
    tiers: tuple[TierChange, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the two plans have the same sessions with the same contents."""
        return not (self.moved or self.added or self.dropped or self.contents)

    @property
    def moves(self) -> int:
        """Sessions moved, added or dropped, and exercises added or dropped."""
        exercises = sum(len(c.added) + len(c.dropped) for c in self.contents)
        return len(self.moved) + len(self.added) + len(self.dropped) + exercises


class Variant(Frozen):
    """A brief with a patch: its plan, and the difference to the base plan."""

    name: str
    patch: Mapping[str, JsonValue]
    plan: Plan
    difference: Difference
    reasons: Explanation | None = None
    """Where there is no such week: what clashes, and what would mend it."""


class WhatIf(Frozen):
    base: Plan
    variants: tuple[Variant, ...]


class Demand(Frozen):
    """What is asked with "why not": a session, or an exercise in one."""

    kind: str | None = None
    day: Day | None = None
    start: ClockTime | None = None
    place: str | None = None
    exercise: str | None = None
    sets: int | None = Field(default=None, ge=1, le=30)


class Possibility(StrEnum):
    ALREADY = "it is so already"
    POSSIBLE = "possible, at a cost"
    FREE = "possible, at no cost"
    IMPOSSIBLE = "impossible"
    UNKNOWN = "not found out in time"


class WhyNot(Frozen):
    """Whether a demand can be met, and at what cost."""

    demand: Demand
    sentence: str
    possibility: Possibility
    base: Plan
    plan: Plan | None = None
    """The plan with the demand; None where there is none."""
    difference: Difference | None = None
    verified: bool = False
    """For an impossible demand: whether two models of the week, each searched by itself, say so."""
    reasons: Explanation | None = None
    """For an impossible demand: the conflicts and their mends, which leave the demand itself alone."""
    cautions: tuple[CautionNote, ...] = ()


class Alternative(Frozen):
    """A plan nearly as good as the best, but different."""

    plan: Plan
    difference: Difference
    """Against the best plan: what it trades."""
    moves: tuple[int, ...]
    """Moves to the best plan, then to each alternative before it."""


class Alternatives(Frozen):
    best: Plan
    loss: Mapping[int, int]
    """By tier: the most that an alternative may cost there."""
    apart: int
    alternatives: tuple[Alternative, ...]
    complete: bool
    """True where it is proved that there are no more. Where exercises can stand in for each other, or a kind has
    several sessions, moves are counted cautiously: then there may be more though none is found."""
    truncated: bool = False
    """The time ran out before as many as were asked for were found."""


class Cause(Frozen):
    """Why a session could not stay as it was."""

    rule: str
    sentence: str


class ReplannedMove(Frozen):
    """One change of a re-plan, with the rules that forced it."""

    sentence: str
    causes: tuple[Cause, ...]


class Replanned(Frozen):
    """The rest of a week, planned anew from a moment on."""

    now: dt.datetime
    unchanged: bool
    """Nothing needs to change: the plan is the one from before."""
    sentence: str
    plan: Plan
    moves: tuple[ReplannedMove, ...] = ()
    difference: Difference = Difference()
    reasons: Explanation | None = None
    """Where the rest of the week is impossible: the conflicts and their mends."""


class Vary(Frozen):
    """A number of the brief and the values it takes."""

    path: str
    values: tuple[JsonValue, ...] = Field(min_length=1, max_length=200)
    unit: str = ""


class SweepPoint(Frozen):
    values: tuple[JsonValue, ...]
    status: str
    proved: bool
    """Whether the plan is proved best, or its absence proved."""
    figures: Mapping[str, float | None]
    """By figure: tiers, sessions, minutes, sets, counted sets of muscles; None where there is no plan."""


class Sweep(Frozen):
    varied: tuple[Vary, ...]
    units: Mapping[str, str]
    """By figure, in the order of the table: its unit."""
    points: tuple[SweepPoint, ...]
    cautions: tuple[CautionNote, ...]


class Verdict(StrEnum):
    MEETS = "meets it"
    BELOW = "below it"
    ABOVE = "above it"
    BOTH = "below it and above it"
    SILENT = "not known from the plan"


class Figure(Frozen):
    """A figure of a published guideline."""

    key: str
    measure: str
    """What is measured in the plan; see scheduler/answers/audit.py."""
    least: float | None = None
    most: float | None = None
    status: Status | None = None
    """Only for lifters of this training status."""
    age_band: AgeBand | None = None
    zone: Zone | None = None
    """Only for sets of this rep zone."""
    sentence: str
    source: str
    grade: Grade


class Guideline(Frozen):
    name: str
    figures: tuple[Figure, ...]


class Guidelines(Frozen):
    """The guidelines that come with the program, by key."""

    guidelines: Mapping[str, Guideline]


class AuditFinding(Frozen):
    """A plan held against one figure of a guideline."""

    guideline: str
    key: str
    sentence: str
    """What the guideline says."""
    found: str
    """What the plan has."""
    verdict: Verdict
    source: str
    grade: Grade


class GuidelineConflict(Frozen):
    """Two guidelines that ask for different things: shown, not settled."""

    measure: str
    sentence: str
    guidelines: tuple[str, ...]


class Audit(Frozen):
    findings: tuple[AuditFinding, ...]
    conflicts: tuple[GuidelineConflict, ...]
    cautions: tuple[CautionNote, ...]
