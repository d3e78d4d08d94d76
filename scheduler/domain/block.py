"""The nouns of a block: weeks that build, easy weeks among them, and what is said of all of them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, JsonValue, model_validator

from scheduler.domain.brief import Brief, Lift, Names, SessionRecord
from scheduler.domain.log import WeekLog
from scheduler.domain.plan import CautionNote, Plan, PlanStatus
from scheduler.domain.units import MOST_LABEL, Frozen

BLOCK_FORMAT: Literal["weekwright-block-1"] = "weekwright-block-1"
MOST_WEEKS = 26
OUTLOOK = (
    "An outlook: planned before it was known what would be done in the weeks before; only its loads are those of the "
    "last log."
)

Percent = Annotated[int, Field(ge=0, le=200)]
Patches = Mapping[str, Mapping[str, JsonValue]]


def numbered(title: str, week: int) -> str:
    """The title of a week: that of the brief, cut where it would be longer than a title may be."""
    suffix = f", week {week}"
    room = MOST_LABEL - len(suffix)
    return f"{title if len(title) <= room else title[: room - 1] + '…'}{suffix}"


def unnumbered(title: str) -> str:
    """The title without the number of a week."""
    return re.sub(r", week \d+$", "", title)


class WeekRole(StrEnum):
    BUILD = "build"
    EASY = "easy"


class BlockSettings(Frozen):
    """How weeks become a block. What is left out comes from the evidence."""

    weeks: int = Field(default=8, ge=1, le=MOST_WEEKS)
    """Weeks that build; easy weeks come on top."""
    easy_weeks: int = Field(default=1, ge=0, le=MOST_WEEKS)
    """The building weeks are split into so many runs, as even as can be, and an easy week ends each."""
    path: tuple[Percent, ...] | None = None
    """What each building week aims at: 0 is a goal's least, 100 its aim, 200 its most."""
    reps_in_reserve: tuple[Annotated[int, Field(ge=0, le=10)], ...] | None = None
    """Reps in reserve of each building week."""
    easy_sets_percent: int | None = Field(default=None, ge=10, le=90)
    """What an easy week keeps of the sets of every exercise, rounded up to whole sets."""
    easy_reps_percent: int | None = Field(default=None, ge=50, le=100)
    """What an easy week keeps of the reps of a set, rounded up; a set stays in its rep zone."""
    turnover_weeks: int | None = Field(default=None, ge=1, le=MOST_WEEKS)
    """Accessory exercises change after so many building weeks."""
    main: Names = ()
    """Main lifts, kept over the whole block; wanted and pinned exercises are among them by themselves."""
    distinct: Mapping[str, Annotated[int, Field(ge=0, le=50)]] = Field(default_factory=dict)
    """Per muscle or group: at least so many distinct exercises that train it directly, over the block. Those that are
    missing must come when exercises change, unless a week would be impossible with them. For a muscle with a goal that
    is not named here the evidence has a number, which is wished for."""
    patches: Patches = Field(default_factory=dict)
    """JSON merge patches of the brief by weeks, easy ones counted too: "3", "3-4" or "5-" for all from the fifth."""

    @model_validator(mode="after")
    def _fitting(self) -> BlockSettings:
        if self.easy_weeks > self.weeks:
            raise ValueError(f"{self.easy_weeks} easy weeks among {self.weeks} that build; ask for fewer")
        for name, values in (("path", self.path), ("reps_in_reserve", self.reps_in_reserve)):
            if values is not None and len(values) != self.weeks:
                raise ValueError(f"{name} has {len(values)} numbers for {self.weeks} weeks; write one for each")
        return self


class BlockWeek(Frozen):
    """One week of a block, as it was planned."""

    number: int
    role: WeekRole
    phase: int
    """Counted from 1; with it the accessory exercises change."""
    path_percent: int | None
    """None in an easy week."""
    reps_in_reserve: int
    patch: str = ""
    """The keys of the patches that hold this week."""
    plan: Plan
    moved: tuple[str, ...] = ()
    """Sessions that are not at their usual day and time."""
    notes: tuple[str, ...] = ()
    outlook: bool = False
    """Planned before what was done in the weeks before it was known."""
    left_out: Names = ()
    """Exercises of an outlook that hurt since it was planned: they come only if a log says that they are cleared."""


class MuscleWeek(Frozen):
    """What one week holds for a muscle or group."""

    aim: float | None
    direct: float
    counted: float
    hits: int
    load_kg: float | None
    """Sets x reps x kilograms of the direct sets whose load is known; None where none is."""
    reps_in_reserve: int


class BlockRow(Frozen):
    """A muscle or group over the block."""

    target: str
    name: str
    is_group: bool
    weeks: tuple[MuscleWeek, ...]
    exercises: tuple[str, ...]
    """The distinct exercises that train it directly, by name."""
    distinct_asked: int | None = None


class BlockFinding(Frozen):
    """What the block's referee says of one demand; the figures stand in ``found``."""

    key: str
    sentence: str
    kept: bool
    must: bool
    found: tuple[str, ...] = ()
    source: str = ""


def worst_status(weeks: Iterable[BlockWeek]) -> PlanStatus:
    """How the worst of some weeks ended; OPTIMAL where each is proved best after those before it."""
    statuses = {week.plan.status for week in weeks}
    worst = (PlanStatus.IMPOSSIBLE, PlanStatus.STOPPED, PlanStatus.FEASIBLE)
    return next((status for status in worst if status in statuses), PlanStatus.OPTIMAL)


class Block(Frozen):
    format: Literal["weekwright-block-1"] = BLOCK_FORMAT
    title: str
    brief: Brief
    """What is asked of a week; busy times are those of the whole block."""
    settings: BlockSettings
    status: str
    method: tuple[str, ...]
    """How the weeks hang together, and what was not shown."""
    rhythm: Mapping[str, tuple[SessionRecord, ...]] = Field(default_factory=dict)
    """By patch: the usual days and times, as a week like the first; empty where no week can repeat."""
    weeks: tuple[BlockWeek, ...]
    rows: tuple[BlockRow, ...]
    distinct_exercises: int
    findings: tuple[BlockFinding, ...]
    cautions: tuple[CautionNote, ...]
    logs: tuple[WeekLog, ...] = ()
    lifts: tuple[Lift, ...] | None = None
    """The lifts that loads come from since the last log; None: those of the brief."""
    behind: Mapping[str, int] = Field(default_factory=dict)
    """By muscle or group: how many weeks its path stands back, because work was missed."""
    easy_from_log: tuple[int, ...] = ()
    """Weeks made easy after a log."""

    @property
    def holds(self) -> bool:
        """Whether every week has a plan and the block's referee finds no must broken."""
        return all(week.plan.tiers for week in self.weeks) and all(f.kept for f in self.findings if f.must)

    @property
    def impossible(self) -> BlockWeek | None:
        """The week that cannot be after those before it."""
        return next((week for week in self.weeks if week.plan.status is PlanStatus.IMPOSSIBLE), None)

    def monday(self, number: int) -> dt.date:
        return self.brief.week.start + dt.timedelta(days=7 * (number - 1))
