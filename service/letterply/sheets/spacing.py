"""How far apart parts must lie so that cutting one does not touch the next. All mm."""

from __future__ import annotations

from collections.abc import Iterable

from letterply.stacks import Part

__all__ = [
    "BEAM_CLEARANCE_MM",
    "ROUTER_CLEARANCE_MM",
    "least_spacing",
    "least_spacing_for_beam",
    "spaced_for_overruns",
]

ROUTER_CLEARANCE_MM = 2.0
"""Left beside the cutter's own width; 1 to 3 mm are usual (common practice, no source)."""

BEAM_CLEARANCE_MM = 1.0
"""Never less than this between parts cut by a beam (common practice, no source)."""


def least_spacing(cutter_diameter_mm: float, *, clearance_mm: float = ROUTER_CLEARANCE_MM) -> float:
    """Return the least distance between parts cut by a rotating cutter, mm.

    The cutter runs its whole diameter beside each part, so two neighbours may share one cut's
    width; the clearance keeps a strip between the two cuts' far walls from coming loose.

    Raises:
        ValueError: for a diameter that is not above 0 or a negative clearance.

    >>> least_spacing(3.175)
    5.175

    """
    if cutter_diameter_mm <= 0 or clearance_mm < 0:
        raise ValueError("a cutter has a diameter, and a clearance is not negative")
    return cutter_diameter_mm + clearance_mm


def least_spacing_for_beam(kerf_mm: float, thickness_mm: float) -> float:
    """Return the least distance between parts cut by a beam, mm.

    Once the sheet's thickness, so that heat does not add up between two cuts, and at least
    `BEAM_CLEARANCE_MM` beside the kerf (common practice, no source).

    >>> least_spacing_for_beam(0.2, 3), least_spacing_for_beam(0.2, 0.5)
    (3.2, 1.2)

    """
    if kerf_mm <= 0 or thickness_mm <= 0:
        raise ValueError("a kerf and a thickness are above 0")
    return kerf_mm + max(thickness_mm, BEAM_CLEARANCE_MM)


def spaced_for_overruns(spacing_mm: float, parts: Iterable[Part]) -> float:
    """Return the spacing, or more where work on a part runs so far over its edge, mm.

    What is cut beyond an edge must not meet the next part; the clearance is left besides.
    """
    farthest = max((part.overrun_mm for part in parts), default=0.0)
    return max(spacing_mm, farthest + ROUTER_CLEARANCE_MM) if farthest else spacing_mm
