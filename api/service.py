"""The parts of a running server, put together: store, work, limits, metrics."""

from __future__ import annotations

import asyncio
import datetime as dt
import logging
import threading
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor
from typing import TypeVar

import anyio
import anyio.to_thread

from api.metrics import Metrics
from api.rates import Rates
from api.settings import Settings
from api.store import JobStore, KeyStore, Store, StoreUnavailable
from api.store.nouns import Room
from api.work import Changes, Dispatcher, make_executor

T = TypeVar("T")
_log = logging.getLogger(__name__)
_TURNS = 3
_HOUSEKEEPING_SECONDS = 3600.0
_MOST_DRIFT_SECONDS = 600.0


class NoKeys(Exception):  # noqa: N818, the name says what is wrong
    """The server would be open to others than this machine."""


class Service:
    """Everything that routes need, one for each application."""

    def __init__(self, settings: Settings, *, wall: Callable[[], float] = time.time) -> None:
        self.settings = settings
        self._wall = wall
        self._started = wall(), time.monotonic()
        self.store = Store(settings.store_url)
        self.jobs = JobStore(self.store)
        self.keys = KeyStore(self.store)
        self.changes = Changes()
        self.rates = Rates(settings.requests_per_minute)
        self.metrics = Metrics(self.jobs.counts)
        self.dispatcher = Dispatcher(settings, self.jobs, self._executor, self.changes)
        self.streams: Counter[str] = Counter()
        """Event streams that are open, by tenant; touched in the event loop alone."""
        self._turns = anyio.CapacityLimiter(_TURNS)
        self._closing = threading.Event()
        self._housekeeper = threading.Thread(target=self._keep_house, name="housekeeper", daemon=True)

    @property
    def room(self) -> Room:
        settings = self.settings
        return Room(settings.most_waiting, settings.most_waiting_per_tenant, settings.most_stored)

    async def in_turn(self, act: Callable[[], T]) -> T:
        """Do something that takes the processor or waits for the database's one writer, few at a time.

        Else it would hold all the threads, and those who only read would wait for it.
        """
        return await anyio.to_thread.run_sync(act, limiter=self._turns)

    @staticmethod
    def no_keys(host: str) -> str:
        return (
            f"{host} can be reached from elsewhere, and the store has no key; make one: weekwright keys create TENANT"
        )

    def _executor(self) -> Executor:
        return make_executor(self.settings.workers, self.settings.cluster)

    def start(self, loop: asyncio.AbstractEventLoop) -> None:
        """Raises NoKeys, StoreUnavailable."""
        self.store.migrate()
        if not self.settings.on_loopback and not self.keys.any_active():
            raise NoKeys(self.no_keys(self.settings.host))
        self.changes.bind(loop)
        self.dispatcher.start()
        self._housekeeper.start()

    def stop(self) -> None:
        self._closing.set()
        self.dispatcher.stop()
        self.store.close()

    def _keep_house(self) -> None:
        while not self._closing.is_set():
            try:
                self.erase_old()
            except Exception:
                # The next look may go well: a house that is never kept again would keep people's data for ever.
                _log.exception("looking for old plans failed; they are looked for later")
            self._closing.wait(_HOUSEKEEPING_SECONDS)

    def erase_old(self) -> int:
        """Erase what is past its time, unless the clock has jumped: then its word is not enough to delete by."""
        drift = (self._wall() - self._started[0]) - (time.monotonic() - self._started[1])
        if abs(drift) > _MOST_DRIFT_SECONDS:
            _log.warning("the clock has jumped by %.0f s: nothing is erased until the next start", drift)
            return 0
        try:
            moment = dt.datetime.fromtimestamp(self._wall(), dt.UTC)
            erased = self.jobs.erase_older(moment - dt.timedelta(days=self.settings.retention_days))
        except StoreUnavailable:
            _log.warning("the store is away; old plans are looked for later")
            return 0
        if erased:
            _log.info("%d plans and answers were past their time and are erased", erased)
        return erased
