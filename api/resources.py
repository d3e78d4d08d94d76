"""What clients get: the models behind the OpenAPI document. Answers inside them are the library's own nouns."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.store import State
from scheduler.domain.answers import Explanation, Shortfall
from scheduler.domain.block import Block
from scheduler.domain.brief import BusyTime
from scheduler.domain.log import LogReport
from scheduler.domain.plan import Plan
from scheduler.domain.variants import Alternatives, Replanned, Sweep, WhatIf, WhyNot


class Resource(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FaultDocument(Resource):
    """One thing that is wrong in what was sent."""

    pointer: str | None = None
    """JSON pointer (RFC 6901) of the place, as a URI fragment."""
    place: str | None = None
    """The place in words, where it is none of the document's."""
    problem: str
    advice: str
    """What to try."""


class ProblemDocument(Resource):
    """Problem details (RFC 9457)."""

    type: str
    """A stable name of the sort of problem: ``/problems/cannot-be-used``."""
    title: str
    status: int
    detail: str
    advice: str
    """What to try."""
    faults: tuple[FaultDocument, ...] = ()
    request_id: str | None = None
    """To be named when reporting it."""


class Progress(Resource):
    """How far the search has come: the tier it is at, its best value so far and the proved bound."""

    tier: int
    name: str
    best: int
    bound: int
    seconds: float
    """Wall-clock seconds since this tier's search began."""


class Head(Resource):
    id: str
    state: State
    client: str
    """The lifter's name in the brief."""
    created_at: dt.datetime
    started_at: dt.datetime | None
    ended_at: dt.datetime | None
    progress: Progress | None
    line: int | None = None
    """In a batch: its line there, from 1."""
    links: dict[str, str]
    """Where else to look: ``self``, ``events``, and where they exist ``plan`` or ``block`` (what a question is about),
    ``batch``, ``new_plan``, ``new_block``."""


class WeekHead(Head):
    """What stands in lists of plans and blocks."""

    title: str | None
    """Of the brief; null where a line of a batch held none."""
    week: dt.date | None
    """Its Monday, a block's first."""


class PlanHead(WeekHead):
    status: str | None
    """How the plan ended: ``proved best``, ``feasible with bound``, ``impossible``, ``stopped``, ``checked``."""


class PlanResource(PlanHead):
    """A plan that was asked for, wherever it is on its way."""

    plan: Plan | None
    explanation: Explanation | None
    """Of an impossible week: the demands that clash, and the cheapest changes that mend it."""
    problem: ProblemDocument | None
    """Why it failed."""


class WeeksDone(Resource):
    """How far a block has come."""

    week: int
    """The week that was planned last; 0 before the first."""
    of: int
    answer: str
    """How that week ended: ``proved best``, ``impossible``, ..."""


class BlockHead(WeekHead):
    status: str | None
    """How the worst of its weeks ended; ``proved best`` where each is, after the weeks before it."""
    progress: WeeksDone | None  # type: ignore[assignment]


class BlockResource(BlockHead):
    """A block of weeks that was asked for, wherever it is on its way."""

    block: Block | None
    explanation: Explanation | None
    """Of a week that is impossible after the weeks before it, and ends the block."""
    problem: ProblemDocument | None
    """Why it failed."""


class BlockPage(Resource):
    blocks: tuple[BlockHead, ...]
    """Newest first."""
    next: str | None
    """Where the older ones are."""


class Question(StrEnum):
    """What was asked."""

    WHY = "why"
    WHY_NOT = "why-not"
    WHAT_IF = "what-if"
    ALTERNATIVES = "alternatives"
    TRADEOFF = "tradeoff"
    REPLAN = "replan"
    LOG = "log"


class AnswerHead(Head):
    question: Question
    problem: ProblemDocument | None
    """Why there is no answer."""


class WhyAnswer(AnswerHead):
    answer: Explanation | Shortfall | None
    """A shortfall where a wish was asked about."""


class WhyNotAnswer(AnswerHead):
    answer: WhyNot | None


class WhatIfAnswer(AnswerHead):
    answer: WhatIf | None


class AlternativesAnswer(AnswerHead):
    answer: Alternatives | None


class TradeoffAnswer(AnswerHead):
    answer: Sweep | None


class ReplanAnswer(AnswerHead):
    answer: Replanned | None


class LogAnswer(AnswerHead):
    """What a week's log says beside its plan; the block with the next week is at the link ``new_block``."""

    answer: LogReport | None


class AnyAnswer(AnswerHead):
    """A question that was asked, and its answer once it is there."""

    answer: Explanation | Shortfall | WhyNot | WhatIf | Alternatives | Sweep | Replanned | LogReport | None


class PlanPage(Resource):
    plans: tuple[PlanHead, ...]
    """Newest first."""
    next: str | None
    """Where the older ones are."""


class Erasure(Resource):
    """What to erase for good: one plan or block with its questions, all of a client, or everything of this tenant."""

    plan: str | None = Field(default=None, min_length=1, max_length=32)
    block: str | None = Field(default=None, min_length=1, max_length=32)
    client: str | None = Field(default=None, max_length=2000)
    everything: Literal[True] | None = None


class Erased(Resource):
    erased: int
    """Plans and answers that were erased, with their briefs and idempotency keys."""


class Access(Resource):
    """Who the request's key belongs to and what it allows."""

    tenant: str
    scopes: tuple[str, ...]
    expires_at: dt.datetime | None
    limits: dict[str, float]


class BusyTimes(Resource):
    """Busy times of a calendar, to be put into a brief's ``busy``."""

    busy: tuple[BusyTime, ...]


class Batch(Resource):
    id: str
    plans: tuple[PlanHead, ...]
    """By line."""


class CatalogueParts(Resource):
    parts: dict[str, int]
    """How many rows each part has; the rows are at ``/v1/catalogue/{part}``."""


class CatalogueRows(Resource):
    part: str
    rows: dict[str, dict[str, Any]]


class RuleText(Resource):
    key: str
    title: str
    meaning: str
    formula: str
    default_mode: str
    tier: int
    tier_name: str
    measure: bool
    """Merely kept as small as possible, never called broken."""
    evidence: tuple[str, ...]
    """Rows of the catalogue's evidence behind its figures."""


class RuleTexts(Resource):
    rules: tuple[RuleText, ...]


class DemoBrief(Resource):
    name: str
    title: str
    story: str | None
    link: str


class DemoBriefs(Resource):
    briefs: tuple[DemoBrief, ...]


class Health(Resource):
    status: Literal["ok"]


class Version(Resource):
    name: Literal["weekwright"]
    version: str
    catalogue_sha256: str
    links: dict[str, str]
