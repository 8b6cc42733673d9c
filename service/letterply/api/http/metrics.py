"""Metrics: what operators watch, in memory; the text that Prometheus reads out."""

from __future__ import annotations

import threading
from collections.abc import Callable

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    disable_created_metrics,
    generate_latest,
)

__all__ = ["Metrics"]

_BOUNDS_S = (0.01, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 120.0)


class Metrics:
    """Counters, histograms of durations and gauges of one app. Safe to use from several threads."""

    def __init__(self) -> None:
        # A registry of its own: two apps in one process do not count for each other.
        self._registry = CollectorRegistry()
        disable_created_metrics()  # type: ignore[no-untyped-call]
        self._lock = threading.Lock()
        self._counters: dict[str, Counter] = {}
        self._histograms: dict[str, Histogram] = {}
        self._gauges: dict[str, Gauge] = {}

    def count(self, name: str, what: str, **labels: str) -> None:
        """Add one to a counter."""
        with self._lock:
            if name not in self._counters:
                self._counters[name] = Counter(name, what, sorted(labels), registry=self._registry)
        counter = self._counters[name]
        (counter.labels(**labels) if labels else counter).inc()

    def observe(self, name: str, what: str, seconds: float, **labels: str) -> None:
        """Add a duration to a histogram."""
        with self._lock:
            if name not in self._histograms:
                self._histograms[name] = Histogram(
                    name, what, sorted(labels), registry=self._registry, buckets=_BOUNDS_S
                )
        histogram = self._histograms[name]
        (histogram.labels(**labels) if labels else histogram).observe(seconds)

    def watch(self, name: str, what: str, read: Callable[[], float], **labels: str) -> None:
        """Show a value that is read whenever somebody asks."""
        with self._lock:
            if name not in self._gauges:
                self._gauges[name] = Gauge(name, what, sorted(labels), registry=self._registry)
        gauge = self._gauges[name]
        (gauge.labels(**labels) if labels else gauge).set_function(read)

    def text(self) -> str:
        """Return all of it in Prometheus text format 0.0.4."""
        return generate_latest(self._registry).decode()
