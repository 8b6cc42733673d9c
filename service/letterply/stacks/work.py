"""What is worked into a part: holes, pockets, grooves and scribed lines.

Depths are measured down from the face that is worked. All lengths are mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from letterply.shapes import Region

__all__ = ["INLAY_DETAIL_MM", "Groove", "Hole", "Pocket", "Scribe"]

_ON_CIRCLE_MM = 0.01
"""How far the corners of a ring may lie from a hole's circle: above what grid and moves round."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A round hole, also cut out of the part's outline when it goes through.

    Attributes:
        x_mm, y_mm: centre.
        diameter_mm: diameter.
        depth_mm: depth from the worked face; None when it goes through.
        purpose: `hole`, `dowel` or `ribbon`.
        fit: which measured clearance is in it, in words; empty for none.

    """

    x_mm: float
    y_mm: float
    diameter_mm: float
    depth_mm: float | None = None
    purpose: str = "hole"
    fit: str = ""

    def is_ring(self, ring: shapely.LinearRing) -> bool:
        """Whether a ring of an outline is this hole: its corners lie on the circle.

        Its area would not tell: a small circle has few corners, and theirs is 10 % less.
        """
        corners = shapely.get_coordinates(ring)
        away = np.hypot(corners[:, 0] - self.x_mm, corners[:, 1] - self.y_mm)
        return bool(np.abs(away - self.diameter_mm / 2).max() <= _ON_CIRCLE_MM)


INLAY_DETAIL_MM = 0.15
"""How deep a corner may stay round that a plug with the usual clearance still goes past."""


@dataclass(frozen=True, slots=True)
class Pocket:
    """An area sunk to a flat floor.

    Attributes:
        region: area at the floor, on the part.
        depth_mm: depth of the floor.
        purpose: `recess`, `inlay` (for a layer that goes into it), `blank`, `finger`, ...
        over: where it runs over an edge of the part, its area with what is cut beyond that edge;
            None where it stays inside.
        detail_mm: how deep its corners may stay round; None for what the shop says.
        fit: which measured clearance is in it, in words; empty for none.

    """

    region: Region
    depth_mm: float
    purpose: str = "recess"
    over: Region | None = None
    detail_mm: float | None = None
    fit: str = ""

    @property
    def whole(self) -> Region:
        """The area that is cleared, what lies beyond an edge of the part included."""
        return self.region if self.over is None else self.over

    def bears(self, usual_mm: float) -> float:
        """Return how deep its corners may stay round where others may by `usual_mm`.

        Those of an inlay are so sharp that its plug goes in.
        """
        if self.detail_mm is not None:
            return self.detail_mm
        return min(usual_mm, INLAY_DETAIL_MM) if self.purpose == "inlay" else usual_mm


@dataclass(frozen=True, slots=True)
class Groove:
    """An area carved by a V-bit: sloping walls from its outline down.

    Attributes:
        region: area where it starts, at the face or on a floor, on the part.
        max_depth_mm: where the walls would meet deeper, the floor is flat at this depth below
            where the groove starts; None to let them meet.
        angle_deg: included angle of the V-bit to use; None for the planner's choice.
        start_mm: depth at which it starts: that of the floor it is carved into.
        over: where it runs over an edge of the part, its area with what is cut beyond that edge:
            its walls are those of this area, so that it has its full depth at the edge; None
            where it stays inside.
        detail_mm: how far what end mills leave of a flat floor may lie from what they reach; None
            for what the shop says.

    """

    region: Region
    max_depth_mm: float | None = None
    angle_deg: float | None = None
    start_mm: float = 0.0
    over: Region | None = None
    detail_mm: float | None = None

    @property
    def whole(self) -> Region:
        """The area that is carved, what lies beyond an edge of the part included."""
        return self.region if self.over is None else self.over


@dataclass(frozen=True, slots=True)
class Scribe:
    """Lines drawn by a drag point.

    Attributes:
        lines: the lines on the part; a closed one repeats its first point.
        depth_mm: depth of the line.
        purpose: `engraving` or `placement`.
        over: where they run over an edge of the part, the lines with what is drawn beyond that
            edge; empty where they stay inside.

    """

    lines: tuple[LineString, ...]
    depth_mm: float
    purpose: str = "engraving"
    over: tuple[LineString, ...] = ()

    @property
    def whole(self) -> tuple[LineString, ...]:
        """The lines as they are drawn, what lies beyond an edge of the part included."""
        return self.over or self.lines
