"""How high letters must be to be read from afar, by a published table. All mm.

Source: 2010 ADA Standards for Accessible Design, Table 703.5.5 (visual characters). It is advice:
local codes may ask for more, and larger letters read better.
"""

from __future__ import annotations

from letterply.shapes import SAME_MM
from letterply.units import MM_PER_INCH

__all__ = ["LOWEST_BASELINE_MM", "minimum_visual_height"]


_BANDS = ((70.0, 72.0, 0.625), (120.0, 180.0, 2.0), (float("inf"), 252.0, 3.0))
"""Table 703.5.5, inches: baselines up to, distance where the slope starts, least height there."""

LOWEST_BASELINE_MM = 40 * MM_PER_INCH
"""Where the table starts."""

_RISE = (1 / 8) / 12
"""Table 703.5.5: 1/8 in of height for each foot of distance."""


def minimum_visual_height(viewing_distance_mm: float, baseline_height_mm: float) -> float:
    """Return the least height of visual characters, mm, by Table 703.5.5 of the 2010 Standards.

    Above a distance that depends on the height of the baseline, 1/8 in is added for each foot,
    pro rata: the table does not say whether part feet round up.

    Raises:
        ValueError: a baseline below 40 in, where the table does not reach, or a negative distance.

    >>> minimum_visual_height(6096, 2286) / 25.4  # 20 ft away, baseline at 90 in
    2.625

    """
    if baseline_height_mm < LOWEST_BASELINE_MM - SAME_MM:
        raise ValueError("the table starts at baselines 40 in above the floor")
    if viewing_distance_mm < 0:
        raise ValueError("a distance is not negative")
    for highest_in, slope_from_in, least_in in _BANDS:
        if baseline_height_mm <= highest_in * MM_PER_INCH + SAME_MM:
            beyond = max(viewing_distance_mm - slope_from_in * MM_PER_INCH, 0.0)
            return least_in * MM_PER_INCH + beyond * _RISE
    raise AssertionError("the last band has no end")
