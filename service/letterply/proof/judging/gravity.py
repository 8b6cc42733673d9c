"""Faults in, the same in the order in which a maker has to know of them out.

First what fails the proof; then what hurts people or the machine, what spoils a part, what is left
to do, what wears a cutter, and what only shows; of one kind the largest.
"""

from __future__ import annotations

from collections.abc import Sequence

from letterply.findings import Severity
from letterply.proof.model import Fault

__all__ = ["KINDS", "worst_first"]

KINDS: tuple[tuple[str, ...], ...] = (
    ("no-program", "syntax", "unknown-word", "modal-conflict", "block-delete", "missing-word",
     "bad-value", "feed-missing", "arc-mismatch", "no-end", "units", "arcs", "tool", "head",
     "unknown-position"),
    ("beam-on", "power", "outside-machine", "clamp", "rapid-in-stock", "rapid-at-depth",
     "low-travel", "no-lift", "below-bed", "outside-stock", "travel-outside", "spindle-off",
     "spindle-direction", "spindle-left-on", "plunge", "reach", "loose", "adrift", "tabs-lost",
     "extraction"),
    ("gouge", "order", "stray"),
    ("not-through", "uncut", "tabs-long", "tabs-tall", "closed"),
    ("deep-pass", "chip-load", "surface-speed", "spindle-speed", "feed", "spin-up", "pause-in-cut",
     "spindle-on"),
    ("rounded", "shallow", "tabs-extra"),
)  # fmt: skip
"""Codes by what comes of them, worst first: what cannot be read or followed (nothing else that is
told of it is sure), what hurts or breaks loose, what spoils, what is not done, what wears, what
shows."""

_RANKS = {code: rank for rank, codes in enumerate(KINDS) for code in codes}
_SEVERITIES = (Severity.BLOCKER, Severity.CAUTION, Severity.NOTE)


def worst_first(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return faults in the order of their gravity, those of one kind by their size."""
    return tuple(sorted(faults, key=_gravity))


def _gravity(fault: Fault) -> tuple[object, ...]:
    # Sizes in mm compare with each other, ratios and seconds only within their code.
    size = -(fault.measured or 0.0)
    in_mm = fault.unit == "mm" and fault.measured is not None
    return (
        _SEVERITIES.index(fault.severity),
        _RANKS[fault.code],
        not in_mm,
        "" if in_mm or fault.measured is None else fault.code,
        size,
        fault.program or "~",
        fault.line if fault.line is not None else 1 << 30,
        fault.mark or "",
        fault.code,
        fault.text,
    )
