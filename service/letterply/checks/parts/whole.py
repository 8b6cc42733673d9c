"""Islands, crumbs, depths and room: what is measured on parts and layers as a whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from letterply.catalogue import (
    Catalogue,
    CutterRack,
    NoRoom,
    Shop,
    sheets_of,
    turns_on,
    why_no_room,
)
from letterply.checks.parts.ridges import bluntest_bit
from letterply.checks.places import name_part_place, place_inside
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import in_sentence, layer_words
from letterply.requests import CheckRules, HoldDown
from letterply.said import Said, say
from letterply.shapes import SAME_MM, Region, medial_axis
from letterply.stacks import Fixture, Groove, Layer, Part, Stack, is_turned, part_words
from letterply.units import about_mm, format_mm

__all__ = [
    "find_crumbs",
    "find_depths",
    "find_islands",
    "find_overhangs",
    "find_room",
    "sides_of",
]


def find_islands(layer: Layer, held: Sequence[bool]) -> tuple[Finding, ...]:
    """Return pieces of letters that come out apart from the letter they belong to.

    The dot of an i, an umlaut, the rings of a percent sign: each is a part like any other, cut and
    placed by itself; what cannot be held or cut is told by other checks. The main piece of a letter
    is its largest; of several alike in area (`_ALIKE`) the lowest, then the leftmost. Distances are
    to the nearest other piece of the layer; what is a hair away from it is told at that gap.
    `held` tells for each part whether it lies on the layer below: then it is glued at its place
    there.
    """
    found: list[Finding] = []
    outlines = np.array([part.outline for part in layer.parts], dtype=object)
    for number, (part, lies_on) in enumerate(zip(layer.parts, held, strict=True)):
        own = set(part.letter_indices)
        mates = [p for p in layer.parts if not own.isdisjoint(p.letter_indices)]
        if len(mates) < 2 or _main_piece(mates) is part:
            continue
        others = np.delete(outlines, number)
        nearest = others[int(np.argmin(shapely.distance(part.outline, others)))]
        gap = float(shapely.distance(part.outline, nearest))
        across = shapely.get_coordinates(shapely.shortest_line(part.outline, nearest)).tolist()
        broken = SAME_MM < gap < _HAIR_MM
        place = (
            say("glue it at its place on the layer below")
            if lies_on
            else say("it has to be put in its place by itself")
        )
        found.append(
            Finding(
                code="island",
                severity=Severity.NOTE if lies_on and gap >= _HAIR_MM else Severity.CAUTION,
                layer=layer.name,
                part=part.name,
                where=(
                    Place("segment", tuple((x, y) for x, y in across))
                    if broken
                    else place_inside(part.outline)
                ),
                measured=round(gap, 4),
                limit=0.0,
                why=(
                    say(
                        "a piece of {part} is loose, {gap} from the rest: {place}",
                        part=part_words(part),
                        gap=about_mm(gap),
                        place=place,
                    )
                ),
                remedies=(
                    Remedy(
                        RemedyAction.JOIN,
                        say("join the pieces of {layer}", layer=layer_words(layer.name)),
                        "join",
                    ),
                    Remedy(
                        RemedyAction.GROW_BY,
                        say("grow the outline by {by}", by=about_mm(gap / 2 + 0.5)),
                        round(gap / 2 + 0.5, 2),
                        "mm",
                    ),
                ),
            )
        )
    return tuple(found)


_HAIR_MM = 1.0
"""Pieces of one letter that are nearer than this look as if they had broken apart: common practice,
no source."""

_ALIKE = 0.01
"""Share by which areas may differ and still be alike, whatever the size does to their curves."""


def _main_piece(pieces: Sequence[Part]) -> Part:
    """Return the piece that a letter's other pieces belong to."""
    largest = max(piece.outline.area for piece in pieces)
    alike = [p for p in pieces if p.outline.area >= (1 - _ALIKE) * largest]
    return min(alike, key=lambda p: (round(p.outline.bounds[1], 1), p.outline.bounds[0]))


def find_crumbs(layer: Layer, hold_down: HoldDown, rules: CheckRules) -> tuple[Finding, ...]:
    """Return parts too small to be held as the shop holds them."""
    found: list[Finding] = []
    for part in layer.parts:
        short, long = sides_of(part)
        # A long part has room for two tabs, however narrow it is.
        if hold_down is not HoldDown.TABS or short >= rules.crumb_mm or long >= 2 * rules.crumb_mm:
            continue
        found.append(
            Finding(
                code="crumb",
                severity=Severity.CAUTION,
                layer=layer.name,
                part=part.name,
                where=place_inside(part.outline),
                measured=round(short, 4),
                limit=rules.crumb_mm,
                why=(
                    say(
                        "{part} is only {short} by {long}: tabs spoil its edge or do not hold it",
                        part=part_words(part),
                        short=about_mm(short, beside=rules.crumb_mm),
                        long=about_mm(long),
                    )
                ),
                remedies=(
                    Remedy(
                        RemedyAction.CHANGE_HOLD_DOWN,
                        say("hold it with double-sided tape, or leave a thin skin at the bottom"),
                        "tape",
                    ),
                ),
            )
        )
    return tuple(found)


def sides_of(part: Part) -> tuple[float, float]:
    """Return the shorter and the longer side of the smallest box round a part, at any turn, mm."""
    box = shapely.minimum_rotated_rectangle(part.outline)
    corners = shapely.get_coordinates(box)
    sides = np.hypot(*np.diff(corners, axis=0).T)
    return float(sides.min()), float(sides.max())


def find_depths(layer: Layer, rack: CutterRack, rules: CheckRules) -> tuple[Finding, ...]:
    """Return pockets and grooves that come too near the underside."""
    found: list[Finding] = []
    floor_limit = layer.thickness_mm - rules.floor_mm
    for part in layer.parts:
        sunk = [(say("pocket"), p.region, p.depth_mm) for p in part.pockets]
        sunk += [(say("groove"), g.region, _groove_depth(g, rack)) for g in part.grooves]
        found.extend(
            _too_deep(part, region, depth, floor_limit, what)
            for what, region, depth in sunk
            if depth > floor_limit
        )
    return tuple(found)


def _groove_depth(groove: Groove, rack: CutterRack) -> float:
    """Return how deep a groove comes with the bluntest V-bit that it allows; 0 with none."""
    bluntest = bluntest_bit(groove, rack)
    if bluntest is None:
        return 0.0
    widest = float(medial_axis(groove.whole).radii.max(initial=0.0))
    depth = max(widest - bluntest.tip_diameter_mm / 2, 0.0) / bluntest.half_angle_tan
    most = math.inf if groove.max_depth_mm is None else groove.max_depth_mm
    return groove.start_mm + min(depth, most)


def _too_deep(part: Part, region: Region, depth: float, limit: float, what: Said) -> Finding:
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
            say(
                "a {what} {depth} deep {place} leaves too little of the sheet",
                what=what,
                depth=about_mm(depth, beside=limit),
                place=name_part_place(part, (float(at.x), float(at.y))),
            )
            + (
                say(": {limit} is the most", limit=format_mm(limit))
                if limit > 0
                else say(": the sheet is too thin for any")
            )
        ),
        remedies=(
            Remedy(
                RemedyAction.LIMIT_DEPTH,
                say("limit the depth to {limit}", limit=format_mm(limit))
                if limit > 0
                else say("take a thicker sheet"),
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
        wide = shapely.buffer(base, rules.overhang_mm)
        shapely.prepare(wide)
        for part in upper.parts:
            if wide.covers(part.outline):
                continue
            over = shapely.difference(part.outline, wide)
            if over.is_empty:
                continue
            corners = shapely.points(shapely.get_coordinates(over))
            reach = float(np.max(shapely.distance(corners, base)))
            found.append(
                Finding(
                    code="room",
                    severity=Severity.CAUTION,
                    layer=upper.name,
                    part=part.name,
                    where=place_inside(over),
                    measured=round(reach, 4),
                    limit=rules.overhang_mm,
                    why=(
                        say(
                            "{part} stands {reach} out over {layer}: it is not glued there",
                            part=part_words(part),
                            reach=about_mm(reach),
                            layer=layer_words(lower.name),
                        )
                    ),
                    remedies=(
                        Remedy(
                            RemedyAction.GROW_BY,
                            say(
                                "grow {layer} by {reach}",
                                layer=layer_words(lower.name),
                                reach=about_mm(reach),
                            ),
                            round(reach, 2),
                            "mm",
                        ),
                    ),
                )
            )
    return tuple(found)


def find_room(stack: Stack, shop: Shop, catalogue: Catalogue) -> tuple[Finding, ...]:
    """Return parts that no stock sheet on the rack, as it lies on the machine, can take.

    What is asked for is what a layout will ask for (`letterply.catalogue.room`).
    """
    found: list[Finding] = []
    stock = [s for s in shop.stock if s.count]
    # Blanks come to hand one by one; what holds them is cut from stock.
    for layer in (*(la for la in stack.layers if la.fixture is None), *stack.fixtures):
        material = catalogue.material(layer.material)
        grain, name = material.grain, in_sentence(material.name)
        sheets = sheets_of(stock, layer.material, layer.thickness_mm)
        for part in layer.parts:
            seen = part.cut_view(from_back=layer.from_back).outline
            if turns_on(seen, sheets, grain=grain):
                continue
            none = why_no_room(
                seen, stock, layer.material, layer.thickness_mm, grain=grain, name=name
            )
            limit = max((max(s.room_mm) for s in sheets), default=None)
            found.append(_no_room(part, none, layer.thickness_mm, limit))
    found.extend(
        _no_bed(layer, layer.fixture, shop.machine.bed_mm)
        for layer in stack.layers
        if layer.fixture is not None
        and is_turned(layer, layer.fixture, shop.machine.bed_mm) is None
    )
    return tuple(found)


def _no_room(part: Part, none: NoRoom, thickness_mm: float, limit: float | None) -> Finding:
    left, low, right, high = part.outline.bounds
    size = max(right - left, high - low)
    return Finding(
        code="room",
        severity=Severity.BLOCKER,
        layer=part.layer,
        part=part.name,
        where=Place("polygon", ((left, low), (right, low), (right, high), (left, high))),
        measured=round(thickness_mm if limit is None else size, 4),
        limit=limit,
        why=say("no sheet has space for {part}. {why}", part=part_words(part), why=none.why),
        remedies=(
            Remedy(
                RemedyAction.SPLIT if none.by_machine else RemedyAction.CHANGE_STOCK, none.remedy
            ),
        ),
    )


def _no_bed(layer: Layer, fixture: Fixture, bed_mm: tuple[float, float]) -> Finding:
    width, height = fixture.size_mm
    what = say("the fixture") if fixture.board else say("the blank")
    bed = f"{format_mm(bed_mm[0])} × {format_mm(bed_mm[1])}"
    remedy = (
        say("put fewer blanks on it")
        if fixture.board
        else say("work it on a machine that reaches it")
    )
    return Finding(
        code="room",
        severity=Severity.BLOCKER,
        layer=layer.name,
        measured=round(max(width, height), 4),
        limit=max(bed_mm),
        why=(
            say(
                "{what} of {layer} is larger than the machine reaches, whichever way "
                "it lies: {width} × {height} on {bed}",
                what=what,
                layer=layer_words(layer.name),
                width=format_mm(width),
                height=format_mm(height),
                bed=bed,
            )
        ),
        remedies=(Remedy(RemedyAction.SPLIT, remedy),),
    )
