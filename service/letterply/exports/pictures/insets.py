"""The gravest places, magnified, beside the picture of findings. Windows mm, y up; drawn y down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.captions import QUIET, caption
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.exports.primitives.views import Frame
from letterply.findings import Finding, Place
from letterply.shapes import Region, as_region
from letterply.stacks import Layer

__all__ = ["SUNK", "Inset", "inset_of", "sunk_into"]

_TIMES = (2, 3, 4, 5, 6, 8, 10, 12, 16, 20)
_MATERIAL = "#E4E1DA"
SUNK = "#BFBAB0"
"""Colour of what is sunk into a layer, beside the lighter one of its face."""
_SHOWN = 6.0
"""Widths of what was measured that a window shows across."""


@dataclass(frozen=True, slots=True)
class Inset:
    """A place magnified.

    Attributes:
        place: what is shown.
        times: how many times as large.
        side_mm: side of the square in the picture.

    """

    place: Place
    times: int
    side_mm: float

    @property
    def window(self) -> tuple[float, float, float, float]:
        """What is shown: left, low, right, high, in the frame of the stack."""
        x, y = self.place.anchor
        half = self.side_mm / self.times / 2
        return x - half, y - half, x + half, y + half

    def drawn(
        self, region: Region, sunk: Region, left: float, top: float, unit: float
    ) -> list[str]:
        """Return the window onto a region and what is sunk into it, its upper left corner there."""
        window = shapely.box(*self.window)
        x0, y0 = self.window[0], self.window[3]
        frame = Frame(left, top)

        def larger(geometry: BaseGeometry) -> BaseGeometry:
            return shapely.transform(geometry, lambda p: (p - (x0, y0)) * self.times)

        def seen(of: Region, colour: str) -> str:
            rings = region_rings(as_region(larger(shapely.intersection(of, window))))
            return (
                f'<path d="{frame.path(rings)}" fill="{colour}" fill-rule="evenodd" '
                f'stroke="#8A8780" stroke-width="{line}"/>'
            )

        side = number(self.side_mm, 2)
        line = number(0.08 * unit, 3)
        corner = f'x="{number(left, 2)}" y="{number(top, 2)}" width="{side}" height="{side}"'
        found = [
            f'<rect {corner} fill="#FFFFFF"/>',
            seen(region, _MATERIAL),
            *([] if sunk.is_empty else [seen(sunk, SUNK)]),
            *self._marked(frame, window, larger, unit),
            f'<rect {corner} fill="none" stroke="{QUIET}" stroke-width="{line}"/>',
        ]
        size = 0.85 * unit
        right = left + self.side_mm
        found.append(caption(f"× {self.times}", size, right, top - 0.5 * unit, anchor="end"))
        return found

    def _marked(
        self,
        frame: Frame,
        window: BaseGeometry,
        larger: Callable[[BaseGeometry], BaseGeometry],
        unit: float,
    ) -> list[str]:
        """Return the place itself: its line or area, a ring round a point."""
        points = np.array(self.place.points, dtype=np.float64)
        wide = number(0.2 * unit, 3)
        if self.place.kind == "point":
            x, y = frame.left_mm + self.side_mm / 2, frame.top_mm + self.side_mm / 2
            return [
                f'<circle cx="{number(x, 2)}" cy="{number(y, 2)}" r="{number(1.6 * unit, 2)}" '
                f'fill="none" stroke="{FINDING_COLOUR}" stroke-width="{wide}"/>'
            ]
        shape = shapely.LineString(points) if len(points) == 2 else shapely.Polygon(points)
        cut = larger(shapely.intersection(shapely.make_valid(shape), window))
        parts = shapely.get_parts(cut).tolist()
        rings = [np.asarray(p.exterior.coords)[:-1] for p in parts if p.geom_type == "Polygon"]
        lines = [np.asarray(p.coords) for p in parts if p.geom_type == "LineString"]
        return [
            f'<path d="{frame.path(rings, lines)}" fill="{FINDING_COLOUR}" '
            f'fill-opacity="{0.35 if rings else 0}" stroke="{FINDING_COLOUR}" '
            f'stroke-width="{wide}" stroke-linecap="round"/>'
        ]


def sunk_into(layer: Layer) -> Region:
    """Return what is worked into a layer without going through: grooves, pockets, blind holes."""
    areas: list[BaseGeometry] = []
    for part in layer.parts:
        areas += [groove.region for groove in part.grooves]
        areas += [pocket.region for pocket in part.pockets]
        areas += [
            shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2)
            for h in part.holes
            if h.depth_mm is not None
        ]
    return as_region(shapely.union_all(areas))


def inset_of(finding: Finding, place: Place, region: Region, side_mm: float) -> Inset:
    """Return the inset of a finding: what was measured, and something of what lies round it.

    However small it is, some of the outline of the region is seen.
    """
    points = np.array(place.points, dtype=np.float64)
    edge = float(shapely.distance(shapely.Point(place.anchor), shapely.boundary(region)))
    wanted = max(1.6 * float(np.ptp(points, axis=0).max()), 0.0 if region.is_empty else 4 * edge)
    for figure, widths in ((finding.measured, _SHOWN), (finding.limit, 2.0)):
        if figure is not None and np.isfinite(figure) and finding.unit == "mm":
            wanted = max(wanted, widths * figure)
    fitting = [t for t in _TIMES if side_mm / t >= wanted]
    return Inset(place, fitting[-1] if fitting else _TIMES[0], side_mm)
