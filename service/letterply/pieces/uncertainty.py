"""How uncertain a figure is that follows from readings: the published rules of error propagation.

Source: JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in
measurement (GUM). The numbers of its clauses were looked up: 5.1.2 in its own text as ISO shows it,
G.6.6 where the BIPM names it for its calibrations, the others in several works that quote or cite
them for the same rule, the guide's text of those not being at hand.

Readings of one caliper on one piece stray alike: the same length is rounded the same way each time.
So what they add to a figure is summed up and not taken in quadrature (5.2.2, note 1: inputs that
are wholly correlated), which is the careful way; what is independent, as the scatter of readings
and how z was zeroed, is combined with it in quadrature.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

__all__ = ["COVERAGE", "combined", "expanded", "of_one_instrument", "rectangular", "scatter"]

COVERAGE = 2.0
"""Coverage factor k: an interval of about 95 % (6.2.1, 6.3.3, G.6.6)."""


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of what lies anywhere within ± a half-width (4.3.7).

    >>> round(rectangular(0.005), 5)
    0.00289

    """
    return half_width / math.sqrt(3)


def of_one_instrument(sensitivities: Iterable[float], resolution: float) -> float:
    """Return what the steps of an instrument add to a figure (F.2.2.1 for one, 5.2.2 for all).

    Args:
        sensitivities: how far the figure moves a unit of each reading.
        resolution: the smallest step; a reading lies within half of it.

    >>> round(of_one_instrument([0.5, -0.5], 0.01), 5)
    0.00289

    """
    return sum(map(abs, sensitivities)) * rectangular(resolution / 2)


def scatter(readings: Sequence[float]) -> float:
    """Return the standard uncertainty of a mean from the scatter of its readings (4.2.3); 0 of one.

    >>> round(scatter([29.9, 30.1]), 3), scatter([30.0])
    (0.1, 0.0)

    """
    count = len(readings)
    if count < 2:
        return 0.0
    mean = sum(readings) / count
    return math.sqrt(sum((r - mean) ** 2 for r in readings) / (count - 1) / count)


def combined(*parts: float) -> float:
    """Return the combined standard uncertainty of independent parts: in quadrature (5.1.2).

    >>> combined(0.003, 0.004)
    0.005

    """
    return math.hypot(*parts)


def expanded(standard: float) -> float:
    """Return the expanded uncertainty U = k u (6.2.1)."""
    return COVERAGE * standard
