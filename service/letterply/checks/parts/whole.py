"""Islands, crumbs, depths and room: what is measured on parts and layers as a whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from letterply.catalogue import Catalogue, Cutter, CutterKind, Material, Shop
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.requests import CheckRules, HoldDown
from letterply.shapes import Region, medial_axis
from letterply.stacks import Groove, Layer, Part, Stack
from letterply.units import format_mm

__all__ = ["find_crumbs", "find_depths", "find_islands", "find_overhangs", "find_room"]


def find_islands(layer: Layer, below: Layer | None) -> tuple[Finding, ...]:
    """Return pieces of a lettering layer that float free of the letter they belong to.

    A letter in several pieces (dots, accents) is held in register by nothing but what it is
    glued to; without a layer below it is in pieces for good.
    """
    found: list[Finding] = []
    for part in layer.parts:
        own = set(part.letter_indices)
        mates = [p for p in layer.parts if p is not part and not own.isdisjoint(p.letter_indices)]
        bigger = [p for p in mates if p.outline.area > part.outline.area]
        if not bigger:
            continue
        gap = min(float(part.outline.distance(p.outline)) for p in bigger)
        at = part.outline.representative_point()
        held = below is not None and below.footprint.contains(part.outline)
        found.append(
            Finding(
                code="island",
                severity=Severity.CAUTION if held else Severity.BLOCKER,
                layer=layer.name,
                part=part.name,
                where=Place("point", ((float(at.x), float(at.y)),)),
                measured=round(gap, 4),
                limit=0.0,
                why=(
                    f"{part.name} is a piece of its own, {format_mm(gap)} from the rest of "
                    f"{part.letters!r}" + ("; glue it by its place below" if held else "")
                ),
                remedies=(
                    Remedy(RemedyAction.JOIN, "join the layer", "join"),
                    Remedy(
                        RemedyAction.GROW_BY,
                        f"grow by {gap / 2 + 0.5:.1f} mm",
                        round(gap / 2 + 0.5, 2),
                        "mm",
                    ),
                ),
            )
        )
    return tuple(found)


def find_crumbs(layer: Layer, hold_down: HoldDown, rules: CheckRules) -> tuple[Finding, ...]:
    """Return parts too small to be held as the shop holds them."""
    found: list[Finding] = []
    for part in layer.parts:
        short = _shorter_side(part)
        if hold_down is not HoldDown.TABS or short >= rules.crumb_mm:
            continue
        at = part.outline.representative_point()
        found.append(
            Finding(
                code="crumb",
                severity=Severity.CAUTION,
                layer=layer.name,
                part=part.name,
                where=Place("point", ((float(at.x), float(at.y)),)),
                measured=round(short, 4),
                limit=rules.crumb_mm,
                why=(
                    f"{part.name} is only {format_mm(short)} across: tabs spoil its edge or "
                    "do not hold it"
                ),
                remedies=(
                    Remedy(
                        RemedyAction.CHANGE_HOLD_DOWN,
                        "hold it with double-sided tape or leave a skin",
                        "tape",
                    ),
                ),
            )
        )
    return tuple(found)


def _shorter_side(part: Part) -> float:
    box = shapely.minimum_rotated_rectangle(part.outline)
    corners = shapely.get_coordinates(box)
    sides = np.hypot(*np.diff(corners, axis=0).T)
    return float(sides.min())


def find_depths(
    layer: Layer, material: Material, cutters: Sequence[Cutter], rules: CheckRules
) -> tuple[Finding, ...]:
    """Return pockets and grooves that come too near the underside, and depths out of reach."""
    found: list[Finding] = []
    floor_limit = layer.thickness_mm - rules.floor_mm
    for part in layer.parts:
        sunk = [("pocket", p.region, p.depth_mm) for p in part.pockets]
        sunk += [("groove", g.region, _groove_depth(g, cutters)) for g in part.grooves]
        found.extend(
            _too_deep(part, region, depth, floor_limit, what)
            for what, region, depth in sunk
            if depth > floor_limit
        )
    routing = [c for c in cutters if c.kind is CutterKind.FLAT]
    beams = [c for c in cutters if c.kind is CutterKind.BEAM]
    longest = max((c.cutting_length_mm for c in routing + beams), default=0.0)
    if longest < layer.thickness_mm:
        found.append(
            Finding(
                code="depth",
                severity=Severity.BLOCKER,
                layer=layer.name,
                measured=layer.thickness_mm,
                limit=longest,
                why=(
                    f"no cutter in the rack goes through {format_mm(layer.thickness_mm)} of "
                    f"{material.name.lower()}: the longest reaches {format_mm(longest)}"
                ),
                remedies=(Remedy(RemedyAction.SWAP_CUTTER, "take a longer cutter"),),
            )
        )
    return tuple(found)


def _groove_depth(groove: Groove, cutters: Sequence[Cutter]) -> float:
    """Return how deep a groove comes with the bluntest V-bit that it allows; 0 with none."""
    bits = [
        c
        for c in cutters
        if c.kind is CutterKind.VBIT and groove.angle_deg in (None, c.included_angle_deg)
    ]
    if not bits:
        return 0.0
    bluntest = max(bits, key=lambda c: c.included_angle_deg)
    widest = float(medial_axis(groove.region).radii.max(initial=0.0))
    depth = max(widest - bluntest.tip_diameter_mm / 2, 0.0) / bluntest.half_angle_tan
    most = math.inf if groove.max_depth_mm is None else groove.max_depth_mm
    return groove.start_mm + min(depth, most)


def _too_deep(part: Part, region: Region, depth: float, limit: float, what: str) -> Finding:
    at = region.representative_point()
    return Finding(
        code="depth",
        severity=Severity.BLOCKER,
        layer=part.layer,
        part=part.name,
        where=Place("point", ((float(at.x), float(at.y)),)),
        measured=round(depth, 4),
        limit=round(limit, 4),
        why=(
            f"{part.name}: a {what} {format_mm(depth)} deep leaves less than is safe of the "
            f"sheet; {format_mm(limit)} is the most"
        ),
        remedies=(
            Remedy(
                RemedyAction.LIMIT_DEPTH,
                f"limit the depth to {format_mm(limit)}",
                round(limit, 3),
                "mm",
            ),
        ),
    )


def find_overhangs(stack: Stack, rules: CheckRules) -> tuple[Finding, ...]:
    """Return layers that stand out over the one below: glue does not hold what hangs free."""
    found: list[Finding] = []
    for lower, upper in pairwise(stack.layers):
        base = lower.footprint
        for part in upper.parts:
            over = shapely.difference(part.outline, shapely.buffer(base, rules.overhang_mm))
            if over.is_empty:
                continue
            corners = shapely.points(shapely.get_coordinates(over))
            reach = float(np.max(shapely.distance(corners, base)))
            at = over.representative_point()
            found.append(
                Finding(
                    code="room",
                    severity=Severity.CAUTION,
                    layer=upper.name,
                    part=part.name,
                    where=Place("point", ((float(at.x), float(at.y)),)),
                    measured=round(reach, 4),
                    limit=rules.overhang_mm,
                    why=(
                        f"{part.name} stands {format_mm(reach)} out over {lower.name}: it is not "
                        "glued there"
                    ),
                    remedies=(
                        Remedy(
                            RemedyAction.GROW_BY,
                            f"grow {lower.name} by {format_mm(reach)}",
                            round(reach, 2),
                            "mm",
                        ),
                    ),
                )
            )
    return tuple(found)


def find_room(stack: Stack, shop: Shop, catalogue: Catalogue) -> tuple[Finding, ...]:
    """Return parts that no stock sheet on the rack, or not the machine, can take."""
    found: list[Finding] = []
    bed = shop.machine.bed_mm
    # Blanks come to hand one by one; what holds them is cut from stock.
    for layer in (*(la for la in stack.layers if la.fixture is None), *stack.fixtures):
        material = catalogue.material(layer.material)
        sheets = [
            s
            for s in shop.stock
            if s.material == layer.material and abs(s.thickness_mm - layer.thickness_mm) < 0.05
        ]
        for part in layer.parts:
            left, low, right, high = part.outline.bounds
            width, height = right - left, high - low
            if (
                sheets
                and any(
                    _fits(
                        width,
                        height,
                        s.width_mm - 2 * s.margin_mm,
                        s.height_mm - 2 * s.margin_mm,
                        turns=not material.grain,
                    )
                    for s in sheets
                )
                and _fits(width, height, *bed, turns=True)
            ):
                continue
            if not sheets:
                at_hand = sorted(
                    {s.thickness_mm for s in shop.stock if s.material == layer.material}
                )
                why = (
                    f"{part.name}: there is no {format_mm(layer.thickness_mm)} "
                    f"{material.name.lower()} on the rack"
                    + (f", only {', '.join(format_mm(t) for t in at_hand)}" if at_hand else "")
                )
                measured, limit = layer.thickness_mm, None
            else:
                why = (
                    f"{part.name} is {width:.0f} x {height:.0f} mm: too large for every "
                    f"{material.name.lower()} sheet on the rack or for the machine's bed of "
                    f"{bed[0]:.0f} x {bed[1]:.0f} mm"
                )
                measured = round(max(width, height), 4)
                limit = max(max(s.width_mm, s.height_mm) - 2 * s.margin_mm for s in sheets)
            found.append(
                Finding(
                    code="room",
                    severity=Severity.BLOCKER,
                    layer=layer.name,
                    part=part.name,
                    where=Place(
                        "polygon", ((left, low), (right, low), (right, high), (left, high))
                    ),
                    measured=measured,
                    limit=limit,
                    why=why,
                    remedies=(
                        Remedy(RemedyAction.CHANGE_STOCK, "put a fitting sheet on the rack"),
                    ),
                )
            )
    return tuple(found)


def _fits(
    width: float, height: float, room_width: float, room_height: float, *, turns: bool
) -> bool:
    upright = width <= room_width and height <= room_height
    turned = turns and width <= room_height and height <= room_width
    return upright or turned
