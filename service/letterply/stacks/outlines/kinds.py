"""Outline kinds: what the recipe's `outline` of a layer means as a region.

All mm, in the lettering frame. A plate goes round the ink of everything that lies on it.
"""

from __future__ import annotations

import math

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.errors import GeometryError
from letterply.requests import BlankOutline, LetteringOutline, PlateOutline, Ribbon
from letterply.shapes import Region, Tolerances, as_region, box_of, normalise, offset
from letterply.stacks.outlines.plates import (
    Bounds,
    arch_plate,
    circle_plate,
    notched_plate,
    oval_plate,
    polygon_plate,
    rectangle_plate,
    rounded_plate,
    tag_plate,
)
from letterply.units import format_mm, format_sides

__all__ = ["hole_place", "lettering_outline", "plate_of_size", "plate_outline", "ribbon_hole"]


def lettering_outline(
    ink: Region, outline: LetteringOutline, tolerances: Tolerances, *, field: str
) -> Region:
    """Return the lettering grown or shrunk, its counters filled as asked.

    Raises:
        GeometryError: `outline-vanishes` when shrinking leaves nothing.

    """
    region = offset(ink, outline.grow, tolerances.offset_mm)
    if outline.fill_counters:
        region = as_region(shapely.union_all([Polygon(p.exterior) for p in region.geoms]))
    if region.is_empty:
        raise GeometryError(
            f"Shrunk by {format_mm(-outline.grow)}, nothing of the lettering is left.",
            code="outline-vanishes",
            field=field,
            expected="a smaller shrink or larger lettering",
        )
    return normalise(region)


def plate_outline(
    ink: BaseGeometry, outline: PlateOutline, tolerances: Tolerances, *, field: str
) -> Region:
    """Return the plate round the ink, before its ribbon hole.

    Raises:
        GeometryError: `plate-too-small` when a plate of fixed size does not hold the ink,
            `plate-in-pieces` when one that follows it does not hold together.

    """
    left, low, right, high = box_of(ink)
    centre = ((left + right) / 2, (low + high) / 2)
    tolerance = tolerances.flatten_mm
    hull = shapely.convex_hull(ink)
    if outline.shape == "follow":
        return _following(ink, outline, tolerances, field)
    if outline.shape in ("circle", "polygon"):
        diameter = outline.diameter
        if diameter is None:
            assert outline.margin is not None  # the recipe allows nothing else
            reach = max(math.dist(centre, c[:2]) for c in shapely.get_coordinates(hull).tolist())
            sides = outline.margin
            diameter = 2 * (reach + max(sides.left, sides.right, sides.top, sides.bottom))
        if outline.shape == "circle":
            plate = circle_plate(centre, diameter, tolerance)
        else:
            plate = polygon_plate(centre, diameter, outline.sides)
    else:
        plate = _boxed(outline, _box(outline, (left, low, right, high), centre), tolerance)
    # A vertex of the flattened rim may cut a hair off the ink that touches it.
    if not (ink.is_empty or shapely.buffer(plate, 2 * tolerance).contains(hull)):
        width, height = right - left, high - low
        raise GeometryError(
            f"The plate is smaller than what lies on it ({format_sides(width, height)}).",
            code="plate-too-small",
            field=field,
            expected=f"a {outline.shape} that holds {format_sides(width, height)}",
            data={"needed_width_mm": round(width, 3), "needed_height_mm": round(height, 3)},
        )
    return normalise(plate)


def _following(
    ink: BaseGeometry, outline: PlateOutline, tolerances: Tolerances, field: str
) -> Region:
    """Return the ink grown by its margin, gaps closed and corners rounded, without holes.

    Closing by a disc and then opening by it rounds what is hollow and what sticks out alike.
    """
    sides = outline.margin
    assert sides is not None  # the recipe allows nothing else
    margin = max(sides.left, sides.right, sides.top, sides.bottom)
    corner = margin if outline.corner is None else outline.corner
    tolerance = tolerances.offset_mm
    grown = offset(as_region(ink), margin + corner, tolerance)
    closed = offset(grown, -corner, tolerance)
    filled = as_region(shapely.union_all([Polygon(p.exterior) for p in closed.geoms]))
    # An arc of the offset may lie a hair inside the true one: the margin is kept all the same.
    least = offset(as_region(ink), max(margin - tolerance, 0.0), tolerance)
    opened = offset(offset(filled, -corner, tolerance), corner, tolerance)
    plate = as_region(shapely.union_all([opened, least]))
    if len(plate.geoms) != 1:
        raise GeometryError(
            f"The plate that follows the lettering falls into {len(plate.geoms)} pieces.",
            code="plate-in-pieces",
            field=field,
            expected="a wider margin or a larger corner, or less space between the words",
            data={"pieces": len(plate.geoms)},
        )
    return normalise(MultiPolygon([Polygon(plate.geoms[0].exterior)]))


def _box(outline: PlateOutline, ink: Bounds, centre: tuple[float, float]) -> Bounds:
    left, low, right, high = ink
    if outline.width is not None and outline.height is not None:
        half_w, half_h = outline.width / 2, outline.height / 2
        return centre[0] - half_w, centre[1] - half_h, centre[0] + half_w, centre[1] + half_h
    sides = outline.margin
    assert sides is not None  # the recipe allows nothing else
    if outline.shape == "oval":
        # The ellipse through the corners of a box that is root two smaller on each axis.
        grow_w = (right - left) / 2 * (math.sqrt(2) - 1)
        grow_h = (high - low) / 2 * (math.sqrt(2) - 1)
        left, right, low, high = left - grow_w, right + grow_w, low - grow_h, high + grow_h
    if outline.shape == "tag":
        # Room for the round end, which is half as long as the tag is high.
        left -= (high - low + sides.top + sides.bottom) / 2
    if outline.shape == "stadium":
        room = (high - low + sides.top + sides.bottom) / 2
        left, right = left - room, right + room
    if outline.shape == "arch":
        # The ink stands below the arch: the top is the arch alone.
        wide = right - left + sides.left + sides.right
        high += min(wide / 4 if outline.rise is None else outline.rise, wide / 2)
    if outline.shape == "notched" and outline.corner is not None:
        # The ink stays clear of the corners that are cut in.
        left, right = left - outline.corner, right + outline.corner
    return left - sides.left, low - sides.bottom, right + sides.right, high + sides.top


def _boxed(outline: PlateOutline | BlankOutline, bounds: Bounds, tolerance_mm: float) -> Polygon:
    corner = outline.corner
    if outline.shape == "oval":
        return oval_plate(bounds, tolerance_mm)
    if outline.shape == "tag":
        short = bounds[3] - bounds[1]
        if bounds[2] - bounds[0] < short:
            bounds = (bounds[0], bounds[1], bounds[0] + short, bounds[3])
        return tag_plate(bounds, short / 8 if corner is None else corner, tolerance_mm)
    if outline.shape == "arch":
        rise = outline.rise if isinstance(outline, PlateOutline) else None
        return arch_plate(bounds, tolerance_mm, rise)
    if outline.shape == "stadium":
        return rounded_plate(bounds, math.inf, tolerance_mm)
    if outline.shape == "notched":
        short = min(bounds[2] - bounds[0], bounds[3] - bounds[1])
        return notched_plate(bounds, short / 8 if corner is None else corner, tolerance_mm)
    if outline.shape == "rounded":
        short = min(bounds[2] - bounds[0], bounds[3] - bounds[1])
        return rounded_plate(bounds, short / 8 if corner is None else corner, tolerance_mm)
    return rectangle_plate(bounds)


def plate_of_size(outline: BlankOutline, tolerances: Tolerances) -> Polygon:
    """Return a plain shape of a fixed size, the middle of its box at the origin."""
    if outline.diameter is not None:
        return circle_plate((0.0, 0.0), outline.diameter, tolerances.flatten_mm)
    assert outline.width is not None  # the recipe allows nothing else
    assert outline.height is not None
    half_w, half_h = outline.width / 2, outline.height / 2
    return _boxed(outline, (-half_w, -half_h, half_w, half_h), tolerances.flatten_mm)


def ribbon_hole(plate: Region, outline: PlateOutline, ribbon: Ribbon) -> tuple[float, float]:
    """Return the centre of the ribbon hole: at the top, or in the round end of a tag."""
    return hole_place(plate, outline.shape, ribbon.inset, ribbon.diameter)


def hole_place(
    plate: Region, shape: str, inset_mm: float, diameter_mm: float
) -> tuple[float, float]:
    """Return the centre of a hole at the top of a plate, or in the round end of a tag."""
    left, low, right, high = plate.bounds
    reach = inset_mm + diameter_mm / 2
    if shape == "tag":
        return left + reach, (low + high) / 2
    return (left + right) / 2, high - reach
