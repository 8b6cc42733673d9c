"""Places of a sheet that cutters keep out of: clamps, screws, what was cut out before."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon

from letterply.units import format_mm

__all__ = ["KeptClear"]

_QUAD_SEGS = 32


@dataclass(frozen=True, slots=True)
class KeptClear:
    """A place that neither a cutter nor travel below the safe height enters.

    Attributes:
        kind: `clamp`, `screw` or `cut`.
        x_mm, y_mm: lower left corner of an oblong, or the middle of a round place, from the lower
            left of the sheet.
        width_mm, height_mm: size of an oblong; 0 for a round place.
        diameter_mm: of a round place; 0 for an oblong.

    """

    kind: str
    x_mm: float
    y_mm: float
    width_mm: float = 0.0
    height_mm: float = 0.0
    diameter_mm: float = 0.0

    def __post_init__(self) -> None:
        if (self.diameter_mm > 0) == (self.width_mm > 0 and self.height_mm > 0):
            raise ValueError("a place that is kept clear has a diameter, or width and height")

    @property
    def area(self) -> Polygon:
        """Its area; a round place as a polygon round it."""
        if self.diameter_mm:
            radius = self.diameter_mm / 2 / math.cos(math.pi / (4 * _QUAD_SEGS))
            disc: Polygon = shapely.Point(self.x_mm, self.y_mm).buffer(radius, quad_segs=_QUAD_SEGS)
            return disc
        x, y = self.x_mm, self.y_mm
        return shapely.box(x, y, x + self.width_mm, y + self.height_mm)

    @property
    def words(self) -> str:
        """What it is and where, in the midst of a sentence."""
        name = "a place that is cut out already" if self.kind == "cut" else f"a {self.kind}"
        at = f"{format_mm(self.x_mm)} from the left and {format_mm(self.y_mm)} from below"
        if self.diameter_mm:
            return f"{name}, {format_mm(self.diameter_mm)} across, its middle {at}"
        return (
            f"{name}, {format_mm(self.width_mm)} × {format_mm(self.height_mm)}, its lower left "
            f"corner {at}"
        )

    def quarter_turned(self, height_mm: float) -> KeptClear:
        """Return it on the sheet turned by a quarter, counter-clockwise.

        Args:
            height_mm: height of the sheet before it is turned.

        """
        right = height_mm - self.y_mm - self.height_mm
        return replace(
            self, x_mm=right, y_mm=self.x_mm, width_mm=self.height_mm, height_mm=self.width_mm
        )
