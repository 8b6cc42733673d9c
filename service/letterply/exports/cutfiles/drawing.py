"""What a cut file shows, before it is SVG or DXF: marks in mm, y up, from the lower left corner.

A *mark* is one piece of geometry of one operation on one part. Layers are drawn in the stack's
frame, moved so that the stack's lower left corner is the origin; all layers of a stack lie on one
another. A layer that is cut from its back is drawn as the cutter sees it, mirrored. Sheets are
drawn in the sheet's frame.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Stock
from letterply.cutting import CutPlan
from letterply.exports.primitives.palette import REFERENCE
from letterply.shapes import polygons
from letterply.sheets import Sheet
from letterply.stacks import Layer, Part, Stack
from letterply.units import counted, format_mm

__all__ = [
    "Circle",
    "Drawing",
    "Mark",
    "is_counter_clockwise",
    "layer_drawing",
    "profile_rings",
    "region_rings",
    "sheet_drawing",
    "stock_drawing",
]

Points = NDArray[np.float64]
Circle = tuple[float, float, float]
"""Centre x, y and radius, mm."""

Affine = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """One piece of geometry of one operation.

    Attributes:
        operation: key of its style.
        part: name or mark of the part, empty for reference geometry.
        depth_mm: depth below the worked face; None for reference geometry, and for a groove
            whose depth follows from its width.
        rings: closed, (n, 2) float64, mm, first point not repeated; exteriors counter-clockwise,
            holes clockwise.
        lines: open, (n, 2) float64, mm.
        circles: drilled holes.
        cutters: keys of the cutters planned for it, empty while there is no plan.

    """

    operation: str
    part: str
    depth_mm: float | None
    rings: tuple[Points, ...] = ()
    lines: tuple[Points, ...] = ()
    circles: tuple[Circle, ...] = ()
    cutters: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """All marks of one file.

    Attributes:
        title: for people.
        description: one sentence.
        width_mm, height_mm: size of the drawing.
        marks: in any order.

    """

    title: str
    description: str
    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]


def layer_drawing(layer: Layer, stack: Stack) -> Drawing:
    """Return the drawing of one layer of a stack."""
    left, low, right, high = stack.bounds
    width, height = right - left, high - low
    back = layer.from_back
    move: Affine = (-1.0, 0.0, 0.0, 1.0, right, -low) if back else (1.0, 0.0, 0.0, 1.0, -left, -low)
    count = len(layer.parts)
    description = (
        f"Layer {layer.name}: {counted(count, 'part')} of {_spoken(layer.material)}, "
        f"{format_mm(layer.thickness_mm)} thick, on {format_mm(width)} × {format_mm(height)}"
        f"{', mirrored, to be cut from the back' if back else ''}."
    )
    marks = [Mark(REFERENCE, "", None, rings=(_rectangle(0, 0, width, height),))]
    for part in layer.parts:
        marks.extend(_part_marks(part, part.name, layer.thickness_mm, move))
    return Drawing(f"{stack.title}: {layer.name}", description, width, height, tuple(marks))


def _stock_marks(stock: Stock) -> list[Mark]:
    """Return the edges of a sheet, of its holes too."""
    if not stock.outline_mm:
        plain = _rectangle(0, 0, stock.width_mm, stock.height_mm)
        return [Mark(REFERENCE, "", None, rings=(plain,))]
    area = stock.material_area
    rings = (area.exterior, *area.interiors)
    return [Mark(REFERENCE, "", None, rings=(np.asarray(r.coords)[:-1],)) for r in rings]


def stock_drawing(stock: Stock) -> Drawing:
    """Return the drawing of a sheet without anything on it."""
    size = f"{format_mm(stock.width_mm)} × {format_mm(stock.height_mm)}"
    description = f"{_spoken(stock.material)}, {size} × {format_mm(stock.thickness_mm)}."
    marks = tuple(_stock_marks(stock))
    return Drawing(stock.key, description, stock.width_mm, stock.height_mm, marks)


def sheet_drawing(sheet: Sheet, plan: CutPlan | None = None) -> Drawing:
    """Return the drawing of a sheet; with a plan, its depths and cutters are noted."""
    stock = sheet.stock
    width, height, margin = stock.width_mm, stock.height_mm, stock.margin_mm
    count = len(sheet.parts)
    description = (
        f"Sheet {sheet.number}: {counted(count, 'part')} of {_spoken(stock.material)}, "
        f"{format_mm(width)} × {format_mm(height)} × {format_mm(stock.thickness_mm)}"
        f"{', to be cut from the back' if sheet.from_back else ''}."
        + (" An irregular left-over." if stock.outline_mm else "")
        + "".join(f" Kept clear: {place.words}." for place in stock.keep_clear)
    )
    marks = _stock_marks(stock)
    if margin > 0 and not stock.outline_mm:
        inner = _rectangle(margin, margin, width - margin, height - margin)
        marks.append(Mark(REFERENCE, "", None, rings=(inner,)))
    for place in stock.keep_clear:
        ring = np.asarray(place.area.exterior.coords)[:-1]
        marks.append(Mark(REFERENCE, "", None, rings=(ring,)))
    through = stock.thickness_mm + (plan.through_mm if plan else 0.0)
    cutters: dict[tuple[str, str], list[str]] = {}
    for operation in plan.operations if plan else ():
        keys = cutters.setdefault((operation.mark, str(operation.kind)), [])
        if operation.cutter not in keys:
            keys.append(operation.cutter)
    still: Affine = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    for placed in sheet.parts:
        for mark in _part_marks(placed.part, placed.mark, through, still):
            keys = cutters.get((mark.part, mark.operation), [])
            marks.append(replace(mark, cutters=tuple(keys)))
    return Drawing(f"Sheet {sheet.number}", description, width, height, tuple(marks))


def _spoken(key: str) -> str:
    """Return the key of a material in words: cut files are written without a catalogue."""
    return key.replace("-", " ")


def profile_rings(part: Part) -> tuple[Points, ...]:
    """Return the rings of a part's outline that are cut as profiles: all but drilled holes."""
    through = [h for h in part.holes if h.depth_mm is None]
    inner = [r for r in part.outline.interiors if not any(h.is_ring(r) for h in through)]
    rings = (part.outline.exterior, *inner)
    return tuple(_turned(_open(r.coords), first=n == 0) for n, r in enumerate(rings))


def _part_marks(part: Part, name: str, through_mm: float, move: Affine) -> list[Mark]:
    def rings(points: Iterable[Points]) -> tuple[Points, ...]:
        moved = [_moved(p, move) for p in points]
        mirrored = move[0] * move[3] < 0
        return tuple(p[::-1] for p in moved) if mirrored else tuple(moved)

    marks = [Mark("profile", name, through_mm, rings=rings(profile_rings(part)))]
    for hole in part.holes:
        x, y = _moved(np.array([[hole.x_mm, hole.y_mm]]), move)[0]
        depth = through_mm if hole.depth_mm is None else hole.depth_mm
        circle = (float(x), float(y), hole.diameter_mm / 2)
        marks.append(Mark("drill", name, depth, circles=(circle,)))
    marks.extend(
        Mark("pocket", name, pocket.depth_mm, rings=rings(region_rings(pocket.whole)))
        for pocket in part.pockets
    )
    for groove in part.grooves:
        outline = rings(region_rings(groove.whole))
        marks.append(Mark("groove", name, groove.max_depth_mm, rings=outline))
    for scribe in part.scribes:
        moved = [affine_transform(line, move) for line in scribe.whole]
        closed = tuple(_open(line.coords) for line in moved if line.is_ring)
        opened = tuple(np.asarray(line.coords)[:, :2] for line in moved if not line.is_ring)
        marks.append(Mark("scribe", name, scribe.depth_mm, rings=closed, lines=opened))
    return marks


def region_rings(geometry: BaseGeometry) -> list[Points]:
    """Return the rings of a region, exteriors counter-clockwise, holes clockwise."""
    found: list[Points] = []
    for piece in polygons(geometry):
        rings = (piece.exterior, *piece.interiors)
        found.extend(_turned(_open(r.coords), first=n == 0) for n, r in enumerate(rings))
    return found


def is_counter_clockwise(ring: Points) -> bool:
    """Whether a ring turns counter-clockwise."""
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return bool(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0)


def _turned(points: Points, *, first: bool) -> Points:
    """Return the ring counter-clockwise when it is the first of a piece, else clockwise."""
    return points if is_counter_clockwise(points) == first else points[::-1]


def _open(coords: Iterable[Iterable[float]]) -> Points:
    return np.asarray(coords, dtype=np.float64)[:-1, :2]


def _moved(points: Points, move: Affine) -> Points:
    a, b, c, d, e, f = move
    return np.asarray(points @ np.array([[a, c], [b, d]]) + (e, f))


def _rectangle(left: float, low: float, right: float, high: float) -> Points:
    return np.array([[left, low], [right, low], [right, high], [left, high]], dtype=np.float64)
