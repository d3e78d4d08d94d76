"""Accepted work: taken in once, read, stopped, erased. Every act is one transaction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Select, delete, func, select, text
from sqlalchemy.orm import Session, load_only

from api.store.models import ENDED, PLAN, Job, Repeat, State
from api.store.nouns import Accepted, Full, KeyUsedOtherwise, NewJob, Room, new_id, now, row_of
from api.store.runs import Runs, row_count

_ENDED = [state.value for state in ENDED]
_ADMISSION_LOCK = 7305002
_HEADS = load_only(
    *(Job.number, Job.id, Job.kind, Job.client, Job.title, Job.week, Job.state, Job.status, Job.progress, Job.revision),
    *(Job.created_at, Job.started_at, Job.ended_at, Job.plan_id, Job.batch_id, Job.line),
    raiseload=True,
)
"""All but the documents."""


class JobStore(Runs):
    """All that is done with accepted work."""

    # --- taking in ------------------------------------------------------------------------------------------------

    def accept(
        self,
        tenant: str,
        new: Sequence[NewJob],
        room: Room,
        *,
        repeat: tuple[str, str] | None = None,
        batch: bool = False,
    ) -> Accepted:
        """Take work in, all of it or none.

        Args:
            repeat: an idempotency key and the fingerprint of the request.

        Raises:
            Full: there is no room.
            KeyUsedOtherwise: the key came with another fingerprint before.
        """
        with self._store.writing() as session:
            if not self._store.is_sqlite:  # a SQLite writer is alone anyway
                session.execute(text(f"SELECT pg_advisory_xact_lock({_ADMISSION_LOCK})"))
            if repeat is not None and (known := self._known(session, tenant, repeat)):
                return known
            self._check_room(session, tenant, new, room)
            batch_id = new_id() if batch else None
            jobs = tuple(row_of(tenant, item, batch_id) for item in new)
            session.add_all(jobs)
            session.flush()
            if repeat is not None:
                session.add(Repeat(tenant=tenant, key=repeat[0], fingerprint=repeat[1], job_id=jobs[0].id))
        return Accepted(jobs)

    def look_ahead(
        self, tenant: str, room: Room, repeat: tuple[str, str] | None, *, work: bool = True
    ) -> Accepted | None:
        """What a repeated request began, before anything is taken in.

        Raises:
            Full: there is no room, as far as can be told without a turn to write.
            KeyUsedOtherwise: the key came with another fingerprint before.
        """
        with self._store.reading() as session:
            if repeat is not None and (known := self._known(session, tenant, repeat)):
                return known
            probe = NewJob(PLAN, "", "", answer=None if work else "{}")
            self._check_room(session, tenant, [probe], room)
        return None

    def _known(self, session: Session, tenant: str, repeat: tuple[str, str]) -> Accepted | None:
        row = session.scalar(select(Repeat).where(Repeat.tenant == tenant, Repeat.key == repeat[0]))
        if row is None:
            return None
        if row.fingerprint != repeat[1]:
            raise KeyUsedOtherwise
        first = session.scalars(select(Job).where(Job.id == row.job_id)).one()
        if first.batch_id is None:
            return Accepted((first,), repeated=True)
        batch = select(Job).where(Job.batch_id == first.batch_id).order_by(Job.number)
        return Accepted(tuple(session.scalars(batch)), repeated=True)

    def _check_room(self, session: Session, tenant: str, new: Sequence[NewJob], room: Room) -> None:
        stored = _count(session, select(Job.number).where(Job.tenant == tenant))
        if stored + len(new) > room.stored_per_tenant:
            raise Full(stored, stored=True)
        more = sum(not (item.answer or item.problem) for item in new)
        queued = select(Job.number).where(Job.state == State.QUEUED.value)
        waiting = _count(session, queued)
        if more and waiting + more > room.waiting:
            raise Full(waiting)
        own = _count(session, queued.where(Job.tenant == tenant))
        if more and own + more > room.waiting_per_tenant:
            raise Full(own)

    # --- reading --------------------------------------------------------------------------------------------------

    def find(self, tenant: str, job_id: str) -> Job | None:
        """A job of this tenant, whole."""
        with self._store.reading() as session:
            return session.scalar(select(Job).where(Job.tenant == tenant, Job.id == job_id))

    def revision(self, tenant: str, job_id: str) -> tuple[int, State] | None:
        """What is enough to tell whether something has changed."""
        with self._store.reading() as session:
            row = session.execute(select(Job.revision, Job.state).where(Job.tenant == tenant, Job.id == job_id)).first()
        return None if row is None else (row[0], State(row[1]))

    def page(
        self, tenant: str, kind: str = PLAN, *, limit: int, before: int | None = None, client: str | None = None
    ) -> list[Job]:
        """Plans (or blocks) of a tenant, newest first, without their documents."""
        query = select(Job).where(Job.tenant == tenant, Job.kind == kind).order_by(Job.number.desc()).limit(limit)
        if before is not None:
            query = query.where(Job.number < before)
        if client is not None:
            query = query.where(Job.client == client)
        with self._store.reading() as session:
            return list(session.scalars(query.options(_HEADS)))

    def batch(self, tenant: str, batch_id: str) -> list[Job]:
        """The jobs of a batch by line, without their documents; none where there is no such batch."""
        query = select(Job).where(Job.tenant == tenant, Job.batch_id == batch_id).order_by(Job.line)
        with self._store.reading() as session:
            return list(session.scalars(query.options(_HEADS)))

    def batch_states(self, tenant: str, batch_id: str) -> list[tuple[str, State]]:
        query = select(Job.id, Job.state).where(Job.tenant == tenant, Job.batch_id == batch_id).order_by(Job.line)
        with self._store.reading() as session:
            return [(row[0], State(row[1])) for row in session.execute(query)]

    def counts(self) -> dict[str, int]:
        """How many jobs are in each state, over all tenants."""
        with self._store.reading() as session:
            rows = session.execute(select(Job.state, func.count()).group_by(Job.state)).all()
        return {state.value: 0 for state in State} | {row[0]: row[1] for row in rows}

    def ask_stop(self, tenant: str, job_id: str) -> Job | None:
        """Stop a job: at once while it is queued, else by its worker. None where there is no such job."""
        with self._store.writing() as session:
            query = select(Job).where(Job.tenant == tenant, Job.id == job_id).with_for_update()
            job = session.scalar(query)
            if job is None:
                return None
            if job.state == State.QUEUED:
                job.state, job.ended_at = State.STOPPED.value, now()
                job.revision += 1
            elif job.state == State.RUNNING:
                job.stop_asked = True
        return job

    # --- erasing --------------------------------------------------------------------------------------------------

    def erase(self, tenant: str, *, job_id: str | None = None, client: str | None = None) -> int:
        """Delete a plan or block with its questions, or all of a client, or with neither all of a tenant. How many."""
        meant = [Job.tenant == tenant]
        if job_id is not None:
            meant.append((Job.id == job_id) | (Job.plan_id == job_id))
        if client is not None:
            meant.append(Job.client == client)
        with self._store.writing() as session:
            # Counted before: what goes along with its plan is not counted by every database.
            erased = _count(session, select(Job.number).where(*meant))
            session.execute(delete(Job).where(*meant))
        if erased:
            self._store.forget_deleted()
        return erased

    def erase_older(self, than: dt.datetime) -> int:
        """Delete what ended before a moment. How many."""
        with self._store.writing() as session:
            erased = row_count(session.execute(delete(Job).where(Job.state.in_(_ENDED), Job.ended_at < than)))
        if erased:
            self._store.forget_deleted()
        return erased


def _count(session: Session, query: Select[Any]) -> int:
    return session.scalar(select(func.count()).select_from(query.subquery())) or 0
