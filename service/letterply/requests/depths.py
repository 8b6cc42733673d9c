"""How deep work on a layer may go, and how deep it goes where the recipe does not say. All mm."""

from __future__ import annotations

import math

from letterply.errors import InputError
from letterply.units import format_mm

__all__ = [
    "CLEARANCE_MM",
    "DETAIL_MM",
    "SCRIBED_MM",
    "hatch_gap",
    "recess_depth",
    "require_blind",
]

SCRIBED_MM = 0.15
"""Depth of a scribed line; common practice, no source."""

DETAIL_MM = 0.25
"""How deep an inside corner may stay round: unseen at arm's length; common practice, no source."""

CLEARANCE_MM = 0.1
"""How much wider a recess is than what goes in, all round, where nothing was measured: a fit by
hand; common practice, no source."""

_RECESS_SHARE = 1 / 3
"""Depth of a recess as a share of the thickness, where nothing is said; common practice, no
source."""


_OVERLAP = 0.8
_POINT_DEG = 120.0


def hatch_gap(depth_mm: float, line: tuple[float, float] | None = None) -> float:
    """Return how far apart lines lie that meet, mm: four fifths of the width of a line.

    `line` is the flat, mm, and the angle, degrees, of a point that was measured: its lines are as
    much wider as the flat is.

    A point of 120 degrees, the usual one, draws 2 d tan(60 degrees) wide at the depth d: 0.52 mm at
    0.15 mm (plane geometry). The overlap is common practice, no source.

    >>> round(hatch_gap(0.15), 3)
    0.416

    """
    tip_mm, angle_deg = line or (0.0, _POINT_DEG)
    return _OVERLAP * (tip_mm + 2 * depth_mm * math.tan(math.radians(angle_deg / 2)))


def recess_depth(depth_mm: float | None, thickness_mm: float) -> float:
    """Return the depth of a recess: what is asked for, or else a third of the thickness."""
    return _RECESS_SHARE * thickness_mm if depth_mm is None else depth_mm


def require_blind(
    depth_mm: float | None, thickness_mm: float, what: str, instead: str, field: str
) -> None:
    """Refuse work with a floor that would go through its layer.

    Args:
        depth_mm: how deep; None asks for nothing.
        thickness_mm: of the layer.
        what: the work in words, as `A recess`.
        instead: what to ask for, if it is to go through.
        field: dotted path of the depth.

    Raises:
        InputError: `too-deep`.

    """
    if depth_mm is None or depth_mm < thickness_mm:
        return
    raise InputError(
        f"{what} of {format_mm(depth_mm)} would go through a layer of {format_mm(thickness_mm)}.",
        code="too-deep",
        field=field,
        expected=f"less than {format_mm(thickness_mm)}, or {instead}",
    )
