"""Shapes, parts, sheets and shops made by hand, for the tests of this room."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import MultiPolygon, Polygon, box

from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Stock
from letterply.catalogue.shop import Shop, resolve_shop
from letterply.requests.shop import HoldDown
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks.model import Part


def disc(x: float, y: float, radius: float) -> Polygon:
    """Return a disc, flattened within 0.003 mm at the sizes used here."""
    return shapely.Point(x, y).buffer(radius, quad_segs=96)


def ring(outer: float, inner: float) -> Polygon:
    return disc(0, 0, outer).difference(disc(0, 0, inner))


def corner_piece() -> Polygon:
    """Return an L with one inside corner at (12, 12)."""
    return Polygon([(0, 0), (40, 0), (40, 12), (12, 12), (12, 40), (0, 40)])


def bay(mouth: float) -> Polygon:
    """Return a 40 mm square with a round bay of 12 mm behind a mouth in its right side."""
    square = box(0, 0, 40, 40)
    return square.difference(disc(22, 20, 6)).difference(
        box(26, 20 - mouth / 2, 41, 20 + mouth / 2)
    )


def wedge() -> Polygon:
    """Return a triangle with a tip of 20 degrees."""
    return Polygon([(0, 0), (50, 0), (50, 50 * 0.36397)])


def dumbbell(neck: float) -> Polygon:
    """Return two discs of 16 mm with a bar between them."""
    bar = box(0, -neck / 2, 26, neck / 2)
    return shapely.union_all([disc(0, 0, 8), disc(26, 0, 8), bar])


def window_frame() -> Polygon:
    """Return a square with a square hole and a round one."""
    return box(0, 0, 60, 40).difference(box(8, 8, 28, 32)).difference(disc(44, 20, 6))


SHAPES: dict[str, Polygon] = {
    "square": box(0, 0, 40, 40),
    "disc": disc(0, 0, 20),
    "corner": corner_piece(),
    "open bay": bay(8),
    "bay with a narrow mouth": bay(1.5),
    "wedge": wedge(),
    "dumbbell": dumbbell(3),
    "frame": window_frame(),
    "ring": ring(20, 12),
}


def region(*pieces: Polygon) -> MultiPolygon:
    return MultiPolygon([shapely.orient_polygons(p) for p in pieces])


def part(outline: Polygon, name: str = "board.Knot", **worked: object) -> Part:
    return Part(name, name.partition(".")[0], shapely.orient_polygons(outline), **worked)


def sheet(
    *parts: Part, material: str = "mdf", thickness: float = 6.0, gap: float = 15.0, number: int = 1
) -> Sheet:
    """Put parts side by side on one stock sheet, `gap` apart."""
    placed = []
    x = gap
    for number_of_part, p in enumerate(parts, start=1):
        left, low, right, _ = p.outline.bounds
        place = Placement(0, x - left, gap - low)
        placed.append(PlacedPart.at(f"{number_of_part}.{p.name}", number_of_part, p, place))
        x += right - left + gap
    high = max(p.part.outline.bounds[3] for p in placed)
    stock = Stock("board", material, thickness, max(x, 60.0), high + gap, 1)
    return Sheet(number, stock, tuple(placed))


def shop(
    catalogue: Catalogue,
    *cutters: str | Cutter,
    machine: str = "bench-router",
    hold_down: HoldDown = HoldDown.TABS,
    entry: str = "helix",
) -> Shop:
    """Return a shop with these cutters, or with the whole rack."""
    wish = {"machine": machine, "hold_down": hold_down, "entry": entry}
    whole = resolve_shop(wish, catalogue)
    rack = [catalogue.cutters[c] if isinstance(c, str) else c for c in cutters]
    return replace(whole, cutters=tuple(sorted(rack, key=lambda c: c.key))) if rack else whole


def flat(diameter: float, key: str = "") -> Cutter:
    return Cutter(key or f"f{diameter:g}", f"{diameter:g} mm", CutterKind.FLAT, diameter, 2, 20.0)
