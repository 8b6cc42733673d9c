"""Metrics: counters and histograms in memory, Prometheus text out.

Text format 0.0.4: one `# HELP` and `# TYPE` a family, samples sorted, so that the same state
gives the same bytes.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

__all__ = ["Metrics"]

Labels = tuple[tuple[str, str], ...]

_BOUNDS_S = (0.01, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 120.0)


class Metrics:
    """What operators watch. Safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._help: dict[str, tuple[str, str]] = {}
        self._counts: dict[str, dict[Labels, float]] = {}
        self._times: dict[str, dict[Labels, list[float]]] = {}
        self._gauges: dict[str, Callable[[], float]] = {}

    def count(self, name: str, what: str, **labels: str) -> None:
        """Add one to a counter."""
        key = tuple(sorted(labels.items()))
        with self._lock:
            self._help[name] = ("counter", what)
            family = self._counts.setdefault(name, {})
            family[key] = family.get(key, 0) + 1

    def observe(self, name: str, what: str, seconds: float, **labels: str) -> None:
        """Add a duration to a histogram."""
        key = tuple(sorted(labels.items()))
        with self._lock:
            self._help[name] = ("histogram", what)
            sums = self._times.setdefault(name, {}).setdefault(key, [0.0] * (len(_BOUNDS_S) + 2))
            for place, bound in enumerate(_BOUNDS_S):
                sums[place] += seconds <= bound
            sums[-2] += 1
            sums[-1] += seconds

    def watch(self, name: str, what: str, read: Callable[[], float]) -> None:
        """Show a value that is read whenever somebody asks."""
        with self._lock:
            self._help[name] = ("gauge", what)
            self._gauges[name] = read

    def text(self) -> str:
        """Return all of it in Prometheus text format."""
        with self._lock:
            lines: list[str] = []
            for name, (kind, what) in sorted(self._help.items()):
                lines += [f"# HELP {name} {what}", f"# TYPE {name} {kind}"]
                for labels, value in sorted(self._counts.get(name, {}).items()):
                    lines.append(f"{name}{_braces(labels)} {_number(value)}")
                for labels, sums in sorted(self._times.get(name, {}).items()):
                    for bound, value in zip((*_BOUNDS_S, None), sums, strict=False):
                        edge = "+Inf" if bound is None else f"{bound:g}"
                        lines.append(
                            f"{name}_bucket{_braces((*labels, ('le', edge)))} {_number(value)}"
                        )
                    lines.append(f"{name}_sum{_braces(labels)} {sums[-1]:.6f}")
                    lines.append(f"{name}_count{_braces(labels)} {_number(sums[-2])}")
                if name in self._gauges:
                    lines.append(f"{name} {_number(self._gauges[name]())}")
        return "\n".join(lines) + "\n"


def _braces(labels: Iterable[tuple[str, str]]) -> str:
    escaped = (
        '{}="{}"'.format(k, v.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n"))
        for k, v in labels
    )
    inside = ",".join(escaped)
    return f"{{{inside}}}" if inside else ""


def _number(value: float) -> str:
    return f"{value:.0f}" if value == int(value) else repr(value)
