"""Plain shapes: rectangle, rounded, circle, oval, tag and arch, round a centre or round a box.

All lengths mm. Every function returns a polygon whose curved sides keep the flattening tolerance,
vertices on the true curve.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, box

from letterply.shapes.flatten import circle, circle_sides
from letterply.shapes.regions import Region, polygons

__all__ = [
    "arch_plate",
    "circle_plate",
    "hole_region",
    "oval_plate",
    "rectangle_plate",
    "rounded_plate",
    "tag_plate",
]

Bounds = tuple[float, float, float, float]


def rectangle_plate(bounds: Bounds) -> Polygon:
    """Return the box itself."""
    return box(*bounds)


def rounded_plate(bounds: Bounds, corner_mm: float, tolerance_mm: float) -> Polygon:
    """Return a box with quarter circles for corners; the radius is held to half the short side."""
    left, low, right, high = bounds
    radius = min(corner_mm, (right - left) / 2, (high - low) / 2)
    if radius <= 0:
        return rectangle_plate(bounds)
    quarter = circle_sides(radius, tolerance_mm) // 4
    turn = np.linspace(0, math.pi / 2, quarter + 1)
    corners = (
        (right - radius, high - radius, 0.0),
        (left + radius, high - radius, math.pi / 2),
        (left + radius, low + radius, math.pi),
        (right - radius, low + radius, 1.5 * math.pi),
    )
    runs = [
        np.column_stack((x + radius * np.cos(turn + first), y + radius * np.sin(turn + first)))
        for x, y, first in corners
    ]
    return Polygon(np.vstack(runs))


def circle_plate(centre: tuple[float, float], diameter_mm: float, tolerance_mm: float) -> Polygon:
    """Return a disc."""
    return Polygon(circle(*centre, diameter_mm / 2, tolerance_mm))


def oval_plate(bounds: Bounds, tolerance_mm: float) -> Polygon:
    """Return the ellipse that fills the box."""
    left, low, right, high = bounds
    a, b = (right - left) / 2, (high - low) / 2
    # The chord error of an ellipse in equal parameter steps is at most that of a circle of its
    # long half axis.
    sides = circle_sides(max(a, b), tolerance_mm)
    t = np.arange(sides) * (2 * np.pi / sides)
    x, y = (left + right) / 2 + a * np.cos(t), (low + high) / 2 + b * np.sin(t)
    return Polygon(np.column_stack((x, y)))


def tag_plate(bounds: Bounds, corner_mm: float, tolerance_mm: float) -> Polygon:
    """Return a tag: round at its left end, where the ribbon goes, with rounded right corners."""
    left, low, right, high = bounds
    half = (high - low) / 2
    body = rounded_plate((left + half, low, right, high), corner_mm, tolerance_mm)
    square = box(left + half, low, (left + half + right) / 2, high)
    head = Polygon(circle(left + half, low + half, half, tolerance_mm))
    (whole,) = polygons(shapely.union_all([body, square, head]))
    return whole


def arch_plate(bounds: Bounds, tolerance_mm: float) -> Polygon:
    """Return a box with a round top: an arc through its upper corners, rising to its height.

    The arc rises a quarter of the width, less in a low box: half of the height at most.
    """
    left, low, right, high = bounds
    width = right - left
    rise = min(width / 4, (high - low) / 2)
    radius = (width * width / 4 + rise * rise) / (2 * rise)
    half = math.asin(width / 2 / radius)
    steps = max(2, math.ceil(circle_sides(radius, tolerance_mm) * half / math.pi))
    turn = np.linspace(math.pi / 2 - half, math.pi / 2 + half, steps + 1)
    x = (left + right) / 2 + radius * np.cos(turn)
    y = high - radius + radius * np.sin(turn)
    return Polygon([(left, low), (right, low), *zip(x.tolist(), y.tolist(), strict=True)])


def hole_region(x_mm: float, y_mm: float, diameter_mm: float, tolerance_mm: float) -> Region:
    """Return a round hole as a region."""
    return MultiPolygon([circle_plate((x_mm, y_mm), diameter_mm, tolerance_mm)])
