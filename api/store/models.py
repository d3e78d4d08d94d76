"""The tables. Documents are kept as JSON text, exactly as they were accepted or answered."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any

from sqlalchemy import BigInteger, Date, DateTime, ForeignKey, Index, Integer, String, Text, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator


class Instant(TypeDecorator[dt.datetime]):
    """A moment in UTC; SQLite keeps no offset, so it is put back."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        return None if value is None else value.astimezone(dt.UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        moment: dt.datetime = value
        return moment.replace(tzinfo=dt.UTC) if moment.tzinfo is None else moment.astimezone(dt.UTC)


class Base(DeclarativeBase):
    pass


class State(StrEnum):
    """Where accepted work is."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"

    @property
    def ended(self) -> bool:
        return self in ENDED


ENDED = (State.DONE, State.STOPPED, State.FAILED)
PLAN, BLOCK, LOG = "plan", "block", "log"
"""The kinds of jobs whose answer is a plan, or a block of weeks, and of the one question that is about a block; every
other kind is a question about a plan."""


class Job(Base):
    """Accepted work and its answer: a plan, a block, or the answer to a question."""

    __tablename__ = "jobs"
    number: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True)
    """Order of acceptance."""
    id: Mapped[str] = mapped_column(String(32), unique=True)
    tenant: Mapped[str] = mapped_column(String(100))
    kind: Mapped[str] = mapped_column(String(30))
    client: Mapped[str] = mapped_column(Text)
    """The lifter's name in the brief: by it a client's data are erased."""
    title: Mapped[str | None] = mapped_column(Text)
    """Of the brief, and its Monday: lists show them without reading a document. None where there is no brief."""
    week: Mapped[dt.date | None] = mapped_column(Date)
    state: Mapped[str] = mapped_column(String(10), default=State.QUEUED.value)
    status: Mapped[str | None] = mapped_column(String(40))
    """How the plan ended: proved best, impossible, ..."""
    request: Mapped[str] = mapped_column(Text)
    answer: Mapped[str | None] = mapped_column(Text)
    explanation: Mapped[str | None] = mapped_column(Text)
    """Why a plan, or the last week of a block, is impossible."""
    problem: Mapped[str | None] = mapped_column(Text)
    progress: Mapped[str | None] = mapped_column(Text)
    revision: Mapped[int] = mapped_column(Integer, default=1)
    """Rises with every change that a reader can see."""
    attempt: Mapped[int] = mapped_column(Integer, default=0)
    """Which run this is; only the latest may write."""
    losses: Mapped[int] = mapped_column(Integer, default=0)
    """How often its worker was lost."""
    beat: Mapped[int] = mapped_column(Integer, default=0)
    stop_asked: Mapped[bool] = mapped_column(default=False)
    plan_id: Mapped[str | None] = mapped_column(ForeignKey("jobs.id", ondelete="CASCADE"), index=True)
    """The plan, or the block, that a question is about."""
    new_plan_id: Mapped[str | None] = mapped_column(String(32))
    """The plan that a re-planning made, or the block that a log made."""
    batch_id: Mapped[str | None] = mapped_column(String(32), index=True)
    line: Mapped[int | None] = mapped_column(Integer)
    """Its line in the batch, from 1."""
    created_at: Mapped[dt.datetime] = mapped_column(Instant)
    started_at: Mapped[dt.datetime | None] = mapped_column(Instant)
    ended_at: Mapped[dt.datetime | None] = mapped_column(Instant)

    __table_args__ = (
        Index("jobs_by_state", "state", "number"),
        Index("jobs_by_tenant", "tenant", "number"),
    )


class Repeat(Base):
    """An idempotency key that was used, and the work that it began."""

    __tablename__ = "repeats"
    number: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True)
    tenant: Mapped[str] = mapped_column(String(100))
    key: Mapped[str] = mapped_column(String(255))
    fingerprint: Mapped[str] = mapped_column(String(64))
    """SHA-256 of method, target and body."""
    job_id: Mapped[str] = mapped_column(ForeignKey("jobs.id", ondelete="CASCADE"), index=True)

    __table_args__ = (UniqueConstraint("tenant", "key", name="one_use_of_a_key"),)


class Key(Base):
    """An API key. Its secret is shown once and kept only as a hash."""

    __tablename__ = "keys"
    id: Mapped[str] = mapped_column(String(16), primary_key=True)
    tenant: Mapped[str] = mapped_column(String(100), index=True)
    note: Mapped[str] = mapped_column(String(200), default="")
    secret_sha256: Mapped[str] = mapped_column(String(64))
    """A plain hash is enough: the secret has 256 random bits, so there is nothing to guess."""
    scopes: Mapped[str] = mapped_column(String(100))
    created_at: Mapped[dt.datetime] = mapped_column(Instant)
    expires_at: Mapped[dt.datetime | None] = mapped_column(Instant)
    revoked_at: Mapped[dt.datetime | None] = mapped_column(Instant)
