"""How deep work on a layer may go, and how deep it goes where the recipe does not say. All mm."""

from __future__ import annotations

from letterply.errors import InputError
from letterply.units import format_mm

__all__ = ["SCRIBED_MM", "recess_depth", "require_blind"]

SCRIBED_MM = 0.15
"""Depth of a scribed line; common practice, no source."""

_RECESS_SHARE = 1 / 3
"""Depth of a recess as a share of the thickness, where nothing is said; common practice, no
source."""


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
