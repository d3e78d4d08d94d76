"""The questions that can be asked, as request bodies. Each is about a plan, or about a brief of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, JsonValue

from scheduler.domain.block import BlockSettings
from scheduler.domain.brief import Brief
from scheduler.domain.log import WeekLog
from scheduler.domain.units import Frozen, Moment
from scheduler.domain.variants import Demand, Vary

Cost = Annotated[int, Field(ge=1, le=1_000_000)]
Patch = Mapping[str, JsonValue]


class WhyQuestion(Frozen):
    """Which demands clash and what mends it; with a wish: why that falls short, and the cheapest way to it."""

    wish: Annotated[str, Field(max_length=300)] | None = None
    """The switch of a wish, as a plan's findings name it: ``weekly_sets:aim:lats``."""
    costs: Mapping[str, Cost] = Field(default_factory=dict, max_length=200)
    """What a mend costs a base unit, by rule or switch; left out: the evidence's figures."""
    keep: tuple[str, ...] = Field(default=(), max_length=500)
    """Switches that no mend may touch."""
    mends: int = Field(default=3, ge=0, le=10)
    """How many mends at most."""
    conflicts: int = Field(default=3, ge=1, le=10)


class WhyNotQuestion(Frozen):
    """What becomes of the week when a demand is forced in."""

    demand: Demand | str
    """What is missed: ``back on thu at 18:00`` in words, or its parts."""


class WhatIfQuestion(Frozen):
    """The week with changes, each beside the week as it is."""

    patches: Mapping[str, Patch] = Field(min_length=1, max_length=10)
    """By name: a JSON merge patch (RFC 7396) of the brief."""


ComparedTier = Literal["1", "2", "3", "4", "5"]
"""Tiers in which a week can be worse than another; a test holds it to ``SAME_WORK_FROM``."""


class LossAllowed(Frozen):
    """What an alternative may lose in one tier."""

    amount: float = Field(ge=0, le=1_000_000)
    percent: bool = True


class AlternativesQuestion(Frozen):
    """Other weeks nearly as good, and what each trades."""

    count: int = Field(default=5, ge=1, le=20)
    apart: int = Field(default=2, ge=1, le=100)
    """Least moves between any two."""
    loss_percent: float = Field(default=10.0, ge=0, le=1000)
    """What each may lose in every tier but wishes and change."""
    losses: Mapping[ComparedTier, LossAllowed] = Field(default_factory=dict)
    """The same by tier; tiers after these only compare weeks with the same work."""


class TradeoffQuestion(Frozen):
    """One or two numbers of the brief swept: what each value costs."""

    vary: tuple[Vary, ...] = Field(min_length=1, max_length=2)


class ReplanQuestion(Frozen):
    """The rest of the week anew: what is done stays, the rest moves as little as it can."""

    done: tuple[str, ...] = Field(default=(), max_length=14)
    """Sessions done as planned: ``mon``, or ``mon back`` where Monday has two."""
    missed: tuple[str, ...] = Field(default=(), max_length=14)
    now: Moment | None = None
    """Nothing starts before; left out: after what is past."""
    changes: Patch | None = None
    """A JSON merge patch of the brief."""


class BlockQuestion(Frozen):
    """How the weeks of a brief become a block."""

    block: BlockSettings = BlockSettings()


class LogQuestion(Frozen):
    """What was done in a week of a block."""

    log: WeekLog
    easy: bool | None = None
    """Make the next week an easy one, the paths then wait for a week; left out: as was chosen before."""


QUESTIONS: Mapping[str, type[Frozen]] = {
    "why": WhyQuestion,
    "why-not": WhyNotQuestion,
    "what-if": WhatIfQuestion,
    "alternatives": AlternativesQuestion,
    "tradeoff": TradeoffQuestion,
    "replan": ReplanQuestion,
}


class OfBrief(Frozen):
    brief: Brief


class WhyOfBrief(WhyQuestion, OfBrief):
    pass


class WhyNotOfBrief(WhyNotQuestion, OfBrief):
    pass


class WhatIfOfBrief(WhatIfQuestion, OfBrief):
    pass


class AlternativesOfBrief(AlternativesQuestion, OfBrief):
    pass


class TradeoffOfBrief(TradeoffQuestion, OfBrief):
    pass


class BlockOfBrief(BlockQuestion, OfBrief):
    """The brief of a week, and how its weeks become a block."""


OF_BRIEF: Mapping[str, type[OfBrief]] = {
    "why": WhyOfBrief,
    "why-not": WhyNotOfBrief,
    "what-if": WhatIfOfBrief,
    "alternatives": AlternativesOfBrief,
    "tradeoff": TradeoffOfBrief,
}


def settled(kind: str, question: Frozen, brief: Brief, base: Any) -> dict[str, Any]:
    """The question as JSON data for a worker, once it is known that it can be asked of the brief.

    Args:
        base: gives the plan that the question is about; called only where that is needed.

    Raises:
        InputError: it names what is not there.
    """
    data = question.model_dump(mode="json")
    if isinstance(question, WhyQuestion):
        from scheduler.answers.conflicts import check_question

        check_question(brief, wish=question.wish, costs=question.costs, protected=question.keep)
    elif isinstance(question, WhyNotQuestion):
        from scheduler.answers.demands import read_demand
        from scheduler.answers.why_not import with_demand
        from scheduler.planning import instance_of

        instance = instance_of(brief)
        demand = question.demand
        asked = read_demand(demand, instance) if isinstance(demand, str) else demand
        with_demand(instance, asked)
        data["demand"] = asked.model_dump(mode="json")
    elif isinstance(question, WhatIfQuestion):
        from scheduler.answers.variants import patched

        for name, patch in question.patches.items():
            patched(brief, patch, inside=f"patches.{name}.")
    elif isinstance(question, TradeoffQuestion):
        from scheduler.answers.tradeoff import check_sweep

        check_sweep(brief, question.vary)
    elif isinstance(question, ReplanQuestion):
        from scheduler.answers.replan import rest_of

        rest_of(base(), done=question.done, missed=question.missed, now=question.now, changes=question.changes)
    return data
