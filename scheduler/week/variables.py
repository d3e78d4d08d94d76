"""What a week model holds of a session: its variables, and those of the exercises that it may have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scheduler.domain.plan import Role, Zone
from scheduler.instance import SessionFacts, Spot
from scheduler.week.classes import StimulusClass
from scheduler.week.expressions import Linear, Literal, Variable


@dataclass(frozen=True)
class OptionVars:
    """A class in a zone in one session: ``use`` <=> ``uses`` >= 1 <=> ``sets`` >= 1; ``sets`` is a sum.

    ``uses`` says how many members of the class do the sets; with one member it is ``use`` itself.
    """

    stimulus: StimulusClass
    zone: Zone
    zones: tuple[Zone, ...]
    """The zones that ``zone`` stands for: nothing tells them apart."""
    role: Role
    use: Variable
    uses: Variable
    sets: Linear
    most_uses: int
    least_sets: int
    """Least sets of one exercise."""
    most_sets: int
    """Most sets of one exercise."""


Gives = tuple["SessionVars", OptionVars, int]
"""An option of a session, and the most that one exercise of it adds to what is wanted."""


@dataclass(frozen=True)
class Cover:
    """Exercises must give ``least`` together, or ``slack`` makes up for it, wherever ``when`` is 1."""

    least: int
    gives: tuple[Gives, ...]
    slack: Linear
    when: Linear


@dataclass
class SessionVars:
    """One session. For a past one (``facts`` given) every variable is a constant.

    ``day[d]`` and ``at[p]`` add up to ``active``; ``spots`` lists the openings it may lie in.
    """

    label: str
    kind: str
    facts: SessionFacts | None
    pin: int | None
    active: Literal
    start: Variable
    end: Variable
    length: Variable
    ticks: Variable
    """What the session holds takes so many ticks of 15 s; ``length`` is that in whole slots."""
    day: tuple[Literal, ...]
    at: Mapping[str, Literal]
    spots: Mapping[Spot, Literal] = field(default_factory=dict)
    options: list[OptionVars] = field(default_factory=list)
    extra_ticks: list[Linear] = field(default_factory=list)
    """Terms that rules add to the session's time: activation sets, shared rests (negative)."""

    @property
    def fixed(self) -> bool:
        return self.facts is not None

    # Rules ask for these over and over, once all options are there.

    @cached_property
    def main(self) -> list[OptionVars]:
        return [o for o in self.options if o.role is Role.MAIN]

    @cached_property
    def add_ons(self) -> list[OptionVars]:
        return [o for o in self.options if o.role is Role.ADD_ON]
