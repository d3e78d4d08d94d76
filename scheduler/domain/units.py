"""The units of the domain: time slots, quarter sets, weekdays, ranges.

Inside the domain there are no floats. Volumes are whole *quarter sets* (a set that counts half is 2), time points
are whole *slots* of five minutes counted from Monday 00:00 of the brief's week as elapsed time, and loads are
whole grams. Floats appear only where a person reads or writes a number.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from scheduler.domain.plain_types import as_written

SLOT_MINUTES = 5
SLOTS_PER_HOUR = 60 // SLOT_MINUTES
LONGEST_SLOTS = 4 * SLOTS_PER_HOUR
"""No session is planned longer than this."""
QUARTERS_PER_SET = 4
TICK_SECONDS = 15
"""Session time is added up in ticks of 15 s, then rounded up to whole slots."""
TICKS_PER_SLOT = SLOT_MINUTES * 60 // TICK_SECONDS
GRAMS_PER_KG = 1000


class Frozen(BaseModel):
    """Base of every noun: immutable, no unknown fields, no NaN or infinity, no value of another type than was asked."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_max_length=2000)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return as_written(handler(source))


MOST_LABEL = 300
Label = Annotated[str, Field(max_length=MOST_LABEL)]
"""What a person calls something. It comes to stand in sentences, which have room for a few of them."""
ClockTime = Annotated[dt.time, WithJsonSchema({"type": "string", "format": "time-local", "examples": ["18:00"]})]
"""A time on the week's clock. JSON Schema's own format ``time`` would ask for an offset (RFC 3339)."""
Moment = Annotated[dt.datetime, WithJsonSchema({"type": "string", "examples": ["2026-12-02T12:00"]})]
"""A date and time with an offset, or on the week's clock. JSON Schema's ``date-time`` would ask for the offset."""


class Day(StrEnum):
    """Days of the week, in ISO order."""

    MON = "mon"
    TUE = "tue"
    WED = "wed"
    THU = "thu"
    FRI = "fri"
    SAT = "sat"
    SUN = "sun"

    @property
    def number(self) -> int:
        """0 for Monday to 6 for Sunday."""
        return DAYS.index(self)

    @property
    def full_name(self) -> str:
        return _FULL_NAMES[self.number]


DAYS = tuple(Day)
_FULL_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class CountRange(Frozen):
    """A range of whole numbers, both ends included; a single number means exactly that many."""

    least: int = Field(default=0, ge=0, le=10_000)
    most: int = Field(ge=0, le=10_000)

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """A bare number is as good as a range with equal ends."""
        schema = handler.resolve_ref_schema(handler(core_schema))
        return {"anyOf": [{"type": "integer", "minimum": 0}, schema]} if handler.mode == "validation" else schema

    @model_validator(mode="before")
    @classmethod
    def _from_number(cls, value: Any) -> Any:
        if isinstance(value, int) and not isinstance(value, bool):
            return {"least": value, "most": value}
        return value

    @model_validator(mode="after")
    def _ordered(self) -> CountRange:
        if self.least > self.most:
            raise ValueError(f"the range runs backwards: least {self.least} is above most {self.most}; swap them")
        return self


def _whole_quarters(value: Any) -> Any:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value * QUARTERS_PER_SET % 1 != 0:
        raise ValueError(f"{value} is no whole number of quarter sets; use steps of 0.25")
    return value


MOST_SETS = 200.0
Sets = Annotated[float, BeforeValidator(_whole_quarters), Field(ge=0, le=MOST_SETS)]
"""Weekly or session sets as a person writes them: 12 or 12.5, in steps of a quarter set."""


def quarter_sets(sets: float) -> int:
    """Whole quarter sets of a number of sets that is a multiple of 0.25."""
    return round(sets * QUARTERS_PER_SET)


def sets_from_quarters(quarters: int) -> float:
    return quarters / QUARTERS_PER_SET


def slots_from_hours(hours: float) -> int:
    """Whole slots of a number of hours, rounded up: asking for 47.99 h never grants 47.9 h."""
    return -int(-hours * SLOTS_PER_HOUR // 1)


def hours_from_slots(slots: int) -> float:
    return slots / SLOTS_PER_HOUR
