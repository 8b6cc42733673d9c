"""What no cutter of the shop may do: the refusals of the rack, on the parts of a layer.

The planner asks the same rack (`letterply.catalogue.rack`), so that what it would refuse is told
before anything is planned. Work is judged by its own depth: a blank asks for no cutter that goes
through it.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import CutterRack, Refusal, Work, through_depth
from letterply.checks.parts.whole import sides_of
from letterply.checks.places import place_inside
from letterply.findings import Finding, Severity
from letterply.names import layer_words
from letterply.requests import HoldDown
from letterply.said import Said, say
from letterply.shapes import Region, Tolerances, offset
from letterply.stacks import Hole, Layer, Part, hole_region, part_words
from letterply.units import format_mm

__all__ = ["find_unworkable"]


def find_unworkable(
    layer: Layer, rack: CutterRack, hold_down: HoldDown, tolerances: Tolerances
) -> tuple[Finding, ...]:
    """Return what no cutter of the rack may do on a layer, blockers all of them.

    What must not be done on this machine is told once for the layer, and nothing else with it.
    """
    if rack.must_not is not None:
        return (_of_layer(layer, rack.must_not),)
    found: list[Finding] = []
    through = None
    if layer.fixture is None:
        through = rack.through_refusal(layer.thickness_mm, hold_down)
        if through is not None:
            found.append(_of_layer(layer, through))
    elif rack.by_beam:
        refusal = rack.refusal(Work.POCKET, 0.0, say("work on a blank"))
        return () if refusal is None else (_of_layer(layer, refusal),)
    depth = through_depth(layer.thickness_mm, HoldDown.BED if rack.by_beam else hold_down)
    for part in layer.parts:
        if layer.fixture is None and through is None:
            found += _outline(part, layer, rack, hold_down)
            found += _holes(part, rack, depth, tolerances)
        found += _face(part, rack, tolerances)
    return tuple(found)


def _outline(part: Part, layer: Layer, rack: CutterRack, hold_down: HoldDown) -> Iterator[Finding]:
    refusal = rack.part_refusal(sides_of(part)[0], layer.thickness_mm, hold_down)
    if refusal is not None:
        yield _of_part(part, part.outline, refusal)


def _holes(
    part: Part, rack: CutterRack, depth_mm: float, tolerances: Tolerances
) -> Iterator[Finding]:
    """Yield round holes through the part that neither a drill nor an end mill makes."""
    for hole in part.holes:
        if hole.depth_mm is not None:
            continue
        room = hole.diameter_mm - 2 * tolerances.path_clearance_mm
        what = say("a hole of {diameter} through the sheet", diameter=format_mm(hole.diameter_mm))
        refusal = rack.hole_refusal(hole.diameter_mm, depth_mm, what, room_mm=room)
        if refusal is not None:
            yield _of_part(part, _disc(hole, tolerances), refusal)


def _face(part: Part, rack: CutterRack, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield pockets, blind holes, grooves and lines that nothing makes, the first of each kind."""
    sunk = [(say("a pocket"), p.region, p.depth_mm) for p in part.pockets]
    sunk += [
        (say("a blind hole"), _disc(h, tolerances), h.depth_mm)
        for h in part.holes
        if h.depth_mm is not None
    ]
    for what, region, depth in sunk:
        said = say("{what} {depth} deep", what=what, depth=format_mm(depth))
        refusal = rack.refusal(Work.POCKET, depth, said) or _narrow(
            region, rack, depth, said, tolerances
        )
        if refusal is not None:
            yield _of_part(part, region, refusal)
    for groove in part.grooves:
        refusal = rack.refusal(
            Work.GROOVE, groove.start_mm, say("a groove"), angle_deg=groove.angle_deg
        )
        if refusal is not None:
            yield _of_part(part, groove.region, refusal)
    for scribe in part.scribes:
        refusal = rack.refusal(Work.SCRIBE, scribe.depth_mm, say("scribed lines"))
        if refusal is not None and scribe.lines:
            yield _of_part(part, scribe.lines[0], refusal)


def _narrow(
    region: Region, rack: CutterRack, depth_mm: float, what: Said, tolerances: Tolerances
) -> Refusal | None:
    """Return why no cutter that reaches the floor finds room between the walls."""
    cutter = rack.able(Work.POCKET, depth_mm)[0]
    reach = cutter.radius_mm + tolerances.path_clearance_mm
    if not offset(region, -reach, tolerances.offset_mm).is_empty:
        return None
    wide = 2 * float(shapely.maximum_inscribed_circle(region).length)
    return rack.narrow_refusal(wide, depth_mm, what)


def _disc(hole: Hole, tolerances: Tolerances) -> Region:
    return hole_region(hole.x_mm, hole.y_mm, hole.diameter_mm, tolerances.flatten_mm)


def _of_layer(layer: Layer, refusal: Refusal) -> Finding:
    return Finding(
        code=refusal.code,
        severity=Severity.BLOCKER,
        layer=layer.name,
        measured=refusal.measured_mm,
        limit=refusal.limit_mm,
        why=say("{layer} cannot be made: {why}", layer=layer_words(layer.name), why=refusal.why),
        remedies=refusal.remedies,
    )


def _of_part(part: Part, where: BaseGeometry, refusal: Refusal) -> Finding:
    return Finding(
        code=refusal.code,
        severity=Severity.BLOCKER,
        layer=part.layer,
        part=part.name,
        where=place_inside(where),
        measured=refusal.measured_mm,
        limit=refusal.limit_mm,
        why=say("{part} cannot be made: {why}", part=part_words(part), why=refusal.why),
        remedies=refusal.remedies,
    )
