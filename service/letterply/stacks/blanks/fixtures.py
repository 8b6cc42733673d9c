"""Fixtures: boards with pockets that hold blanks, and frames that help to glue up.

A fixture is a layer of its own beside the stack, with one part, in a frame whose origin is its
lower left. It is cut from stock like any other part. All mm.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon, box
from shapely.affinity import translate

from letterply.catalogue import Catalogue
from letterply.errors import InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import layer_words
from letterply.requests import BlankOutline, FixtureWish, Frame, Recipe
from letterply.said import say
from letterply.shapes import (
    ROUNDING,
    Region,
    Tolerances,
    as_region,
    normalise,
    offset,
    polygons,
    rings,
)
from letterply.stacks.draft import LayerDraft
from letterply.stacks.model import Fixture, Layer, Part
from letterply.stacks.outlines.plates import hole_region
from letterply.stacks.work import Pocket
from letterply.units import counted, format_mm

__all__ = ["assembly_frames", "fixture_boards", "fixture_of"]

_RIM_MM = 12.0
"""Board left round the pockets, and frame round the openings; common practice, no source."""

_LEAST_FLOOR_MM = 2.0
"""Board left under a pocket; common practice, no source."""

_FINGER_MM = 16.0
"""Width of a hole for a finger beside a pocket; common practice, no source."""

_FINGER_DEEPER_MM = 3.0
"""How much deeper than the blank lies a finger goes, where the board bears it."""

_RELIEF_MM = 1.7
"""Radius of the relief in a pocket's corners: a little more than that of a 1/8 in cutter."""

_SHARP_DEG = 30.0
_FRAME_EDGE_MM = 6.0


def fixture_of(draft: LayerDraft) -> Fixture:
    """Return how the blanks of a layer lie on the machine."""
    outline = draft.recipe.outline
    assert isinstance(outline, BlankOutline)
    left, low, right, high = draft.solid.bounds
    width, height = right - left, high - low
    middle = (left + right) / 2, (low + high) / 2
    wish = outline.fixture
    if wish is None:
        first, size = _round((width / 2, height / 2)), _round((width, height))
        return Fixture("", 1, 1, size, first, size, 0.0, middle)
    depth = _pocket_depth(draft, wish)
    pitch = width + 2 * wish.clearance + wish.gap, height + 2 * wish.clearance + wish.gap
    # The finger hole sticks out below the pocket: the rim is measured from there.
    rim_x, rim_y = _RIM_MM + wish.clearance, _RIM_MM + wish.clearance + _finger(width, wish) / 2
    size = (
        (wish.columns - 1) * pitch[0] + width + 2 * rim_x,
        (wish.rows - 1) * pitch[1] + height + rim_x + rim_y,
    )
    first = rim_x + width / 2, rim_y + height / 2
    return Fixture(
        f"{draft.recipe.name}-fixture", wish.columns, wish.rows,
        _round(pitch), _round(first), _round(size), depth, middle,
    )  # fmt: skip


def _round(pair: tuple[float, float]) -> tuple[float, float]:
    return round(pair[0], 4), round(pair[1], 4)


def _finger(width_mm: float, wish: FixtureWish) -> float:
    """Return the width of a finger hole; a narrow blank gets a narrow one."""
    return min(_FINGER_MM, 0.6 * width_mm) if wish.finger_holes else 0.0


def _pocket_depth(draft: LayerDraft, wish: FixtureWish) -> float:
    """Return how deep the pockets are: as the blank is thick, unless the recipe says less.

    Raises:
        InputError: `too-deep` for the board, or for a blank that would lie below its face.

    """
    field = f"{draft.path}.outline.fixture"
    depth = draft.recipe.thickness if wish.depth is None else wish.depth
    if depth > draft.recipe.thickness + ROUNDING:
        raise InputError(
            f"In a pocket of {format_mm(depth)} a blank of {format_mm(draft.recipe.thickness)} "
            "would lie below the top of its fixture.",
            code="too-deep",
            field=f"{field}.depth",
            expected=f"at most {format_mm(draft.recipe.thickness)}",
        )
    if depth > wish.thickness - _LEAST_FLOOR_MM:
        raise InputError(
            f"A fixture of {format_mm(wish.thickness)} is too thin for pockets of "
            f"{format_mm(depth)}.",
            code="too-deep",
            field=f"{field}.thickness",
            expected=f"at least {format_mm(depth + _LEAST_FLOOR_MM)}",
        )
    return depth


def fixture_boards(
    drafts: list[LayerDraft], catalogue: Catalogue, tolerances: Tolerances
) -> list[Layer]:
    """Return the boards that hold the blanks of a stack.

    Raises:
        UnknownName: for a material that the catalogue does not hold.
        InputError: `duplicate-layer` when a layer of the recipe has the board's name; `too-deep`.

    """
    found: list[Layer] = []
    for draft in drafts:
        outline = draft.recipe.outline
        if not isinstance(outline, BlankOutline) or outline.fixture is None:
            continue
        wish = outline.fixture
        catalogue.material(wish.material, field=f"{draft.path}.outline.fixture.material")
        fixture = fixture_of(draft)
        part = _board(draft, fixture, wish, tolerances)
        found.append(_layer(part, wish.material, wish.thickness, drafts))
    return found


def _layer(part: Part, material: str, thickness_mm: float, drafts: list[LayerDraft]) -> Layer:
    if any(d.recipe.name.lower() == part.layer.lower() for d in drafts):
        raise InputError(
            f"A layer is called {part.layer!r}, and a fixture needs that name.",
            code="duplicate-layer",
            field="recipe.layers",
            expected="another name for the layer",
        )
    return Layer(part.layer, material, thickness_mm, 0.0, (part,))


def _board(draft: LayerDraft, fixture: Fixture, wish: FixtureWish, tolerances: Tolerances) -> Part:
    """Return the board: a pocket a blank, relieved in its corners, a finger hole below each."""
    blank = as_region(shapely.MultiPolygon([Polygon(p.exterior) for p in draft.solid.geoms]))
    if draft.from_back:
        # The blank lies on its face, so its pocket is mirrored, too.
        left, _, right, _ = blank.bounds
        blank = as_region(
            shapely.transform(blank, lambda c: np.c_[left + right - c[:, 0], c[:, 1]])
        )
    blank = as_region(translate(blank, -fixture.middle_mm[0], -fixture.middle_mm[1]))
    pocket = _room_for(blank, wish.clearance, tolerances)
    _, low, _, _ = pocket.bounds
    width = _finger(draft.solid.bounds[2] - draft.solid.bounds[0], wish)
    deeper = min(fixture.depth_mm + _FINGER_DEEPER_MM, wish.thickness - _LEAST_FLOOR_MM)
    pockets: list[Pocket] = []
    for row in range(fixture.rows):
        for column in range(fixture.columns):
            x = fixture.first_mm[0] + column * fixture.pitch_mm[0]
            y = fixture.first_mm[1] + row * fixture.pitch_mm[1]
            pockets.append(Pocket(normalise(translate(pocket, x, y)), fixture.depth_mm, "blank"))
            if width:
                disc = hole_region(x, y + low, width, tolerances.flatten_mm)
                pockets.append(Pocket(normalise(disc), deeper, "finger"))
    return Part(
        name=fixture.board,
        layer=fixture.board,
        outline=box(0.0, 0.0, *fixture.size_mm),
        pockets=tuple(pockets),
        history=(
            f"holds {counted(fixture.columns * fixture.rows, 'blank')} of "
            f"{layer_words(draft.recipe.name)}",
        ),
    )


def _room_for(solid: Region, clearance_mm: float, tolerances: Tolerances) -> Region:
    """Return a pocket or opening for something, with round room for its sharp corners."""
    room = offset(solid, clearance_mm, tolerances.offset_mm)
    discs = [
        hole_region(x, y, 2 * (_RELIEF_MM + clearance_mm), tolerances.flatten_mm)
        for x, y in _sharp_corners(solid)
    ]
    return as_region(shapely.union_all([room, *discs]))


def _sharp_corners(region: Region) -> list[tuple[float, float]]:
    """Return the corners at which a round cutter would leave no room."""
    found: list[tuple[float, float]] = []
    for ring in rings(region):
        before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        turn = np.degrees(
            np.arctan2(
                before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0],
                np.einsum("ij,ij->i", before, after),
            )
        )
        found += [(float(x), float(y)) for x, y in ring[turn > _SHARP_DEG]]
    return found


def assembly_frames(
    recipe: Recipe, drafts: list[LayerDraft], catalogue: Catalogue, tolerances: Tolerances
) -> tuple[list[Layer], list[Finding]]:
    """Return a frame for each glue-up of the stack, and what cannot be framed.

    The openings are the upper layer's parts, counters filled, `clearance` wider all round. The
    frame is flush with the lower layer where that leaves a rim, larger otherwise.

    Raises:
        UnknownName: for a material that the catalogue does not hold.

    """
    if not isinstance(recipe.align, Frame):
        return [], []
    align = recipe.align
    catalogue.material(align.material, field="recipe.align.material")
    found: list[Layer] = []
    findings: list[Finding] = []
    for lower, upper in pairwise(drafts):
        solid = as_region(shapely.MultiPolygon([Polygon(p.exterior) for p in upper.solid.geoms]))
        openings = _room_for(solid, align.clearance, tolerances)
        flush = as_region(shapely.MultiPolygon([Polygon(p.exterior) for p in lower.solid.geoms]))
        inside = shapely.buffer(flush, -_FRAME_EDGE_MM)
        if len(flush.geoms) == 1 and inside.contains(openings):
            outline: Region = flush
        else:
            outline = as_region(box(*openings.bounds).buffer(_RIM_MM, join_style="mitre"))
            findings.append(_by_eye(lower, upper))
        pieces = polygons(normalise(shapely.difference(outline, openings)))
        left, low, _, _ = outline.bounds
        name = f"{upper.recipe.name}-frame"
        whole = max(pieces, key=lambda p: p.area)
        part = Part(
            name=name,
            layer=name,
            outline=polygons(normalise(translate(whole, -left, -low)))[0],
            history=(
                f"places {layer_words(upper.recipe.name)} on {layer_words(lower.recipe.name)}",
            ),
        )
        found.append(_layer(part, align.material, align.thickness, drafts))
    return found, findings


def _by_eye(lower: LayerDraft, upper: LayerDraft) -> Finding:
    at = lower.solid.representative_point()
    return Finding(
        code="align",
        severity=Severity.CAUTION,
        layer=upper.recipe.name,
        where=Place("point", ((float(at.x), float(at.y)),)),
        why=(
            say(
                "{layer} has no rim of {frame_edge} round {layer2} for the frame to "
                "end with: the frame is larger and is lined up by eye",
                layer=layer_words(lower.recipe.name),
                frame_edge=format_mm(_FRAME_EDGE_MM),
                layer2=layer_words(upper.recipe.name),
            )
        ),
        remedies=(
            Remedy(RemedyAction.GROW_BY, say("give the lower layer a wider outline"), None, "mm"),
            Remedy(RemedyAction.ADD_MARK, say("use placement lines instead"), "placement_lines"),
        ),
    )
