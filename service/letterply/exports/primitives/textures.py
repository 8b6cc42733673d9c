"""What makes a face look like its material: grain of wood, light on what is polished."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Material, MaterialClass
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.colours import darker
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.views import Frame, View

__all__ = ["surface"]

Points = NDArray[np.float64]

_WOODS = (MaterialClass.SOFTWOOD, MaterialClass.HARDWOOD, MaterialClass.PLYWOOD)
_POLISHED = {
    MaterialClass.ACRYLIC: (0.11, 0.22),
    MaterialClass.PLASTIC: (0.11, 0.22),
    MaterialClass.METAL: (0.28, 0.1),
}
"""Class -> opacity of the light, and width of its widest band as a share of the face."""

_GRAIN_MM = (0.16, 0.28, 0.45)
_MAX_ROWS = 400
_GOLDEN_ANGLE = math.pi * (3 - math.sqrt(5))


def surface(
    region: BaseGeometry, material: Material, view: View, frame: Frame, high_mm: float
) -> list[str]:
    """Return the look of a face at height `high_mm`; nothing for a plain material."""
    if material.kind in _WOODS:
        return _grain(region, material.colour, view, frame, high_mm)
    if material.kind in _POLISHED:
        opacity, share = _POLISHED[material.kind]
        return _bands(region, opacity, share, view, frame, high_mm)
    return []


def _grain(
    region: BaseGeometry, colour: str, view: View, frame: Frame, high_mm: float
) -> list[str]:
    """Return wavy lines along x: the same for the same face, no two alike."""
    left, low, right, top = region.bounds
    x = np.linspace(left, right, max(8, math.ceil((right - left) / 5)))
    step = max(1.0, (top - low) / _MAX_ROWS / 1.9)
    groups: list[list[Points]] = [[] for _ in _GRAIN_MM]
    y, row = low + 0.6, 0
    while y < top:
        phase = row * _GOLDEN_ANGLE
        wave = np.sin(x / 47 + y / 23) * 1.1 + np.sin(x / 19 + phase) * 0.28
        middle = 0.3 + 0.4 * math.sin(y)
        swell = 1.8 * np.exp(-(((x - left) / (right - left + 1) - middle) ** 2) * 9)
        groups[row % 3].append(np.column_stack((x, y + wave + swell * math.sin(y / 9))))
        y += step * (1.3 + 1.2 * (0.5 + 0.5 * math.sin(phase * 1.7)))
        row += 1
    shapely.prepare(region)
    tone = darker(colour, 0.4)
    found = []
    for width, rows in zip(_GRAIN_MM, groups, strict=True):
        strings = [shapely.LineString(points) for points in rows]
        kept = shapely.intersection(strings, region)
        lines = [
            view.project(shapely.get_coordinates(line), high_mm)
            for line in shapely.get_parts(kept)
            if isinstance(line, shapely.LineString) and not line.is_empty
        ]
        if lines:
            found.append(
                f'<path d="{frame.path((), lines)}" fill="none" stroke="{tone}" '
                f'stroke-width="{width}" stroke-opacity="0.2"/>'
            )
    return found


def _bands(
    region: BaseGeometry, opacity: float, share: float, view: View, frame: Frame, high_mm: float
) -> list[str]:
    """Return slanting bands of light, as a polished face shows them."""
    left, low, right, top = region.bounds
    width, slant = right - left, (top - low) * 0.5
    bands = []
    for start, size in ((0.12, share), (0.12 + share * 1.25, share * 0.22), (0.68, share * 0.6)):
        x0, x1 = left + start * width, left + (start + size) * width
        bands.append(shapely.Polygon([(x0, low), (x1, low), (x1 + slant, top), (x0 + slant, top)]))
    lit = shapely.intersection(shapely.union_all(bands), region)
    data = frame.path(view.project(ring, high_mm) for ring in region_rings(lit))
    if not data:
        return []
    return [
        f'<path d="{data}" fill="#FFFFFF" fill-opacity="{number(opacity)}" fill-rule="evenodd"/>'
    ]
