"""The largest or the smallest size at which something is so, by halving. Values only.

What is asked at a size is dear (a whole check, a nesting): it is asked at steps that are told, as
seldom as can be, and never twice. That it is so from a size on, or up to one, is taken for granted
between two sizes that were tried; the answer itself was tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable

__all__ = ["Tried", "largest_where", "smallest_where"]

_NEAR = 1.01
"""Two sizes whose ratio is below it are not told apart further."""

_BELOW = 0.98
"""Share of a smallest size at which it is seen not to be so."""


class Tried:
    """A question at sizes, each asked once; sizes are steps of `step_mm`."""

    def __init__(self, ask: Callable[[float], bool], step_mm: float) -> None:
        self._ask = ask
        self._step = step_mm
        self.found: dict[float, bool] = {}

    def down(self, size_mm: float) -> float:
        """Return the step at or below a size."""
        return round(math.floor(size_mm / self._step + 1e-6) * self._step, 6)

    def up(self, size_mm: float) -> float:
        """Return the step at or above a size."""
        return round(math.ceil(size_mm / self._step - 1e-6) * self._step, 6)

    def at(self, size_mm: float) -> bool:
        """Tell whether it is so at a size."""
        if size_mm not in self.found:
            self.found[size_mm] = self._ask(size_mm)
        return self.found[size_mm]


def largest_where(tried: Tried, guess_mm: float, least_mm: float, most_mm: float) -> float | None:
    """Return about the largest size, up to one, at which it is so; None where it is at none.

    Args:
        tried: the question.
        guess_mm: where to begin.
        least_mm: sizes below are not looked at.
        most_mm: sizes above are not looked at.

    """
    low = min(max(tried.down(guess_mm), tried.up(least_mm)), tried.down(most_mm))
    high: float | None = None
    while not tried.at(low):
        high = low
        if low <= tried.up(least_mm):
            return None
        low = max(tried.down(low / 1.5), tried.up(least_mm))
    while high is None:
        if low >= tried.down(most_mm):
            return low
        further = min(tried.up(low * 1.3), tried.down(most_mm))
        low, high = (further, None) if tried.at(further) else (low, further)
    return _halved(tried, low, high, good_is_low=True)


def smallest_where(tried: Tried, guess_mm: float, least_mm: float, most_mm: float) -> float | None:
    """Return about the smallest size, down to one, at which it is so; as `largest_where`.

    Just below it, by 2 %, it is not so, unless the least size is the answer.
    """
    high = min(max(tried.up(guess_mm), tried.up(least_mm)), tried.down(most_mm))
    while not tried.at(high):
        if high >= tried.down(most_mm):
            return None
        high = min(tried.up(high * 1.25), tried.down(most_mm))
    least = tried.up(least_mm)
    while high > least:
        low = max((size for size, yes in tried.found.items() if size < high and not yes), default=0)
        while not low:
            below = max(tried.down(high / 1.5), least)
            if not tried.at(below):
                low = below
            elif below == least:
                return least
            else:
                high = below
        high = _halved(tried, low, high, good_is_low=False)
        below = max(tried.down(high * _BELOW), least)
        if below == high or not tried.at(below):
            break
        high = below
    return high


def _halved(tried: Tried, low: float, high: float, *, good_is_low: bool) -> float:
    """Return the good one of two sizes that lie near each other, one good and one not."""
    while high / low > _NEAR:
        middle = tried.down(math.sqrt(low * high))
        if middle in (low, high):
            break
        if tried.at(middle) is good_is_low:
            low = middle
        else:
            high = middle
    return low if good_is_low else high
