"""Beam cutting: outlines followed at half the kerf, without depth.

Small holes go first and each part's outline last, so that nothing moves before it is finished.
The beam pierces in the waste, off the part, and runs on to the outline by a short straight line.
Power is the maker's own figure for the sheet: without one nothing is planned. Materials that must
not be cut by a beam are refused with the reason. Lengths mm, sheet frame; z is 0 throughout.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from letterply.catalogue import BEAM_LINE_MM, Cutter, Refusal, Work, missing_power
from letterply.cutting.context import SheetContext
from letterply.cutting.face.drill import in_short_order, scribe_line
from letterply.cutting.feeds import beam_feeds
from letterply.cutting.model import (
    CutterChoice,
    CutterSet,
    Operation,
    OperationKind,
)
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.entry import spread
from letterply.cutting.profile.profiles import inside_loops, outside_loops
from letterply.cutting.toolpath import EntryOptions, Toolpath
from letterply.errors import InputError
from letterply.requests import BeamPower
from letterply.said import say
from letterply.shapes import LEAST_DIVISOR, as_region, fit_arcs
from letterply.sheets import PlacedPart
from letterply.units import about_mm

__all__ = ["beam_operations", "choose_beam"]

_PIERCE_MM = 2.0
"""Distance between the pierce and the outline; common practice, no source."""

_CLEAR_MM = 0.4
"""Least distance of a pierce from any outline, where there is room for it."""

_Floats = NDArray[np.float64]


def choose_beam(context: SheetContext) -> tuple[Cutter | None, Refusal | None]:
    """Return the beam of the rack, or None and why none goes through the sheet.

    Raises:
        InputError: `beam-refused` for a material that must not be cut by a beam.

    """
    must_not = context.rack.must_not
    if must_not is not None:
        raise InputError(
            must_not.why,
            code="beam-refused",
            field="shop.machine",
            expected="a router for this material, or another material",
        )
    beams = context.rack.through(context.thickness, context.shop.hold_down)
    refusal = context.rack.through_refusal(context.thickness, context.shop.hold_down)
    return (beams[0] if beams else None), refusal


def beam_operations(
    context: SheetContext, placed: PlacedPart, beam: Cutter, power: BeamPower
) -> tuple[list[Operation], CutterChoice]:
    """Return the operations of one part in its own frame: holes by size, then the outline."""
    solid = placed.part.outline
    radius = beam.radius_mm
    feeds = beam_feeds(context.shop.machine, power)
    drawn: list[Operation] = []
    if placed.part.scribes and power.scribe_percent is None:
        missing = missing_power(context.material, context.thickness, scribing=True)
        if missing not in context.findings:
            context.findings.append(missing)
    elif placed.part.scribes:
        drawn.append(_drawn(context, placed, beam, power))
    for worked, work, what in (
        (placed.part.grooves, Work.GROOVE, say("a groove")),
        (placed.part.pockets, Work.POCKET, say("a pocket")),
        (
            [h for h in placed.part.holes if h.depth_mm is not None],
            Work.POCKET,
            say("a blind hole"),
        ),
    ):
        refusal = context.rack.refusal(work, 0.0, what) if worked else None
        if refusal is not None:
            context.refuse(placed, refusal)
    holes = sorted((Polygon(r) for r in solid.interiors), key=lambda h: (h.area, h.bounds))
    inner: list[Toolpath] = []
    for hole in holes:
        loops = inside_loops(hole, radius, context.tolerances)
        if not loops:
            wide = 2 * float(shapely.maximum_inscribed_circle(hole).length)
            context.uncut(
                placed, say("a hole only {wide} wide", wide=about_mm(wide)), say("a finer beam")
            )
        inner += [_cut(context, loop.points, as_region(hole), power.passes) for loop in loops]
    outside = outside_loops(solid, radius, context.tolerances)
    around = shapely.difference(
        shapely.box(*solid.bounds).buffer(3 * _PIERCE_MM), Polygon(solid.exterior)
    )
    inner += [_cut(context, loop.points, around, power.passes) for loop in outside[1:]]
    found = drawn
    if inner:
        found.append(
            Operation(
                OperationKind.PROFILE, beam.key, placed.mark, tuple(inner), context.thickness,
                feeds, inside=True,
            )
        )  # fmt: skip
    found.append(
        Operation(
            OperationKind.PROFILE, beam.key, placed.mark,
            (_cut(context, outside[0].points, around, power.passes),), context.thickness, feeds,
        )
    )  # fmt: skip
    reason = "The beam runs half its kerf beside the outline"
    return found, CutterChoice(
        "outlines", reason, (CutterSet((beam.key,), 0.0, radius, 0.0, chosen=True),)
    )


def _drawn(context: SheetContext, placed: PlacedPart, beam: Cutter, power: BeamPower) -> Operation:
    """Return the drawing of a part's lines, at the power for that."""
    lines = [line for scribe in placed.part.scribes for line in scribe.lines]
    paths = tuple(
        scribe_line(line, 0.0, context.tolerances, arcs=context.arcs)
        for line in in_short_order(lines)
    )
    feeds = beam_feeds(context.shop.machine, power, scribing=True)
    return Operation(
        OperationKind.SCRIBE, beam.key, placed.mark, paths, BEAM_LINE_MM, feeds,
        note="at the power to scribe",
    )  # fmt: skip


def _cut(
    context: SheetContext, points: _Floats, waste: shapely.geometry.base.BaseGeometry, passes: int
) -> Toolpath:
    """Return the path of a loop that begins with a pierce in the waste, one of several."""
    walk = ParametricPath(
        fit_arcs(points, context.tolerances.arc_fit_mm, arcs=context.arcs), closed=True
    )
    starts, pierces = _pierced(walk, waste)
    touches = walk.at(starts)

    @lru_cache(maxsize=_PLACES)
    def made(way: int) -> Toolpath:
        lit, here = (np.array([*at[way], 0.0]) for at in (pierces, touches))
        path = walk.path(starts[way] + np.array([0.0, walk.length]), np.zeros(2))
        return Toolpath.joined([Toolpath.straight(lit, here[None]), *[path] * passes])

    return replace(made(0), entry_options=EntryOptions(pierces, touches, made))


_PLACES = 128
"""Places tried for a pierce."""


def _pierced(
    walk: ParametricPath, waste: shapely.geometry.base.BaseGeometry
) -> tuple[_Floats, _Floats]:
    """Return where along a loop the beam meets it, (k,), and where it is lit for that, (k, 2).

    The straightest places that have room for a pierce beside them, as far off as there is room.
    In a hole too narrow for that the pierce is in its middle; where not even that is seen from
    the loop, on the loop itself.
    """
    s = np.linspace(0, walk.length, _PLACES, endpoint=False)
    cost = walk.turning(s, min(6.0, walk.length / 4))
    points = walk.at(s)
    along = walk.at(s + min(0.1, walk.length / 50)) - points
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), LEAST_DIVISOR)[:, None]
    sides = np.column_stack((-along[:, 1], along[:, 0]))
    edge = waste.boundary
    shapely.prepare(waste)
    shapely.prepare(edge)

    def seen(there: _Floats) -> NDArray[np.bool_]:
        entry_options = shapely.linestrings(np.stack((points, there), axis=1))
        return np.asarray(shapely.contains(waste, entry_options))

    def clear(there: _Floats) -> NDArray[np.bool_]:
        return np.asarray(shapely.distance(edge, shapely.points(there)) >= _CLEAR_MM)

    for distance in (_PIERCE_MM, _PIERCE_MM / 2, _PIERCE_MM / 4):
        left, right = points + sides * distance, points - sides * distance
        on_left, on_right = clear(left) & seen(left), clear(right) & seen(right)
        if on_left.any() or on_right.any():
            there = np.where(on_left[:, None], left, right)
            k = spread(s, np.where(on_left | on_right, cost, np.inf), walk.length)
            return s[k], there[k]
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(as_region(waste)))[:1]
    from_there = seen(np.repeat(middle, _PLACES, axis=0))
    if from_there.any():
        k = spread(s, np.where(from_there, cost, np.inf), walk.length)
        return s[k], np.repeat(middle, len(k), axis=0)
    k = spread(s, cost, walk.length)
    return s[k], points[k]
