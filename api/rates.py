"""How many requests one caller may make: a bucket of tokens each, filled at a steady rate."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable

_MOST_CALLERS = 10_000


class Rates:
    """Kept in memory on the monotonic clock; a server started anew begins with full buckets."""

    def __init__(self, per_minute: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_second = per_minute / 60
        self._most = max(1.0, per_minute / 6)
        self._clock = clock
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def at_once(self) -> int:
        """How many may come at once: ten seconds' worth."""
        return int(self._most)

    def take(self, caller: str) -> float:
        """Take one token. 0 when there was one, else the seconds until there is."""
        moment = self._clock()
        with self._lock:
            tokens, seen = self._buckets.pop(caller, (self._most, moment))
            tokens = min(self._most, tokens + (moment - seen) * self._per_second)
            wait = 0.0 if tokens >= 1 else (1 - tokens) / self._per_second
            self._buckets[caller] = (tokens - 1 if tokens >= 1 else tokens, moment)
            if len(self._buckets) > _MOST_CALLERS:
                self._buckets.popitem(last=False)  # the one not heard of for longest: its bucket is likely full
        return wait
