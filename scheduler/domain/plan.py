"""The plan: the answer to a brief, and all that the referee says about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from enum import StrEnum
from typing import Literal

from pydantic import Field

from scheduler.domain.brief import Brief
from scheduler.domain.units import Frozen

PLAN_FORMAT: Literal["weekwright-plan-1"] = "weekwright-plan-1"


class Zone(StrEnum):
    """Rep zones: heavy up to 6 reps, moderate 6 to 12, light 12 and more (as the NSCA goal table parts them)."""

    HEAVY = "heavy"
    MODERATE = "moderate"
    LIGHT = "light"

    @classmethod
    def of(cls, reps: int) -> Zone:
        """The zone of a number of reps."""
        if reps <= 6:
            return cls.HEAVY
        return cls.MODERATE if reps <= 12 else cls.LIGHT


class Role(StrEnum):
    ACTIVATION = "activation"
    MAIN = "main"
    ADD_ON = "add_on"


class Entry(Frozen):
    """One exercise in a session, with its prescription."""

    exercise: str
    name: str
    role: Role = Role.MAIN
    sets: int = Field(ge=1, le=50)
    reps: int = Field(ge=1, le=200)
    """Target reps a set."""
    zone: Zone
    reps_in_reserve: int = Field(ge=0, le=10)
    rest_seconds: int = Field(ge=0, le=1800)
    load_kg: float | None = None
    """Of one dumbbell, kettlebell or disc; None where no recent lift tells."""
    per_side: bool = False
    """Whether the reps are of each side, one after the other."""
    one_of_two: bool = False
    """Whether the load is of one dumbbell, kettlebell or disc where there may be two."""
    pair: int | None = None
    """Entries of one session with the same number alternate their sets and share rests."""


class PlannedSession(Frozen):
    kind: str
    name: str
    start: dt.datetime
    end: dt.datetime
    place: str | None
    state: Literal["planned", "pinned", "done"] = "planned"
    entries: tuple[Entry, ...]

    @property
    def minutes(self) -> int:
        return round((self.end - self.start).total_seconds() / 60)

    @property
    def working_sets(self) -> int:
        """Sets of its main work and its add-on; light activation sets are none."""
        return sum(entry.sets for entry in self.entries if entry.role is not Role.ACTIVATION)


class LedgerRow(Frozen):
    """Counted sets of one muscle or group over the week."""

    target: str
    name: str
    is_group: bool
    direct: float
    """Sets that train it directly."""
    counted: float
    """Direct sets plus the counted fraction of indirect ones; for a group each set counts once."""
    least: float | None = None
    aim: float | None = None
    most: float | None = None
    hits: int
    hours_between_hits: tuple[float, ...] = ()
    """Elapsed hours from the end of one hit to the start of the next, in order; in a repeating week around the ring."""
    priority: int | None = None
    recovery_hours: float | None = None
    """Hours asked between two hits; None where nothing is asked."""
    sets_by_session: tuple[float, ...] = ()
    """Counted sets of each session, in the plan's order, add-ons included."""
    hit_sessions: tuple[int, ...] = ()
    """Which sessions hit it, counted from 0."""


class Mode(StrEnum):
    MUST = "must"
    WISH = "wish"
    OFF = "off"


class Finding(Frozen):
    """One switch of a rule, looked at: kept, or broken by how much."""

    rule: str
    switch: str
    mode: Mode
    sentence: str
    """What the switch asks, in words with figures."""
    breach: int
    """In the switch's base unit; 0 when kept."""
    breach_text: str
    """The breach in words with figures; empty when kept."""
    unit: str
    conceded: int = 0
    """By how much the brief lets it give way."""
    cost: int = 0
    """What the breach of a wish costs in its tier."""
    evidence: tuple[str, ...] = ()
    """Keys of the evidence rows behind the numbers."""
    sessions: tuple[int, ...] = ()
    """Numbers of the one or two sessions, from 0, without any of which it would be kept better; empty where more or
    none make the breach."""

    @property
    def broken(self) -> bool:
        """Whether it gives way by more than the brief concedes."""
        return self.breach > self.conceded


class RuleReport(Frozen):
    """One rule over the whole plan; a rule with nothing to say is listed too."""

    rule: str
    title: str
    tier: int
    mode: Mode
    kept: bool
    measure: bool = False
    """True for what is merely kept as small as possible: it is never called broken."""
    cost: int
    findings: tuple[Finding, ...]


class TierResult(Frozen):
    """One tier: its value, the bound that was proved, and whether they meet."""

    tier: int
    name: str
    value: int
    bound: int
    proved: bool
    terms: Mapping[str, int] = Field(default_factory=dict)
    """Cost per rule."""


class PlanStatus(StrEnum):
    OPTIMAL = "proved best"
    FEASIBLE = "feasible with bound"
    IMPOSSIBLE = "impossible"
    STOPPED = "stopped"
    CHECKED = "checked"
    """A plan that was handed in: refereed, not solved."""


class Fingerprint(Frozen):
    version: str
    seed: int
    brief_sha256: str
    catalogue_sha256: str


class Timings(Frozen):
    """Wall-clock seconds, unless said otherwise; the only part of a plan that differs between two runs."""

    build_seconds: float = 0.0
    solve_seconds: float = 0.0
    referee_seconds: float = 0.0
    tier_seconds: tuple[float, ...] = ()
    """By tier; what several took together stands at the first of them."""
    tier_deterministic_seconds: tuple[float, ...] = ()
    """The solver's own count of its work, which repeats where the clock does not."""


class CautionNote(Frozen):
    """A caution shown with every plan."""

    key: str
    text: str
    source: str


class Plan(Frozen):
    format: Literal["weekwright-plan-1"] = PLAN_FORMAT
    status: PlanStatus
    title: str
    brief: Brief
    sessions: tuple[PlannedSession, ...]
    ledger: tuple[LedgerRow, ...]
    rules: tuple[RuleReport, ...]
    tiers: tuple[TierResult, ...]
    cautions: tuple[CautionNote, ...]
    notes: tuple[str, ...] = ()
    fingerprint: Fingerprint
    timings: Timings = Timings()
