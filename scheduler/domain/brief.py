"""The brief: all that is asked of one week.

A brief holds what a person wrote. Defaults that need the catalogue, the rules or the calendar are filled in later,
when the brief is settled into an instance (:mod:`scheduler.instance`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, JsonValue, field_validator, model_validator

from scheduler.domain.catalogue import Caution
from scheduler.domain.units import DAYS, ClockTime, CountRange, Day, Frozen, Label, Moment, Sets


def _as_tuple(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Days = Annotated[
    tuple[Day, ...],
    BeforeValidator(_as_tuple, json_schema_input_type=Day | tuple[Day, ...]),
    Field(min_length=1, max_length=7),
]
Names = Annotated[tuple[str, ...], BeforeValidator(_as_tuple, json_schema_input_type=str | tuple[str, ...])]


class Status(StrEnum):
    """Training status, as in the position stands."""

    NOVICE = "novice"
    INTERMEDIATE = "intermediate"
    ADVANCED = "advanced"


class AgeBand(StrEnum):
    UNDER_18 = "under_18"
    ADULT = "18_49"
    FIFTY = "50_64"
    SIXTY_FIVE = "65_plus"


class WeekFrame(Frozen):
    """Which week, on which clock, and whether it stands for itself or repeats."""

    start: dt.date
    """Its Monday."""
    zone: str = "UTC"
    """IANA zone name."""
    repeats: bool = False
    """The week is a ring: Sunday touches the next Monday."""

    @field_validator("start")
    @classmethod
    def _monday(cls, value: dt.date) -> dt.date:
        if not 1970 <= value.year <= 2200:
            raise ValueError(f"{value} lies outside 1970 to 2200")
        if value.weekday() != 0:
            monday = value - dt.timedelta(days=value.weekday())
            raise ValueError(f"{value} is a {DAYS[value.weekday()].full_name}; the week starts on its Monday, {monday}")
        return value

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except Exception:
            raise ValueError(
                f"{value!r} is no IANA time zone; write one like Europe/Berlin or America/New_York"
            ) from None
        return value

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)


class Lift(Frozen):
    """A recent hard set: from it a one-repetition maximum is estimated."""

    exercise: str
    load_kg: float = Field(gt=0, le=1000)
    reps: int = Field(ge=1, le=36)
    reps_in_reserve: int = Field(default=0, ge=0, le=10)


UNNAMED = "lifter"
"""Of whom a brief does not name."""
HISTORY_DAYS = 14
"""How far back the history of a brief may lie."""
MOST_CONCESSION = 4000
"""As far as a brief can let a switch give way: farther than any does."""


class Lifter(Frozen):
    name: Label = UNNAMED
    status: Status = Status.INTERMEDIATE
    age_band: AgeBand = AgeBand.ADULT
    cautions: tuple[Caution, ...] = ()
    lifts: tuple[Lift, ...] = ()

    @property
    def goes_gently(self) -> bool:
        """Whether heavy sets are left out and more reps stay in reserve where the brief names neither: in pregnancy,
        under 18, and for novices of 65 and more (evidence row ``heavy_sets_left_out_for``)."""
        old = self.age_band is AgeBand.SIXTY_FIVE and self.status is Status.NOVICE
        return old or self.age_band is AgeBand.UNDER_18 or Caution.PREGNANCY in self.cautions

    @property
    def begins(self) -> bool:
        """Whether exercises that ask for practice are not offered (evidence row ``practised_left_out_for``)."""
        return self.status is Status.NOVICE or self.age_band is AgeBand.UNDER_18

    @property
    def stays_short_of_failure(self) -> bool:
        """Whether more reps stay in reserve, over a block too: of novices, under any caution, of who goes gently."""
        return self.status is Status.NOVICE or bool(self.cautions) or self.goes_gently


class EquipmentItem(Frozen):
    """One sort of equipment at a place. Limits left out come from the catalogue."""

    count: int | None = Field(default=None, ge=1, le=100)
    """Two exercises that both need it can be paired where there are two; left out: one, and of benches, dumbbells,
    bands and kettlebells several."""
    heaviest_kg: float | None = Field(default=None, gt=0, le=1000)
    step_kg: float | None = Field(default=None, gt=0, le=50)


class Place(Frozen):
    """Where one can train. ``base`` names a sort of place in the catalogue whose equipment is there too."""

    name: Label | None = None
    base: str | None = None
    equipment: Mapping[str, EquipmentItem] = Field(default_factory=dict)
    lacks: Names = ()
    """Equipment of the base that is not there."""
    travel_minutes: int = Field(default=0, ge=0, le=600)
    """Minutes of travel kept clear between a busy time and a session here, on either side."""

    @field_validator(
        "equipment", mode="before", json_schema_input_type=tuple[str, ...] | Mapping[str, EquipmentItem | None]
    )
    @classmethod
    def _from_list(cls, value: Any) -> Any:
        if isinstance(value, (list, tuple)) and all(isinstance(name, str) for name in value):
            return {name: {} for name in value}
        if isinstance(value, Mapping):
            return {name: {} if item is None else item for name, item in value.items()}
        return value


class Preference(StrEnum):
    """How glad the lifter is of an opening."""

    PREFERRED = "preferred"
    NEUTRAL = "neutral"
    RELUCTANT = "reluctant"


class Opening(Frozen):
    """When and where the lifter could train: clock times in the brief's zone, on one or several days."""

    day: Days
    start: ClockTime
    end: ClockTime
    place: str
    preference: Preference = Preference.NEUTRAL

    @field_validator("end", mode="before")
    @classmethod
    def _midnight(cls, value: Any) -> Any:
        return "23:59:59" if value in ("24:00", "24:00:00") else value

    @model_validator(mode="after")
    def _forward(self) -> Opening:
        if self.start.tzinfo or self.end.tzinfo:
            raise ValueError("times of an opening are clock times in the week's zone; leave out the offset")
        if self.start >= self.end:
            raise ValueError(
                f"the opening runs backwards: {self.start:%H:%M} to {self.end:%H:%M}; {_forward(self.start, self.end)}"
            )
        return self


def _forward(start: dt.time, end: dt.time) -> str:
    """What is most likely meant by an opening that does not end after it starts."""
    if end == dt.time():
        return "write midnight at its end as 24:00"
    if start == end:
        return "let it end later"
    if start.hour - end.hour >= 12:
        # Through the night it is shorter than it would be the other way round.
        return f"one through the night is two: end it at 24:00 and add one from 00:00 to {end:%H:%M} on the next day"
    return "swap them"


class BusyTime(Frozen):
    """A time the lifter cannot train, usually an event of a calendar."""

    title: Label = "busy"
    start: Moment
    end: Moment

    @model_validator(mode="after")
    def _forward(self) -> BusyTime:
        if (self.start.tzinfo is None) != (self.end.tzinfo is None):
            raise ValueError("start and end must both carry an offset, or neither")
        if self.start > self.end:
            raise ValueError(f"the busy time {self.title!r} runs backwards; swap start and end")
        return self


class AddOn(Frozen):
    """Quick sets of one pattern at the end of a session of another kind."""

    pattern: str
    sets: CountRange | None = None
    sessions: CountRange | None = None
    """How many sessions of the kind carry the add-on; left out: as many as serve."""


class SessionKind(Frozen):
    """A kind of session. ``base`` takes what is left out from a template of the catalogue."""

    base: str | None = None
    name: Label | None = None
    patterns: Names | None = None
    required: Names | None = None
    sets: CountRange | None = None
    minutes: CountRange | None = None
    per_week: CountRange
    lower_body: bool | None = None
    add_on: AddOn | None = None
    days: Days | None = None
    """Only on these days."""
    places: Names | None = None
    """Only at these places."""


class MuscleGoal(Frozen):
    """What is asked for one muscle or group. Sets are counted weekly sets; left out: the default of the evidence."""

    least: Sets | None = None
    aim: Sets | None = None
    most: Sets | None = None
    frequency: CountRange | None = None
    session_cap: Sets | None = None
    recovery_hours: float | None = Field(default=None, ge=0, le=168)
    priority: Literal[1, 2, 3] | None = None
    """1 is the weak point that matters most, 2 and 3 are weak points too: a muscle that is merely kept up has none."""

    @model_validator(mode="after")
    def _ordered(self) -> MuscleGoal:
        given = [(n, v) for n, v in (("least", self.least), ("aim", self.aim), ("most", self.most)) if v is not None]
        for (low_name, low), (high_name, high) in pairwise(given):
            if low > high:
                raise ValueError(f"the sets cross: {low_name} {low:g} is above {high_name} {high:g}; lower one")
        return self


class ExercisePool(Frozen):
    """Which exercises may, should and should not be used."""

    only: Names | None = None
    """Nothing but these; left out: the whole catalogue."""
    wanted: Names = ()
    """Each should be in the week."""
    avoided: Names = ()
    favourites: Names = ()
    most_per_week: Mapping[str, Annotated[int, Field(ge=0, le=14)]] = Field(default_factory=dict)
    least_distinct: Mapping[str, Annotated[int, Field(ge=0, le=20)]] = Field(default_factory=dict)
    """Per muscle or group: at least so many distinct exercises that train it directly."""


class ZoneNumbers(Frozen):
    """One number for each rep zone; left out: the default of the evidence."""

    heavy: int | None = Field(default=None, ge=0, le=600)
    moderate: int | None = Field(default=None, ge=0, le=600)
    light: int | None = Field(default=None, ge=0, le=600)


class Formula(StrEnum):
    """Published formulas for the one-repetition maximum."""

    EPLEY = "epley"
    BRZYCKI = "brzycki"
    LOMBARDI = "lombardi"
    MAYHEW = "mayhew"
    OCONNER = "oconner"
    WATHEN = "wathen"


class Prescription(Frozen):
    """How sets are prescribed, timed and counted; left out: the default of the evidence."""

    reps: ZoneNumbers = ZoneNumbers()
    """Target reps a set."""
    reps_percent: int | None = Field(default=None, ge=50, le=100)
    """What an easy week keeps of the target reps, rounded up; never fewer than suit an exercise or its rep zone."""
    rest_seconds: ZoneNumbers = ZoneNumbers()
    reps_in_reserve: int | None = Field(default=None, ge=0, le=10)
    sets_per_exercise: CountRange | None = None
    warm_up_minutes: int | None = Field(default=None, ge=0, le=60)
    """General warm-up at the head of each session."""
    build_up_minutes: int | None = Field(default=None, ge=0, le=30)
    """Lighter sets before the heavy ones (6 reps and fewer) of each exercise with a load."""
    hit_sets: Sets | None = None
    """Counted sets from which a session hits a muscle."""
    indirect_share: Annotated[Sets, Field(le=1)] | None = None
    """What a set counts for a muscle that it trains indirectly."""
    one_rep_max_formula: Formula | None = None

    @field_validator("sets_per_exercise")
    @classmethod
    def _some_sets(cls, value: CountRange | None) -> CountRange | None:
        if value is not None and not value.most:
            raise ValueError("an exercise has one set at least; write its sets as 2 or {least: 2, most: 4}")
        return value


class DoneExercise(Frozen):
    exercise: str
    sets: int = Field(ge=0, le=50)
    reps: int | None = Field(default=None, ge=1, le=200)
    load_kg: float | None = Field(default=None, gt=0, le=1000)
    reps_in_reserve: int | None = Field(default=None, ge=0, le=10)
    add_on: bool = False
    """Quick sets at the end of a session of another kind: they count, but make no hit."""


class SessionRecord(Frozen):
    """A session on the clock: one that was done, or one of a previous plan."""

    kind: str
    start: Moment
    minutes: int = Field(ge=1, le=600)
    place: str | None = None
    exercises: tuple[DoneExercise, ...] = ()


class PinnedExercise(Frozen):
    """An exercise of a pinned session, with its working sets and their rep zone where they are settled too."""

    exercise: str
    sets: int | None = Field(default=None, ge=1, le=30)
    rep_zone: Literal["heavy", "moderate", "light"] | None = None


class Pin(Frozen):
    """A session, or part of one, that the coach has settled: the solver works around it."""

    kind: str
    day: Day | None = None
    start: ClockTime | None = None
    place: str | None = None
    exercises: tuple[PinnedExercise, ...] = ()
    in_this_order: bool = False
    """The pinned exercises come first, in the order written."""


class Brief(Frozen):
    """All that is asked of one week."""

    title: Label = "Training week"
    story: str | None = None
    """One line that says whose week this is and what is hard about it."""
    week: WeekFrame
    lifter: Lifter = Lifter()
    places: Mapping[Label, Place] = Field(min_length=1)
    openings: tuple[Opening, ...] = Field(min_length=1, max_length=200)
    busy: tuple[BusyTime, ...] = Field(default=(), max_length=5000)
    calendars: Names = ()
    """iCalendar files of busy times, relative to the brief; reading the brief turns them into ``busy``."""
    kinds: Mapping[Label, SessionKind] = Field(min_length=1, max_length=20)
    sessions: CountRange | None = None
    """How many sessions in all; left out: by training status."""
    goals: Mapping[str, MuscleGoal] = Field(default_factory=dict)
    exercises: ExercisePool = ExercisePool()
    prescription: Prescription = Prescription()
    rules: Mapping[str, Mapping[str, JsonValue]] = Field(default_factory=dict)
    """Per rule its mode (must, wish, off), weight and numbers; each rule says what it takes."""
    history: tuple[SessionRecord, ...] = Field(default=(), max_length=60)
    """Sessions of the last 14 days."""
    done: tuple[SessionRecord, ...] = Field(default=(), max_length=14)
    """Sessions of this week that are already done."""
    pinned: tuple[Pin, ...] = Field(default=(), max_length=14)
    previous: tuple[SessionRecord, ...] = Field(default=(), max_length=14)
    """The sessions of a previous plan for this week: the new plan changes as little of them as it can."""
    not_before: Moment | None = None
    """Nothing that is still to be planned starts before this moment: the week has come so far."""
    musts: Names = ()
    """Switches of wishes that are raised to musts; a plan lists its switches by name."""
    concessions: Mapping[str, Annotated[int, Field(ge=1, le=MOST_CONCESSION)]] = Field(default_factory=dict)
    """By switch of a must: how far it may give way, in its base unit. A mend is a set of these."""
    expect: Mapping[str, JsonValue] | None = None
    """What a scenario must show; read by tests, ignored by the planner."""

    def raised(self, switch: str) -> Brief:
        """This brief with a wish raised to a must, which gives way by nothing."""
        conceded = {name: amount for name, amount in self.concessions.items() if name != switch}
        return self.model_copy(update={"musts": (*self.musts, switch), "concessions": conceded})
