"""What a shop has measured, as later work asks for it: fits, true thicknesses, lines of its point.

Lengths mm, angles degrees. What was not measured is None: who asks goes on with what is usual and
says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from letterply.catalogue.model import Cutter, CutterKind, Stock
from letterply.requests import FitFigure, TrueThickness

__all__ = ["MEASURED", "NOTHING_MEASURED", "Measured", "is_measured"]

_SAME_MM = 0.05
"""Thicknesses and dowels that differ by less are of one kind."""

MEASURED = "measured"
"""Status of such a figure's source."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What a shop has measured that decides the shape of parts and how thick sheets are.

    Attributes:
        fits: clearances.
        thicknesses: of sheets.
        line: tip, mm, and included angle, degrees, of the drag point that was measured, or None.

    """

    fits: tuple[FitFigure, ...] = ()
    thicknesses: tuple[TrueThickness, ...] = ()
    line: tuple[float, float] | None = None

    @classmethod
    def of(
        cls,
        fits: Sequence[FitFigure],
        thicknesses: Sequence[TrueThickness],
        cutters: Iterable[Cutter],
    ) -> Measured:
        """Return what these figures and the points among these cutters say."""
        points = [
            c for c in cutters if c.kind is CutterKind.DRAG and is_measured(c, "tip_diameter_mm")
        ]
        line = (points[0].tip_diameter_mm, points[0].included_angle_deg) if points else None
        return cls(tuple(fits), tuple(thicknesses), line)

    def inlay(self, of: str, into: str) -> FitFigure | None:
        """Return the fit of a plug of one material in another, or None; the last one counts."""
        found = [f for f in self.fits if (f.kind, f.of, f.into) == ("inlay", of, into)]
        return found[-1] if found else None

    def dowel(self, diameter_mm: float, into: str) -> FitFigure | None:
        """Return the fit of a dowel in a material, or None; the last one counts."""
        found = [
            f
            for f in self.fits
            if f.kind == "dowel" and f.into == into
            if f.diameter_mm is not None and abs(f.diameter_mm - diameter_mm) < _SAME_MM
        ]
        return found[-1] if found else None

    def thickness(self, material: str, thickness_mm: float) -> TrueThickness | None:
        """Return how thick such sheets really are, or None; the last one counts."""
        found = [
            t
            for t in self.thicknesses
            if t.material == material and abs(t.thickness_mm - thickness_mm) < _SAME_MM
        ]
        return found[-1] if found else None

    def true_stock(self, stock: Stock) -> Stock:
        """Return a sheet as thick as it really is."""
        found = self.thickness(stock.material, stock.thickness_mm)
        return stock if found is None else replace(stock, thickness_mm=found.measured_mm)


NOTHING_MEASURED = Measured()


def is_measured(cutter: Cutter, figure: str) -> bool:
    """Tell whether a figure of a cutter was told by a test piece."""
    source = cutter.sources.get(figure)
    return source is not None and source.status == MEASURED
