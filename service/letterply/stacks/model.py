"""Stacks: layers of parts on one datum, bottom to top.

Terms: a *part* is one connected piece of one material; a *layer* holds all parts of one material
and thickness at one level; a *stack* is its layers, bottom first. What is worked into a part
is in `letterply.stacks.work`; cutters and paths come later.

Frames: the stack frame has x along the baseline, y up, its origin at the lower left of the widest
layer, z = 0 at the underside of the bottom layer. All lengths are mm. A layer that is cut from its
back is still drawn as seen from the front; `Part.cut_view` gives what the cutter sees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from letterply.findings import Finding, Place
from letterply.shapes import GRID_PER_MM, Region, as_region
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from letterply.units import format_exact, format_mm

__all__ = [
    "Fixture",
    "Layer",
    "Part",
    "Repair",
    "RepairReport",
    "Stack",
    "rigid",
]


@dataclass(frozen=True, slots=True)
class Part:
    """One connected piece of one material.

    Attributes:
        name: unique in the stack and stable: `layer.letters`, with a number where it repeats.
        layer: name of its layer.
        outline: its outline, through cuts as holes.
        letters: the text that it carries, empty for a plate.
        holes, pockets, grooves, scribes: what is worked into it.
        history: what was repaired or joined, in words.
        letter_indices: which letters of the text those are, counted from 0 in reading order,
            spaces left out; the pieces of an i share one.
        ready_made: True for a blank: its outline is there already and is not cut.
        detail_mm: how deep its inside corners may stay round; None for what the shop says.

    """

    name: str
    layer: str
    outline: Polygon
    letters: str = ""
    holes: tuple[Hole, ...] = ()
    pockets: tuple[Pocket, ...] = ()
    grooves: tuple[Groove, ...] = ()
    scribes: tuple[Scribe, ...] = ()
    history: tuple[str, ...] = ()
    letter_indices: tuple[int, ...] = ()
    ready_made: bool = False
    detail_mm: float | None = None

    @property
    def overruns(self) -> list[BaseGeometry]:
        """Areas and lines of all work that runs over an edge of the part, on it and beyond."""
        areas = [w.over for w in self.pockets] + [w.over for w in self.grooves]
        return [a for a in areas if a is not None] + [ln for s in self.scribes for ln in s.over]

    @property
    def overrun_mm(self) -> float:
        """How far work on the part goes beyond its outline at most, mm."""
        beyond = self.overruns
        if not beyond:
            return 0.0
        corners = shapely.points(shapely.get_coordinates(beyond))
        return float(shapely.distance(shapely.Polygon(self.outline.exterior), corners).max())

    def moved(self, *, angle_deg: float, x_mm: float, y_mm: float) -> Part:
        """Return the part turned about the origin, then shifted: one rigid move."""
        return self._mapped(rigid(angle_deg, x_mm, y_mm))

    def at_its_corner(self) -> tuple[Part, tuple[float, float]]:
        """Return the part with the lower left of its box at the origin, and where that was.

        On the grid: wherever a part lies in its stack, here it is the same to the bit.
        """
        left, low, _, _ = self.outline.bounds
        return self._mapped(rigid(0, -left, -low), on_grid=True), (left, low)

    def cut_view(self, *, from_back: bool) -> Part:
        """Return the part as the cutter sees it: mirrored left to right when cut from the back."""
        if not from_back:
            return self
        left, _, right, _ = self.outline.bounds
        return self._mapped((-1.0, 0.0, 0.0, 1.0, left + right, 0.0))

    def _mapped(
        self, m: tuple[float, float, float, float, float, float], *, on_grid: bool = False
    ) -> Part:
        def move(geometry: BaseGeometry) -> Any:
            moved = affine_transform(geometry, m)
            return shapely.transform(moved, _stepped) if on_grid else moved

        def centre(hole: Hole) -> dict[str, Any]:
            at = np.array([a * hole.x_mm + b * hole.y_mm + e, c * hole.x_mm + d * hole.y_mm + f])
            x, y = (_stepped(at) if on_grid else at).tolist()
            return {"x_mm": x, "y_mm": y}

        def areas(work: Pocket | Groove) -> dict[str, Any]:
            over = None if work.over is None else as_region(move(work.over))
            return {"region": as_region(move(work.region)), "over": over}

        a, b, c, d, e, f = m
        return replace(
            self,
            outline=shapely.orient_polygons(move(self.outline)),
            holes=tuple(replace(h, **centre(h)) for h in self.holes),
            pockets=tuple(replace(p, **areas(p)) for p in self.pockets),
            grooves=tuple(replace(g, **areas(g)) for g in self.grooves),
            scribes=tuple(
                replace(s, lines=tuple(map(move, s.lines)), over=tuple(map(move, s.over)))
                for s in self.scribes
            ),
        )


def _stepped(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points on the grid of `letterply.shapes`."""
    return np.rint(points * GRID_PER_MM) / GRID_PER_MM


@dataclass(frozen=True, slots=True)
class Repair:
    """One place at which the outline of a layer was changed.

    Attributes:
        kind: `bridge`, `strengthen`, `join` or `soften`.
        where: place in the stack frame.
        region: what was added to the material, or left of a cut.
        move_mm: how far the outline moved here at most.
        was_mm: width of the material before; for a bridge or link the gap that it spans.
        now_mm: least width of the material now; None where nothing was asked.
        along_mm: how far the material reaches out here from the outline as it was. Where strokes
            meet, the old outline is buried deeper: `move_mm` is the larger of both.

    """

    kind: str
    where: Place
    region: Region
    move_mm: float
    was_mm: float
    now_mm: float | None = None
    along_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class RepairReport:
    """What the repairs of a layer changed.

    Attributes:
        before: the layer without them, round holes filled.
        along_mm: how far the outline moved out along strokes: no point of the new one lies
            farther from the old one.
        crotches_mm: how deep the old outline is buried at most: in the crotches where strokes
            meet and in gaps that close, farther than strokes grow.
        area_added_mm2: how much material there is more.
        pieces_joined: how many pieces fewer the layer falls into.
        bridges: how many bridges were left in cuts.
        places: the single repairs, from left to right.

    """

    before: Region
    along_mm: float
    crotches_mm: float
    area_added_mm2: float
    pieces_joined: int
    bridges: int
    places: tuple[Repair, ...]

    @property
    def largest_move_mm(self) -> float:
        """Hausdorff distance of the outlines before and after."""
        return max(self.along_mm, self.crotches_mm)


@dataclass(frozen=True, slots=True)
class Fixture:
    """How blanks lie on the machine while they are worked: in pockets, in columns and rows.

    Attributes:
        board: name of the layer among the stack's fixtures that has the pockets; empty where the
            maker has a way of his own to hold one blank.
        columns, rows: how many pockets.
        pitch_mm: from pocket to pocket, along x and y.
        first_mm: middle of the lower left blank, from the lower left of the board.
        size_mm: width and height of the board.
        depth_mm: depth of the pockets.
        middle_mm: middle of the blank in the stack frame.

    """

    board: str
    columns: int
    rows: int
    pitch_mm: tuple[float, float]
    first_mm: tuple[float, float]
    size_mm: tuple[float, float]
    depth_mm: float
    middle_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Layer:
    """All parts of one material and thickness at one level.

    Attributes:
        name: unique in the stack.
        material: key of the material.
        thickness_mm: thickness by which its sheet is sold, and the rack knows it.
        z_mm: height of its underside above the datum.
        parts: its parts, sorted by name.
        from_back: True when it is cut from its back and so mirrored on the sheet.
        repair: what the repairs that the recipe names changed, None without any.
        fixture: for a layer of blanks, how they lie on the machine; None for one that is cut
            from stock.
        true_mm: how thick its sheet really is; None where that was not measured.

    """

    name: str
    material: str
    thickness_mm: float
    z_mm: float
    parts: tuple[Part, ...]
    from_back: bool = False
    repair: RepairReport | None = None
    fixture: Fixture | None = None
    true_mm: float | None = None

    @property
    def stands_mm(self) -> float:
        """How much higher it makes the stack."""
        return self.thickness_mm if self.true_mm is None else self.true_mm

    @property
    def thickness_words(self) -> str:
        """How thick its sheet is called, and is, where that was measured."""
        told = format_mm(self.thickness_mm)
        return told if self.true_mm is None else f"{told}, measured {format_exact(self.true_mm)}"

    @property
    def region(self) -> Region:
        """All parts of the layer as one region."""
        return as_region(shapely.MultiPolygon([p.outline for p in self.parts]))

    @property
    def footprint(self) -> Region:
        """The region with its round holes filled: what a layer above can be glued onto."""
        holes = tuple(h for p in self.parts for h in p.holes)
        return _filled(self.region, holes)


@lru_cache(maxsize=8)
def _filled(region: Region, holes: tuple[Hole, ...]) -> Region:
    """Return a region with round holes filled; kept, since several checks of a layer ask for it."""
    discs = [
        shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2 + 0.01, quad_segs=32) for h in holes
    ]
    return as_region(shapely.union_all([region, *discs]))


@dataclass(frozen=True, slots=True)
class Stack:
    """Layers that belong together, bottom first.

    Attributes:
        title: what the maker calls it.
        layers: bottom first.
        copies: how many are to be made.
        text: the lettering's text.
        findings: doubts that arose while building.
        fixtures: what is made to help: boards with pockets for blanks, assembly frames; one of
            each, however many copies there are.
        lettering_at: where the origin of the lettering frame lies.
        id: digest of the request and the engine's version; empty until known.

    """

    title: str
    layers: tuple[Layer, ...]
    copies: int = 1
    text: str = ""
    findings: tuple[Finding, ...] = ()
    fixtures: tuple[Layer, ...] = ()
    lettering_at: tuple[float, float] = (0.0, 0.0)
    id: str = ""

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Bounding box of all layers: left, low, right, high."""
        boxes = [p.outline.bounds for layer in self.layers for p in layer.parts]
        lefts, lows, rights, highs = zip(*boxes, strict=True)
        return min(lefts), min(lows), max(rights), max(highs)

    @property
    def height_mm(self) -> float:
        """Height of the assembled stack."""
        return max((la.z_mm + la.stands_mm for la in self.layers), default=0.0)

    def layer(self, name: str) -> Layer:
        """Return the layer called `name`; raises `KeyError`."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)


def rigid(
    angle_deg: float, x_mm: float, y_mm: float
) -> tuple[float, float, float, float, float, float]:
    """Return the affine matrix (a, b, c, d, e, f) of a turn about the origin, then a shift.

    Quarter turns are exact: no rounding creeps in from sine and cosine.

    >>> rigid(90, 1, 2)
    (0.0, -1.0, 1.0, 0.0, 1, 2)

    """
    quarter = {0: (1.0, 0.0), 90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}
    turn = angle_deg % 360
    if turn in quarter:
        cos, sin = quarter[int(turn)]
    else:
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return cos, -sin if sin else 0.0, sin, cos, x_mm, y_mm
