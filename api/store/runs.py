"""Accepted work while it is run: claimed by one worker at a time, lost by nobody. Every act is one transaction."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import CursorResult, func, select, update

from api.store.engine import Store
from api.store.models import Job, State
from api.store.nouns import Ending, now, row_of

MOST_LOSSES = 1
"""Work whose worker was lost more often than that is not run again: it may be what kills them."""


class Runs:
    """The part of the store that the dispatcher and the workers use."""

    def __init__(self, store: Store) -> None:
        self._store = store

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
                plan = row_of(job.tenant, ending.new_plan, None)
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


def _claimed(statement: Any, job_id: str, attempt: int) -> Any:
    return statement.where(Job.id == job_id, Job.attempt == attempt, Job.state == State.RUNNING.value)


def row_count(result: Any) -> int:
    found: CursorResult[Any] = result
    return found.rowcount


def _changed(result: Any) -> bool:
    return row_count(result) > 0
