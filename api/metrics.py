"""What a monitor reads at /metrics, in Prometheus' text format."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"


class Metrics:
    """A registry of its own, so that several servers can live in one process."""

    def __init__(self, counts: Callable[[], Mapping[str, int]]) -> None:
        """``counts`` tells how many jobs are in each state."""
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "weekwright_requests", "Requests answered", ["method", "route", "status"], registry=self._registry
        )
        self._seconds = Histogram(
            "weekwright_request_seconds",
            "Seconds from request to the head of the answer",
            ["method", "route"],
            registry=self._registry,
            buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10, 30),
        )
        self._registry.register(_Jobs(counts))

    def answered(self, method: str, route: str, status: int, seconds: float) -> None:
        self._requests.labels(method, route, str(status)).inc()
        self._seconds.labels(method, route).observe(seconds)

    def text(self) -> bytes:
        return generate_latest(self._registry)


class _Jobs(Collector):
    def __init__(self, counts: Callable[[], Mapping[str, int]]) -> None:
        self._counts = counts

    def describe(self) -> Iterator[Metric]:
        yield GaugeMetricFamily("weekwright_jobs", "Plans and answers in the store", labels=["state"])

    def collect(self) -> Iterator[Metric]:
        family = GaugeMetricFamily("weekwright_jobs", "Plans and answers in the store", labels=["state"])
        for state, count in self._counts().items():
            family.add_metric([state], count)
        yield family
