"""What work is before and after the store: new work, how it is taken in, how it ends."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from typing import Any

from api.store.models import Job, State
from scheduler.domain.brief import Brief


class Full(Exception):  # noqa: N818, the name says what is wrong
    """No more work is taken in just now. ``stored`` where the tenant keeps as much as it may."""

    def __init__(self, waiting: int, *, stored: bool = False) -> None:
        self.waiting, self.stored = waiting, stored
        super().__init__(f"{waiting} {'stored' if stored else 'waiting'}")


class KeyUsedOtherwise(Exception):  # noqa: N818, the name says what is wrong
    """The idempotency key came with another request before."""


@dataclass(frozen=True)
class NewJob:
    """Work to be taken in. With an answer or a problem it has ended already."""

    kind: str
    client: str
    request: str
    plan_id: str | None = None
    line: int | None = None
    answer: str | None = None
    status: str | None = None
    explanation: str | None = None
    problem: str | None = None
    title: str | None = None
    week: dt.date | None = None

    @classmethod
    def of(cls, kind: str, brief: Brief, request: str, **more: Any) -> NewJob:
        """Work on a brief, which says whose it is and what lists show of it."""
        return cls(kind, brief.lifter.name, request, title=brief.title, week=brief.week.start, **more)


@dataclass(frozen=True)
class Room:
    """How much is taken in."""

    waiting: int
    waiting_per_tenant: int
    stored_per_tenant: int


@dataclass(frozen=True)
class Accepted:
    jobs: tuple[Job, ...]
    repeated: bool = False
    """The request was seen before: these jobs are those of then."""


@dataclass(frozen=True)
class Ending:
    """How a run ended."""

    state: State
    status: str | None = None
    answer: str | None = None
    explanation: str | None = None
    problem: str | None = None
    new_plan: NewJob | None = None


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def new_id() -> str:
    """128 random bits: an id cannot be guessed."""
    return secrets.token_hex(16)


def row_of(tenant: str, new: NewJob, batch_id: str | None) -> Job:
    moment = now()
    ended = State.DONE if new.answer is not None else State.FAILED if new.problem is not None else None
    return Job(
        id=new_id(),
        tenant=tenant,
        kind=new.kind,
        client=new.client,
        title=new.title,
        week=new.week,
        request=new.request,
        plan_id=new.plan_id,
        batch_id=batch_id,
        line=new.line,
        answer=new.answer,
        status=new.status,
        explanation=new.explanation,
        problem=new.problem,
        state=(ended or State.QUEUED).value,
        created_at=moment,
        ended_at=moment if ended else None,
        # Read before the row is loaded again:
        revision=1,
        attempt=0,
        losses=0,
        beat=0,
        stop_asked=False,
    )
