"""Waking those who wait for a job, from whatever thread learns of its end."""

from __future__ import annotations

import asyncio
from contextlib import suppress


class Changes:
    """Events by job; to be used in one event loop."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._waiting: dict[str, set[asyncio.Event]] = {}
        self.closing = False

    def bind(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self.closing = False

    def tell(self, job_id: str) -> None:
        """Something has changed. Safe to call from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            with suppress(RuntimeError):  # the loop has been closed in between
                self._loop.call_soon_threadsafe(self._wake, job_id)

    def close(self) -> None:
        """Wake everyone: the server is going down."""
        self.closing = True
        for job_id in list(self._waiting):
            self._wake(job_id)

    def _wake(self, job_id: str) -> None:
        for event in self._waiting.get(job_id, ()):
            event.set()

    async def wait(self, job_id: str, seconds: float) -> None:
        """Return when something may have changed, or the time is over."""
        if self.closing:
            return
        event = asyncio.Event()
        self._waiting.setdefault(job_id, set()).add(event)
        try:
            await asyncio.wait_for(event.wait(), seconds)
        except TimeoutError:
            pass
        finally:
            self._waiting[job_id].discard(event)
            if not self._waiting[job_id]:
                del self._waiting[job_id]
