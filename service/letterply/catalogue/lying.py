"""How a stock sheet lies on a machine, and how much of it the machine reaches. All mm.

A sheet lies with its lower left corner at that of the bed. One that is too long that way lies
turned by a quarter where the machine then reaches more of it; its grain turns with it. Of a sheet
that is too large either way a part is used. Beside what is cut, the cutter and the way in need
their room within the travel of the machine, too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Cutter, CutterKind, Material, Stock

__all__ = ["WAY_IN_MM", "beside_mm", "lie_on_bed"]

_USUAL_CUTTER_MM = 3.0
"""The smallest cutter of at least this diameter is the one that cuts outlines, as a rule."""

WAY_IN_MM = 1.5
"""Beyond its own diameter a cutter that goes in by a helix takes no more than this."""

_LIT_MM = 2.0
"""How far from an edge a beam is lit at most, so that the mark it leaves lies in the waste."""

_DEEPER_MM = 0.2
"""A cut goes so much deeper than the sheet is thick."""

_SAME_MM2 = 1.0
"""A sheet is not turned to win less than this."""


def beside_mm(
    machine: Machine, cutters: Sequence[Cutter], sheets: Iterable[tuple[Material, float]]
) -> float:
    """Return how far beside a part the middle of the cutter may have to go.

    Args:
        machine: tells whether a beam cuts.
        cutters: the rack.
        sheets: material and thickness of all that may be cut.

    """
    if machine.kind == "beam":
        kerf = max((c.diameter_mm for c in cutters if c.kind is CutterKind.BEAM), default=0.2)
        return kerf + _LIT_MM
    flat = [c for c in cutters if c.kind is CutterKind.FLAT]
    widest = _USUAL_CUTTER_MM
    for material, thickness in sheets:
        fit = [
            c.diameter_mm
            for c in flat
            if c.cutting_length_mm >= thickness + _DEEPER_MM
            and (not c.materials or material.kind in c.materials)
        ]
        usual = min((d for d in fit if d >= _USUAL_CUTTER_MM), default=max(fit, default=0.0))
        widest = max(widest, usual)
    # Work up to an edge brings half of any cutter beyond it: above the face a V-bit is wide.
    half = max((c.radius_mm for c in cutters if c.flutes), default=0.0)
    return max(widest + WAY_IN_MM, half)


def lie_on_bed(stock: Stock, bed_mm: tuple[float, float], around_mm: float) -> Stock:
    """Return a sheet with how it lies on a bed, and how far it is reached there.

    Args:
        stock: the sheet, its width along its grain.
        bed_mm: travel of the machine in x and y.
        around_mm: how far beside a part the cutter may have to go (`beside_mm`).

    """
    stock = replace(stock, beside_mm=around_mm)

    def lying(turned: bool) -> Stock:
        along = bed_mm[::-1] if turned else bed_mm
        # Where the margin is narrower than the way of the cutter, it goes beyond the corner.
        before = max(0.0, around_mm - stock.edge_mm)
        reach = along[0] - around_mm - before, along[1] - around_mm - before
        sides = stock.width_mm - stock.edge_mm, stock.height_mm - stock.edge_mm
        cut_off = any(far < side for far, side in zip(reach, sides, strict=True))
        return replace(stock, turned=turned, reach_mm=reach if cut_off else None)

    plain, turned = lying(False), lying(True)
    return turned if _area(turned) > _area(plain) + _SAME_MM2 else plain


def _area(stock: Stock) -> float:
    width, height = stock.room_mm
    return width * height
