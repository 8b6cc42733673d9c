"""Plain shapes round a centre or round a box: rectangle, circle, arch, tag and their like.

All lengths mm. Every function returns a polygon whose curved sides keep the flattening tolerance,
vertices on the true curve.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import rotate

from letterply.shapes import Region, as_region, circle, circle_sides, polygons

__all__ = [
    "arch_plate",
    "circle_plate",
    "hole_region",
    "keyhole_region",
    "notched_plate",
    "oval_plate",
    "polygon_plate",
    "rectangle_plate",
    "rounded_plate",
    "slot_region",
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


def arch_plate(bounds: Bounds, tolerance_mm: float, rise_mm: float | None = None) -> Polygon:
    """Return a box with a round top: an arc through its upper corners, rising to its height.

    The arc rises by `rise_mm`, a half circle at most; a quarter of the width without it, less in
    a low box: half of the height at most. The radius of an arc of chord w and rise h is
    (w²/4 + h²) / 2h, by Pythagoras.
    """
    left, low, right, high = bounds
    half = (right - left) / 2
    rise = min(half / 2, (high - low) / 2) if rise_mm is None else min(rise_mm, half, high - low)
    radius = (half * half + rise * rise) / (2 * rise)
    reach = math.asin(min(1.0, half / radius))
    # An even number, so that the top is met.
    steps = 2 * max(1, math.ceil(circle_sides(radius, tolerance_mm) * reach / math.tau))
    turn = math.pi / 2 + np.linspace(-reach, reach, steps + 1)
    arc = np.column_stack((np.cos(turn), np.sin(turn))) * radius
    arc += ((left + right) / 2, high - radius)
    return Polygon(np.vstack(([[left, low], [right, low]], arc)))


def notched_plate(bounds: Bounds, corner_mm: float, tolerance_mm: float) -> Polygon:
    """Return a box with its corners cut in by quarter circles, a third of a side at most."""
    left, low, right, high = bounds
    radius = min(corner_mm, min(right - left, high - low) / 3)
    if radius <= 0:
        return rectangle_plate(bounds)
    quarter = circle_sides(radius, tolerance_mm) // 4
    turn = np.linspace(0, math.pi / 2, quarter + 1)
    runs = []
    for x, y, first in (
        (right, low, math.pi),
        (right, high, 1.5 * math.pi),
        (left, high, 0.0),
        (left, low, math.pi / 2),
    ):
        # Round the corner the other way than round the box: the arcs bulge inward.
        angles = first - turn
        runs.append(np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles))))
    return Polygon(np.vstack(runs))


def polygon_plate(centre: tuple[float, float], inner_diameter_mm: float, sides: int) -> Polygon:
    """Return a regular polygon about a circle of `inner_diameter_mm`, on one of its sides."""
    radius = inner_diameter_mm / 2 / math.cos(math.pi / sides)
    turn = -math.pi / 2 + math.pi / sides * (1 + 2 * np.arange(sides))
    return Polygon(np.column_stack((np.cos(turn), np.sin(turn))) * radius + centre)


def slot_region(
    centre: tuple[float, float],
    length_mm: float,
    width_mm: float,
    angle_deg: float,
    tolerance_mm: float,
) -> Region:
    """Return a slot with round ends; one no longer than wide is a round hole."""
    x, y = centre
    reach = max(length_mm - width_mm, 0.0) / 2
    body = rounded_plate(
        (x - reach - width_mm / 2, y - width_mm / 2, x + reach + width_mm / 2, y + width_mm / 2),
        width_mm / 2,
        tolerance_mm,
    )
    return MultiPolygon([rotate(body, angle_deg, origin=(x, y))])


def keyhole_region(
    shank_end: tuple[float, float],
    head_mm: float,
    shank_mm: float,
    travel_mm: float,
    tolerance_mm: float,
) -> Region:
    """Return a keyhole: a slot that ends round `shank_end`, a hole for the head below it."""
    x, y = shank_end
    slot = slot_region((x, y - travel_mm / 2), travel_mm + shank_mm, shank_mm, 90, tolerance_mm)
    head = circle_plate((x, y - travel_mm), head_mm, tolerance_mm)
    return as_region(shapely.union_all([slot, head]))


def hole_region(x_mm: float, y_mm: float, diameter_mm: float, tolerance_mm: float) -> Region:
    """Return a round hole as a region."""
    return MultiPolygon([circle_plate((x_mm, y_mm), diameter_mm, tolerance_mm)])
