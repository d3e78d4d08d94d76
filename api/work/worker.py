"""One run of one job, in a process of its own: read from the store, solved, written back to the store.

While it runs a second thread gives a sign of life, tells the progress, and hears whether to stop. A worker that finds
its job erased, stopped or run anew elsewhere ends; one that cannot be stopped in time is ended by force.
"""

from __future__ import annotations

import json
import logging
import os
import threading
import time
from functools import cache
from types import TracebackType
from typing import Any, Self

from pydantic import SecretStr, ValidationError

from api.problems import Problem, unusable
from api.store.engine import Store, StoreUnavailable
from api.store.jobs import JobStore
from api.store.models import BLOCK, PLAN, State
from api.store.nouns import Ending, NewJob
from api.work.acts import ACTS, Answer, asked_of
from scheduler.domain.block import Block, worst_status
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan
from scheduler.week.solver import Cancel

_log = logging.getLogger(__name__)
_GRACE_SECONDS = 15.0
"""How long a stopped run may take to end: building a large week cannot be interrupted."""
_OVERTIME_SECONDS = 60.0
_WRITE_FOR_SECONDS = 600.0
"""How long a finished run waits for a store that is away."""


@cache
def _jobs(url: SecretStr) -> JobStore:
    return JobStore(Store(url.get_secret_value()))


def run(url: SecretStr, job_id: str, attempt: int, *, beat_seconds: float, may_exit: bool) -> None:
    """Run a claimed job and keep its answer.

    Args:
        may_exit: this process belongs to the program and may be ended where a run does not heed a stop.

    Raises:
        StoreUnavailable: the store stayed away; the job is lost and will be run again.
    """
    jobs = _jobs(url)
    loaded = _patiently(lambda: jobs.load(job_id, attempt))
    if loaded is None:
        return
    job, plan = loaded
    with _Watch(jobs, job_id, attempt, beat_seconds, may_exit) as watch:
        ending = _ending(job.kind, job.request, plan.answer if plan else None, watch)
    _patiently(lambda: jobs.end(job_id, attempt, ending))


def _ending(kind: str, request: str, base: str | None, watch: _Watch) -> Ending:
    from scheduler.answers.variants import Stopped

    try:
        try:
            asked = asked_of(kind, request, base, cancel=watch.cancel, progress=watch.note, weeks_done=watch.note_week)
        except ValidationError:
            # Accepted by another version, or never: what was accepted has been validated.
            return Ending(State.FAILED, problem=_text(Problem("internal", "The stored request cannot be read.")))
        watch.allow(2 * asked.seconds + _OVERTIME_SECONDS)
        answer = ACTS[kind](asked)
    except Stopped:
        return Ending(State.STOPPED)
    except InputError as error:
        return Ending(State.FAILED, problem=_text(unusable(error)))
    except Exception as error:
        _log.error("a %s failed: %s", kind, type(error).__name__, exc_info=_without_values(error))
        return Ending(State.FAILED, problem=_text(Problem("internal", f"{type(error).__name__} in the solver.")))
    state = State.STOPPED if watch.cancel.is_set else State.DONE
    if kind == PLAN and answer.status not in ("stopped", None):
        state = State.DONE
    return Ending(state, answer.status, answer.document, answer.explanation, None, _made(answer))


def _made(answer: Answer) -> NewJob | None:
    """The plan or the block that came of a question, to be kept as one of its own."""
    made: Plan | Block | None = answer.new_plan or answer.new_block
    if made is None:
        return None
    kind, ended = (PLAN, made.status) if isinstance(made, Plan) else (BLOCK, worst_status(made.weeks))
    request = json.dumps({"brief": made.brief.model_dump(mode="json"), "seconds": 0.0})
    document = made.model_dump_json()
    explanation = answer.explanation if kind == BLOCK else None
    return NewJob.of(kind, made.brief, request, answer=document, status=ended.value, explanation=explanation)


def _text(problem: Problem) -> str:
    return json.dumps(problem.document())


def _without_values(error: BaseException) -> tuple[type[BaseException], BaseException, TracebackType | None]:
    """The traceback with the bare type of the error: its message may quote a brief."""
    return type(error), Exception("(message left out)"), error.__traceback__


def _patiently(act: Any) -> Any:
    """Do something with the store, waiting for one that is away."""
    deadline = time.monotonic() + _WRITE_FOR_SECONDS
    pause = 0.1
    while True:
        try:
            return act()
        except StoreUnavailable:
            if time.monotonic() > deadline:
                raise
            time.sleep(pause)
            pause = min(5.0, 2 * pause)


class _Watch:
    """The thread beside a run."""

    def __init__(self, jobs: JobStore, job_id: str, attempt: int, beat_seconds: float, may_exit: bool) -> None:
        self.cancel = Cancel()
        self._jobs, self._job_id, self._attempt = jobs, job_id, attempt
        self._beat_seconds, self._may_exit = beat_seconds, may_exit
        self._progress: dict[str, Any] | None = None
        self._over = threading.Event()
        self._deadline: float | None = None
        self._thread = threading.Thread(target=self._watch, name="watch", daemon=True)

    def note(self, tier: int, name: str, best: int, bound: int, seconds: float) -> None:
        """The solver found a better week."""
        self._progress = {"tier": tier, "name": name, "best": best, "bound": bound, "seconds": round(seconds, 2)}

    def note_week(self, week: int, of: int, answer: str) -> None:
        """A week of a block has come to its end; 0 before the first."""
        self._progress = {"week": week, "of": of, "answer": answer}

    def allow(self, seconds: float) -> None:
        """Stop the run when so many seconds from now are over, should its own limits not have done so."""
        self._deadline = time.monotonic() + seconds

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _watch(self) -> None:
        told: dict[str, Any] | None = None
        stopped_at: float | None = None
        while not self._over.wait(self._beat_seconds):
            progress = self._progress
            try:
                stop = self._jobs.beat(self._job_id, self._attempt, progress if progress is not told else None)
                told = progress
            except StoreUnavailable:
                stop = False
            late = self._deadline is not None and time.monotonic() > self._deadline
            if stop is None or stop or late:
                self.cancel.set()
            if self.cancel.is_set:
                stopped_at = stopped_at or time.monotonic()
                if self._may_exit and time.monotonic() - stopped_at > _GRACE_SECONDS:
                    os._exit(3)
