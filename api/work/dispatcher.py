"""Hands queued work to the executor, as much as it has workers, and sees to what was lost."""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import CancelledError, Executor, Future, wait

from pydantic import SecretStr

from api.problems import Problem
from api.settings import Settings
from api.store import JobStore, StoreUnavailable
from api.work.changes import Changes
from api.work.worker import run

_log = logging.getLogger(__name__)
_LOOK_SECONDS = 0.5
"""How often to look for work that another server has accepted or left."""
Claim = tuple[str, int]
"""A job's id and which attempt this is."""


class Dispatcher:
    """One thread between store and executor. No more is handed over than can run: the queue is the store's."""

    def __init__(self, settings: Settings, jobs: JobStore, executor: Callable[[], Executor], changes: Changes) -> None:
        self._settings, self._jobs, self._make, self._changes = settings, jobs, executor, changes
        self._executor: Executor | None = None
        self._flying: dict[Future[None], Claim] = {}
        self._landed: list[Claim] = []
        """Runs that ended without an answer, still to be told to the store."""
        self._beats: dict[Claim, tuple[int, float]] = {}
        """Of every run its last beat and when, on the monotonic clock, it was first seen: wall clocks may jump."""
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._loop, name="dispatcher", daemon=True)

    # --- from the server ------------------------------------------------------------------------------------------

    def start(self) -> None:
        self._executor = self._make()
        self._thread.start()

    def wake(self) -> None:
        """There may be something to do."""
        self._wake.set()

    @property
    def is_alive(self) -> bool:
        return self._thread.is_alive()

    def stop(self) -> None:
        """Let running work end for a while; what does not is handed back, to be run at the next start."""
        self._closing.set()
        self._wake.set()
        self._thread.join()
        assert self._executor is not None
        with self._lock:
            flying = dict(self._flying)
        wait(flying, timeout=self._settings.drain_seconds)
        for future, (job_id, attempt) in flying.items():
            if not future.done():
                try:
                    self._jobs.give_back(job_id, attempt)
                except StoreUnavailable:
                    _log.warning("could not hand back a running job; it will be found lost")
        # A run that was handed back finds at its next beat that it is no longer wanted.
        self._executor.shutdown(wait=True, cancel_futures=True)

    # --- in the thread --------------------------------------------------------------------------------------------

    def _loop(self) -> None:
        while not self._closing.is_set():
            self._wake.clear()
            try:
                self._report_lost()
                self._hand_over()
            except StoreUnavailable:
                _log.warning("the store is away; trying again")
                self._closing.wait(_LOOK_SECONDS)
            except Exception:
                _log.exception("the dispatcher stumbled; it goes on")
                self._closing.wait(_LOOK_SECONDS)
            self._wake.wait(_LOOK_SECONDS)

    def _hand_over(self) -> None:
        while not self._closing.is_set() and len(self._flying) < self._settings.workers:
            claim = self._jobs.claim_next()
            if claim is None:
                return
            self._submit(claim)

    def _submit(self, claim: Claim) -> None:
        assert self._executor is not None
        job_id, attempt = claim
        try:
            future = self._executor.submit(
                run,
                SecretStr(self._settings.store_url),
                job_id,
                attempt,
                beat_seconds=self._settings.beat_seconds,
                may_exit=self._settings.cluster is None,
            )
        except Exception:
            self._jobs.give_back(job_id, attempt)
            raise
        with self._lock:
            self._flying[future] = claim
        future.add_done_callback(self._land)
        self._changes.tell(job_id)

    def _land(self, future: Future[None]) -> None:
        with self._lock:
            claim = self._flying.pop(future)
        failed: BaseException | None
        try:
            failed = future.exception()
        except CancelledError as error:
            failed = error
        if failed is not None and not self._closing.is_set():
            _log.warning("a worker was lost: %s", type(failed).__name__)
            with self._lock:
                self._landed.append(claim)
        self._changes.tell(claim[0])
        self._wake.set()

    def _report_lost(self) -> None:
        """Queue again, once, what was lost here, and what has not been heard of for too long anywhere."""
        while self._landed:
            self._lose(self._landed[0])
            with self._lock:
                del self._landed[0]
        moment = time.monotonic()
        with self._lock:
            here = set(self._flying.values())
        beats: dict[Claim, tuple[int, float]] = {}
        for job_id, attempt, beat in self._jobs.running():
            claim = (job_id, attempt)
            known = self._beats.get(claim)
            beats[claim] = known if known is not None and known[0] == beat else (beat, moment)
            if beat == 0 and claim in here:
                beats[claim] = (beat, moment)  # handed over, not begun: its future tells if it is lost
            if moment - beats[claim][1] > self._settings.lost_after_seconds:
                _log.warning("a run has not been heard of for %g s", self._settings.lost_after_seconds)
                self._lose(claim)
        self._beats = beats

    def _lose(self, claim: Claim) -> None:
        problem = Problem("worker-lost", "The process that worked on it ended, at the second try too.")
        if self._jobs.lost(*claim, json.dumps(problem.document())):
            self._changes.tell(claim[0])
