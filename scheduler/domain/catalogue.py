"""The nouns of the catalogue: muscles, patterns, equipment, exercises, session-kind templates, evidence.

The rows themselves are plain YAML in ``scheduler/data`` that a coach can read and correct.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import Literal

from pydantic import Field, field_validator, model_validator

from scheduler.domain.units import TICK_SECONDS, CountRange, Frozen


class Caution(StrEnum):
    """What a lifter may flag. A caution changes the rules; it never promises safety."""

    LOWER_BACK = "lower_back"
    SHOULDER = "shoulder"
    KNEE = "knee"
    PREGNANCY = "pregnancy"

    @property
    def full_name(self) -> str:
        return self.value.replace("_", " ")


class Size(StrEnum):
    LARGE = "large"
    SMALL = "small"


class Muscle(Frozen):
    """One muscle, or one part of a muscle that training can address on its own."""

    name: str
    group: str
    """Key of the one muscle group (public-health group of seven) it belongs to."""
    size: Size


class MuscleGroup(Frozen):
    """A group counts a set once: sets times the largest share among its muscles, never the sum."""

    name: str
    muscles: tuple[str, ...] = Field(min_length=1)
    recovers_as_one: bool = False
    """Parts of one muscle, or muscles that the same exercises train: what hits one of them wears all."""


class Pattern(Frozen):
    """A movement pattern."""

    name: str
    antagonist: str | None = None
    """Key of the pattern that may share its rests, if any."""


class EquipmentType(Frozen):
    """A thing a place can have. ``heaviest_kg`` and ``step_kg`` are what a well-fitted commercial gym has."""

    name: str
    loadable: bool = False
    heaviest_kg: float | None = Field(default=None, gt=0, le=1000)
    step_kg: float | None = Field(default=None, gt=0, le=50)
    lightest_kg: float = Field(default=0, ge=0, le=100)
    in_pairs: bool = False
    """Whether loads are those of one of two: dumbbells, kettlebells."""


class Exercise(Frozen):
    """One exercise. Times are per set and side; shares are direct (counts 1) or indirect (counts a fraction)."""

    name: str
    pattern: str
    direct: tuple[str, ...] = Field(min_length=1)
    indirect: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    """All of these must be at the place."""
    loaded_by: str | None = None
    """The equipment that carries the load, whose heaviest and step limit it; None where body weight is the load."""
    station: str
    """Where it is done: changing station costs a walk."""
    unilateral: bool = False
    supported: bool = True
    """The trunk is held by a bench, pad, seat or machine, or the body hangs: little load on the lower back."""
    lower_back_load: Literal[0, 1, 2] = 0
    """0 none, 1 some, 2 heavy unsupported hinge, row or squat work, per set."""
    joints: Literal["multi", "single"]
    plane: str | None = None
    """For the lats: shoulder ``adduction`` or ``extension``."""
    grip: Literal["pronated", "neutral", "supinated"] | None = None
    lower_body: bool = False
    from_floor: bool = False
    activation: bool = False
    """Fit for light sets, not to failure, before the first hard set of the muscles it trains directly."""
    substitute: bool = False
    """Takes the place of loaded work where equipment is missing: offered at a place only where fewer than two others of
    its pattern can be done."""
    practised: bool = False
    """Asks for strength or skill that beginners mostly lack: not offered to them where another of its pattern can be
    done, unless the brief names it."""
    setup_seconds: int = Field(ge=0, le=900)
    seconds_per_rep: int = Field(ge=1, le=10)
    reps: CountRange
    """Sensible reps a set."""
    cautions: tuple[Caution, ...] = ()
    """Left out when the lifter flags one of these."""

    @field_validator("setup_seconds")
    @classmethod
    def _whole_ticks(cls, value: int) -> int:
        if value % TICK_SECONDS:
            raise ValueError(f"{value} is no multiple of {TICK_SECONDS} s")
        return value

    @model_validator(mode="after")
    def _consistent(self) -> Exercise:
        if set(self.direct) & set(self.indirect):
            raise ValueError("a muscle is listed as direct and as indirect; keep one")
        if self.loaded_by is not None and self.loaded_by not in self.equipment:
            raise ValueError(f"loaded_by {self.loaded_by!r} is not among its equipment")
        if self.supported and self.lower_back_load == 2:
            raise ValueError("a supported exercise cannot be heavy on the lower back")
        return self


class KindTemplate(Frozen):
    """A session kind of a common split, for ``base:`` in a brief."""

    name: str
    patterns: tuple[str, ...] = Field(min_length=1)
    required: tuple[str, ...] = ()
    sets: CountRange
    minutes: CountRange
    lower_body: bool
    split: str
    """The split it belongs to, in words."""


class PlaceTemplate(Frozen):
    """The equipment of a common sort of place, for ``base:`` in a brief."""

    name: str
    equipment: tuple[str, ...]


class Grade(StrEnum):
    """How a default is known."""

    PUBLISHED = "published"
    SECOND_HAND = "second_hand"
    COMMON_PRACTICE = "common_practice"
    FROM_MEMORY = "from_memory"
    OWN_CHOICE = "own_choice"


class Evidence(Frozen):
    """One default number and where it comes from."""

    value: int | float | str | tuple[int, int]
    unit: str
    means: str
    source: str
    grade: Grade


class CautionText(Frozen):
    """What is said of a caution or an age band wherever a plan is shown."""

    text: str
    source: str
    words: tuple[str, ...] = ()
    """Words, in the singular, by which a log names pain that the caution is for."""


class Catalogue(Frozen):
    """Everything the project knows before it reads a brief; all names are checked against each other."""

    muscles: Mapping[str, Muscle]
    groups: Mapping[str, MuscleGroup]
    patterns: Mapping[str, Pattern]
    equipment: Mapping[str, EquipmentType]
    exercises: Mapping[str, Exercise]
    kinds: Mapping[str, KindTemplate]
    places: Mapping[str, PlaceTemplate]
    evidence: Mapping[str, Evidence]
    cautions: Mapping[str, CautionText] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _names_exist(self) -> Catalogue:
        def known(names: tuple[str, ...], among: Mapping[str, object], where: str) -> None:
            for name in names:
                if name not in among:
                    raise ValueError(f"{where}: {name!r} is not in the catalogue")

        for key, muscle in self.muscles.items():
            known((muscle.group,), self.groups, f"muscles.{key}.group")
            if key not in self.groups[muscle.group].muscles:
                raise ValueError(f"muscles.{key}: its group {muscle.group!r} does not list it")
        for key, group in self.groups.items():
            known(group.muscles, self.muscles, f"groups.{key}")
        for key, pattern in self.patterns.items():
            if pattern.antagonist is not None:
                known((pattern.antagonist,), self.patterns, f"patterns.{key}.antagonist")
        for key, exercise in self.exercises.items():
            known((exercise.pattern,), self.patterns, f"exercises.{key}.pattern")
            known(exercise.direct + exercise.indirect, self.muscles, f"exercises.{key}")
            known(exercise.equipment, self.equipment, f"exercises.{key}.equipment")
        for key, kind in self.kinds.items():
            known(kind.patterns + kind.required, self.patterns, f"kinds.{key}")
        for key, place in self.places.items():
            known(place.equipment, self.equipment, f"places.{key}")
        clash = set(self.muscles) & set(self.groups)
        if clash:
            raise ValueError(f"both a muscle and a group: {sorted(clash)}")
        return self

    @cached_property
    def targets(self) -> Mapping[str, Muscle | MuscleGroup]:
        """All that a goal can be set for."""
        return {**self.muscles, **self.groups}

    def members(self, target: str) -> tuple[str, ...]:
        """The muscles of a group, or the muscle itself."""
        return self.groups[target].muscles if target in self.groups else (target,)

    def default_int(self, key: str) -> int:
        """The whole-number default of an evidence row."""
        value = self.evidence[key].value
        if not isinstance(value, int):
            raise TypeError(f"evidence row {key!r} is no whole number: {value!r}")
        return value

    def default_range(self, key: str) -> CountRange:
        """The range default of an evidence row."""
        value = self.evidence[key].value
        if not isinstance(value, tuple):
            raise TypeError(f"evidence row {key!r} is no range: {value!r}")
        return CountRange(least=value[0], most=value[1])
