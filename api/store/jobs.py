"""Accepted work: taken in, run by one worker at a time, read, stopped, erased. Every act is one transaction."""

from __future__ import annotations

import datetime as dt
import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import CursorResult, Select, delete, func, select, text, update
from sqlalchemy.orm import Session, load_only

from api.store.engine import Store
from api.store.models import ENDED, PLAN, Job, Repeat, State

_ENDED = [state.value for state in ENDED]
_ADMISSION_LOCK = 7305002
_HEADS = load_only(
    *(Job.number, Job.id, Job.kind, Job.client, Job.state, Job.status, Job.progress, Job.revision),
    *(Job.created_at, Job.started_at, Job.ended_at, Job.plan_id, Job.batch_id, Job.line),
    raiseload=True,
)
"""All but the documents."""
MOST_LOSSES = 1
"""Work whose worker was lost more often than that is not run again: it may be what kills them."""


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
    problem: str | None = None


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


class JobStore:
    def __init__(self, store: Store) -> None:
        self._store = store

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
            jobs = tuple(_row(tenant, item, batch_id) for item in new)
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

    def page(self, tenant: str, *, limit: int, before: int | None = None, client: str | None = None) -> list[Job]:
        """Plans of a tenant, newest first, without their documents."""
        query = select(Job).where(Job.tenant == tenant, Job.kind == PLAN).order_by(Job.number.desc()).limit(limit)
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

    # --- running --------------------------------------------------------------------------------------------------

    def claim_next(self) -> tuple[str, int] | None:
        """Take the next queued job to run: first the tenant that has least running, then the oldest. Id and attempt."""
        running = (
            select(Job.tenant, func.count().label("busy"))
            .where(Job.state == State.RUNNING.value)
            .group_by(Job.tenant)
            .subquery()
        )
        query = (
            select(Job.number)
            .outerjoin(running, running.c.tenant == Job.tenant)
            .where(Job.state == State.QUEUED.value)
            .order_by(func.coalesce(running.c.busy, 0), Job.number)
            .limit(1)
            .with_for_update(of=Job, skip_locked=True)
        )
        with self._store.writing() as session:
            number = session.scalar(query)
            if number is None:
                return None
            job = session.scalars(select(Job).where(Job.number == number)).one()
            job.state = State.RUNNING.value
            job.attempt += 1
            job.beat = 0
            job.started_at = now()
            job.progress = None
            job.revision += 1
        return job.id, job.attempt

    def load(self, job_id: str, attempt: int) -> tuple[Job, Job | None] | None:
        """A claimed job and the plan it asks about; None where it is no longer this attempt's."""
        with self._store.reading() as session:
            job = session.scalar(_claimed(select(Job), job_id, attempt))
            if job is None:
                return None
            plan = job.plan_id and session.scalar(select(Job).where(Job.id == job.plan_id, Job.tenant == job.tenant))
        return job, plan or None

    def beat(self, job_id: str, attempt: int, progress: Mapping[str, Any] | None) -> bool | None:
        """A sign of life from a run: whether it should stop; None where it is no longer this attempt's."""
        values: dict[str, Any] = {"beat": Job.beat + 1}
        if progress is not None:
            values |= {"progress": json.dumps(progress), "revision": Job.revision + 1}
        with self._store.writing() as session:
            stop: bool | None = session.scalar(
                _claimed(update(Job), job_id, attempt).values(values).returning(Job.stop_asked)
            )
        return stop

    def end(self, job_id: str, attempt: int, ending: Ending) -> bool:
        """Keep how a run ended; False where it was no longer this attempt's, and nothing was kept."""
        with self._store.writing() as session:
            job = session.scalar(_claimed(select(Job), job_id, attempt).with_for_update())
            if job is None:
                return False
            if ending.new_plan is not None:
                plan = _row(job.tenant, ending.new_plan, None)
                session.add(plan)
                job.new_plan_id = plan.id
            job.state = ending.state.value
            job.status, job.answer, job.problem = ending.status, ending.answer, ending.problem
            job.explanation = ending.explanation
            job.ended_at = now()
            job.revision += 1
        return True

    def running(self) -> list[tuple[str, int, int]]:
        """Id, attempt and beat of all that runs."""
        with self._store.reading() as session:
            query = select(Job.id, Job.attempt, Job.beat).where(Job.state == State.RUNNING.value)
            return [(row[0], row[1], row[2]) for row in session.execute(query)]

    def give_back(self, job_id: str, attempt: int) -> bool:
        """Queue a run again that cannot go on here; its worker may write no more."""
        return self._requeue(job_id, attempt, losses=0)

    def lost(self, job_id: str, attempt: int, problem: str) -> bool:
        """The worker of a run is gone: queue it again, or, the second time, let it fail with a problem."""
        with self._store.writing() as session:
            losses = session.scalar(_claimed(select(Job.losses), job_id, attempt))
        if losses is None:
            return False
        if losses >= MOST_LOSSES:
            return self.end(job_id, attempt, Ending(State.FAILED, problem=problem))
        return self._requeue(job_id, attempt, losses=1)

    def _requeue(self, job_id: str, attempt: int, *, losses: int) -> bool:
        values = {
            "state": State.QUEUED.value,
            "losses": Job.losses + losses,
            "revision": Job.revision + 1,
            "progress": None,
            "started_at": None,
        }
        stopped = {"state": State.STOPPED.value, "ended_at": now(), "revision": Job.revision + 1}
        with self._store.writing() as session:
            asked = _claimed(update(Job), job_id, attempt)
            if _changed(session.execute(asked.where(Job.stop_asked).values(stopped))):
                return True
            return _changed(session.execute(asked.values(values)))

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
        """Delete one plan with its questions, or all of a client, or, with neither, all of a tenant. How many."""
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
            erased = _rows(session.execute(delete(Job).where(Job.state.in_(_ENDED), Job.ended_at < than)))
        if erased:
            self._store.forget_deleted()
        return erased


def _row(tenant: str, new: NewJob, batch_id: str | None) -> Job:
    moment = now()
    ended = State.DONE if new.answer is not None else State.FAILED if new.problem is not None else None
    return Job(
        id=new_id(),
        tenant=tenant,
        kind=new.kind,
        client=new.client,
        request=new.request,
        plan_id=new.plan_id,
        batch_id=batch_id,
        line=new.line,
        answer=new.answer,
        status=new.status,
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


def _claimed(statement: Any, job_id: str, attempt: int) -> Any:
    return statement.where(Job.id == job_id, Job.attempt == attempt, Job.state == State.RUNNING.value)


def _count(session: Session, query: Select[Any]) -> int:
    return session.scalar(select(func.count()).select_from(query.subquery())) or 0


def _rows(result: Any) -> int:
    found: CursorResult[Any] = result
    return found.rowcount


def _changed(result: Any) -> bool:
    return _rows(result) > 0
