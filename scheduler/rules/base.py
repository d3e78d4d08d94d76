"""What a rule is, and what a switch is.

A rule is one class in one file. It says in plain words and as a formula what it asks, lists its *switches* (one per
thing that a person could change: the unit of blame), computes each switch's *breach* from a plan without a solver,
and posts itself to the week model.

The breach of a switch is the least change of its own number that would make the plan keep it: for "48 h apart" and
sessions 41 h apart it is 7 h. A must holds the breach at 0; a wish pays for it in proportion, in its rule's tier.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Generic, TypeAlias, TypeVar

from pydantic import Field

from scheduler.domain import wording
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import Fault
from scheduler.domain.plan import Mode, Zone
from scheduler.domain.units import Frozen

if TYPE_CHECKING:
    from scheduler.facts import WeekFacts
    from scheduler.instance import Instance, Kind
    from scheduler.week.model import Week


class Setting(Frozen):
    """What a brief may say of any rule."""

    mode: Mode | None = None
    weight: int | None = Field(default=None, ge=0, le=1000)
    """Cost of a breach per base unit, where the rule is a wish."""


@dataclass(frozen=True)
class Unit:
    """The base unit of a breach and how a number of it reads."""

    name: str
    text: Callable[[int], str]


TIME = Unit("five minutes", wording.duration)
SETS = Unit("quarter set", wording.sets)


def count_of(noun: str, plural: str | None = None) -> Unit:
    """A unit of whole things."""
    return Unit(noun, lambda n: wording.counted(n, noun, plural))


Mend: TypeAlias = Callable[[int, "WeekFacts | None"], str]
"""From an amount in base units to words with the new figure: "Back and Legs 41 h apart instead of 48 h".

With a week that the mend lets be it can tell which way a range gave way: "2 Back sessions instead of exactly 3".
"""

Words: TypeAlias = Callable[["WeekFacts"], str]
"""From the week that breaks a switch to how the breach reads, where the number alone does not tell: "{} too few"."""

Look: TypeAlias = Callable[[str], Hashable]
"""From an exercise to what a rule sees of it; see :meth:`Rule.looks_at`."""


@dataclass(frozen=True)
class Switch:
    """One thing a person could change.

    Attributes:
        id: ``rule:name``, stable between runs.
        mode: must or wish.
        weight: what one base unit of breach costs where it is a wish.
        unit: the base unit of its breach.
        sentence: what it asks, with its figures.
        breach_words: how a breach reads, with ``{}`` for the amount; see :data:`Words`.
        evidence: keys of the evidence rows behind its figures.
        concession: how far the brief lets it give way, in base units.
        mend: says what giving way by so many base units means, with the new figure; see :data:`Mend`.
    """

    id: str
    rule: str
    mode: Mode
    weight: int
    unit: Unit
    sentence: str
    breach_words: str | Words
    evidence: tuple[str, ...] = ()
    concession: int = 0
    mend: Mend | None = None

    def mend_text(self, amount: int, facts: WeekFacts | None = None) -> str:
        """What giving way by so much means, in words with the new figure; ``facts`` are a week that it lets be."""
        if self.mend is not None:
            return self.mend(amount, facts)
        return f"Let this give way by {self.unit.text(amount)}: {self.sentence}"

    def breach_text(self, breach: int, facts: WeekFacts) -> str:
        """How far the week is from keeping it, in words; nothing where it keeps it."""
        if not breach:
            return ""
        words = self.breach_words if isinstance(self.breach_words, str) else self.breach_words(facts)
        # Names of a brief may hold braces of their own, which str.format would read.
        return words.replace("{}", self.unit.text(breach))


S = TypeVar("S", bound=Setting)


class Rule(ABC, Generic[S]):
    """Base of all rules; see the module's text."""

    key: ClassVar[str]
    title: ClassVar[str]
    meaning: ClassVar[str]
    """One plain sentence."""
    formula: ClassVar[str]
    default_mode: ClassVar[Mode]
    tier: ClassVar[int] = 1
    """The tier in which a breach of the wish is paid."""
    evidence: ClassVar[tuple[str, ...]] = ()
    one_by_one: ClassVar[bool] = False
    """Whether every exercise stands alone in the week itself, if not in its outline."""
    takes_time: ClassVar[bool] = False
    """Whether it changes how long sessions take, also as a wish: then no week is known without it."""
    measure: ClassVar[bool] = False
    """True for what is merely kept as small as possible: no plan has none of it, so it is never called broken."""
    must_only: ClassVar[bool] = False
    """True for what the week model makes nothing else of: as a wish it would mean the same."""
    staged: ClassVar[bool] = False
    """True where the switches are solved one after another inside the tier, the heaviest first."""
    setting_model: ClassVar[type[Setting]] = Setting

    @property
    def modes(self) -> tuple[Mode, ...]:
        """What a brief may make of it."""
        barred = (Mode.WISH if self.must_only else None, Mode.MUST if self.measure else None)
        return tuple(mode for mode in Mode if mode not in barred)

    def mendable(self, switch: str, instance: Instance) -> bool:
        """Whether a mend may touch a switch of this rule; never what a caution asks."""
        return True

    def mend_rows(self, switch: str, instance: Instance) -> tuple[str, ...]:
        """Names under which the cost of letting a switch give way is looked up; the first that is known counts.

        They stand in the evidence as ``mend_cost_<name>``: ``sessions_a_day_most`` before ``sessions_a_day``.
        """
        part = switch.removeprefix(f"{self.key}:").split(":")[0]
        return (f"{self.key}_{part}", self.key, "other")

    def told(self, switches: Sequence[Switch], instance: Instance) -> Iterable[str]:
        """Some of the rule's switches in sentences: one each, unless a rule can say several in one."""
        return (switch.sentence for switch in switches)

    def faults(self, setting: S, brief: Brief, catalogue: Catalogue) -> Iterable[Fault]:
        """What is wrong with the rule's own numbers in a brief: unknown names, say."""
        return ()

    @abstractmethod
    def switches(self, instance: Instance) -> Iterable[Switch]:
        """Everything a person could change about this rule in this brief."""

    def excluded(self, instance: Instance, kind: Kind) -> Mapping[str, tuple[str, ...]]:
        """Exercises that the rule shuts out of a kind of session, each with every switch that does."""
        return {}

    def looks_at(self, instance: Instance) -> Look:
        """What the rule sees of an exercise besides what it counts for the goals, and whether directly.

        Exercises of which no rule sees anything different are one to the solver.
        """
        return lambda exercise: None

    def zones_told(self, instance: Instance) -> Callable[[str], Iterable[Zone]]:
        """From an exercise to those of its rep zones that the rule tells from its others; zones that no rule tells
        apart are one."""
        return lambda exercise: ()

    @abstractmethod
    def breaches(self, facts: WeekFacts) -> Mapping[str, int]:
        """The breach of each switch that is broken, by switch id, from the plan alone."""

    def notes(self, facts: WeekFacts) -> Iterable[str]:
        """What the rule does not ask, though whoever reads the plan may think that it does."""
        return ()

    @abstractmethod
    def post(self, week: Week) -> None:
        """Post the rule to the week model, under its switches."""

    def setting(self, instance: Instance) -> S:
        found: S = instance.settings[self.key]
        return found

    def mode(self, instance: Instance) -> Mode:
        return self.setting(instance).mode or self.default_mode

    def weight(self, instance: Instance) -> int:
        """Cost per base unit: what the brief says, else the evidence row ``weight_<rule>``."""
        given = self.setting(instance).weight
        return given if given is not None else instance.catalogue.default_int(f"weight_{self.key}")

    def switch(
        self,
        instance: Instance,
        name: str,
        sentence: str,
        breach_words: str | Words,
        unit: Unit,
        *,
        factor: int = 1,
        mode: Mode | None = None,
        evidence: tuple[str, ...] | None = None,
        mend: Mend | None = None,
    ) -> Switch:
        """A switch of this rule; ``factor`` multiplies the rule's weight (priority muscles)."""
        brief = instance.brief
        given = mode or self.mode(instance)
        return Switch(
            id=self.id(name),
            rule=self.key,
            mode=Mode.MUST if self.id(name) in brief.musts else given,
            weight=self.weight(instance) * factor,
            unit=unit,
            sentence=sentence,
            breach_words=breach_words,
            evidence=self.evidence if evidence is None else evidence,
            concession=brief.concessions.get(self.id(name), 0),
            mend=mend,
        )

    def id(self, name: str) -> str:
        return f"{self.key}:{name}" if name else self.key

    def active_switches(self, instance: Instance) -> tuple[Switch, ...]:
        """The switches that are not off."""
        if self.key not in instance.switches:
            mine = self.switches(instance) if self.mode(instance) is not Mode.OFF else ()
            instance.switches[self.key] = tuple(s for s in mine if s.mode is not Mode.OFF)
        found: tuple[Switch, ...] = instance.switches[self.key]
        return found


def worst(breaches: Iterable[tuple[str, int]]) -> dict[str, int]:
    """The largest breach per switch, those that are kept left out: one number would have to move that far."""
    found: dict[str, int] = {}
    for switch, breach in breaches:
        if breach > found.get(switch, 0):
            found[switch] = breach
    return found
