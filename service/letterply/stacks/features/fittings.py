"""Fittings and borders: slots, standoffs, keyholes and lines along the outline. All mm.

What is asked for is worked onto a layer draft; what lies outside the layer, or where lettering
lies, is an error that names the field: such a place is a mistake of the request.
"""

from __future__ import annotations

import shapely

from letterply.errors import GeometryError, InputError
from letterply.requests import At, Border, Keyholes, Slots, Standoffs, require_blind
from letterply.shapes import Region, Tolerances, as_region, normalise, offset
from letterply.stacks.draft import LayerDraft
from letterply.stacks.features.lines import outline_lines
from letterply.stacks.outlines.plates import circle_plate, keyhole_region, slot_region
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from letterply.units import format_mm, format_sides

__all__ = ["Fitting", "fit", "places_on"]

Fitting = Border | Slots | Standoffs | Keyholes


def fit(
    draft: LayerDraft, feature: Fitting, ink: Region, tolerances: Tolerances, field: str
) -> None:
    """Work a fitting or a border onto a draft.

    Raises:
        GeometryError: `hole-outside-layer`, `fitting-on-lettering`, `outline-vanishes`.
        InputError: `too-deep`, `bad-value`.

    """
    match feature:
        case Border():
            _border(draft, feature, tolerances, field)
        case Slots():
            _slots(draft, feature, tolerances, field)
        case Standoffs():
            _standoffs(draft, feature, ink, tolerances, field)
        case Keyholes():
            _keyholes(draft, feature, tolerances, field)


def places_on(region: Region, at: At, inset_mm: float) -> list[tuple[float, float]]:
    """Return the named places of a region's box, or points from its lower left."""
    left, low, right, high = region.bounds
    reach = inset_mm
    middle_x, middle_y = (left + right) / 2, (low + high) / 2
    if not isinstance(at, str):
        return [(left + x, low + y) for x, y in at]
    top = [(left + reach, high - reach), (right - reach, high - reach)]
    bottom = [(left + reach, low + reach), (right - reach, low + reach)]
    named: dict[str, list[tuple[float, float]]] = {
        "top-corners": top,
        "bottom-corners": bottom,
        "corners": top + bottom,
        "top": [(middle_x, high - reach)],
        "bottom": [(middle_x, low + reach)],
        "sides": [(left + reach, middle_y), (right - reach, middle_y)],
        "centre": [(middle_x, middle_y)],
    }
    return named[at]


def _slots(draft: LayerDraft, feature: Slots, tolerances: Tolerances, field: str) -> None:
    if feature.width > feature.length:
        raise InputError(
            "A slot is wider than long.",
            code="bad-value",
            field=f"{field}.width",
            expected=f"at most its length, {format_mm(feature.length)}",
        )
    for place in places_on(draft.solid, feature.at, feature.inset):
        slot = slot_region(
            place, feature.length, feature.width, feature.angle, tolerances.flatten_mm
        )
        _inside(draft, slot, "slot", place, field)
        draft.through = as_region(shapely.union(draft.through, normalise(slot)))


def _standoffs(
    draft: LayerDraft, feature: Standoffs, ink: Region, tolerances: Tolerances, field: str
) -> None:
    if feature.cap <= feature.bolt:
        raise InputError(
            "The cap of a standoff is no wider than its bolt.",
            code="bad-value",
            field=f"{field}.cap",
            expected=f"more than the bolt, {format_mm(feature.bolt)}",
        )
    for place in places_on(draft.solid, feature.at, feature.inset):
        cap = as_region(circle_plate(place, feature.cap, tolerances.flatten_mm))
        _inside(draft, cap, "standoff's cap", place, field)
        if shapely.intersects(cap, ink):
            raise GeometryError(
                f"The cap of a standoff at {_told(draft, place)} lies on the lettering.",
                code="fitting-on-lettering",
                field=field,
                expected="another place, a smaller cap or inset, or a wider plate",
            )
        x, y = place
        draft.holes.append(Hole(round(x, 4), round(y, 4), feature.bolt, None, "standoff"))


def _keyholes(draft: LayerDraft, feature: Keyholes, tolerances: Tolerances, field: str) -> None:
    if feature.shank >= feature.head:
        raise InputError(
            "The shank of a keyhole is no narrower than its head.",
            code="bad-value",
            field=f"{field}.shank",
            expected=f"less than the head, {format_mm(feature.head)}",
        )
    require_blind(feature.depth, draft.sheet_mm, "A keyhole", "no depth", f"{field}.depth")
    if feature.depth is not None and draft.recipe.face != "back":
        raise InputError(
            "Keyholes in the front would hang the plate with its front to the wall.",
            code="wrong-face",
            field=f"{field}.depth",
            expected='the layer cut from its back ("face": "back"), or keyholes that go through',
        )
    for place in places_on(draft.solid, feature.at, feature.inset):
        keyhole = keyhole_region(
            place, feature.head, feature.shank, feature.travel, tolerances.flatten_mm
        )
        _inside(draft, keyhole, "keyhole", place, field)
        if feature.depth is None:
            draft.through = as_region(shapely.union(draft.through, normalise(keyhole)))
        else:
            draft.pockets.append(Pocket(normalise(keyhole), feature.depth, "keyhole"))


def _border(draft: LayerDraft, feature: Border, tolerances: Tolerances, field: str) -> None:
    require_blind(feature.depth, draft.sheet_mm, "A border", "slots", f"{field}.depth")
    half = 0.0 if feature.work == "scribe" else feature.width / 2
    if half >= feature.inset:
        raise InputError(
            f"The border of {format_mm(feature.width)} reaches over the outline.",
            code="bad-value",
            field=f"{field}.inset",
            expected=f"more than half its width, {format_mm(half)}",
        )
    for number in range(feature.lines):
        inset = feature.inset + number * feature.gap
        line = _inset(draft.solid, inset + half, max(feature.corner - half, 0.0), tolerances)
        if line.is_empty:
            raise GeometryError(
                f"Line {number + 1} of the border has no space inside the outline.",
                code="outline-vanishes",
                field=field,
                expected="a smaller inset, fewer lines or a smaller gap",
            )
        if feature.work == "scribe":
            draft.scribes.append(Scribe(outline_lines(line), feature.depth, "engraving"))
            continue
        rounding = feature.corner + half if feature.corner else 0.0
        outer = _inset(draft.solid, inset - half, rounding, tolerances)
        ring = normalise(shapely.difference(outer, line))
        if feature.work == "groove":
            draft.grooves.append(Groove(ring, feature.depth, None))
        else:
            draft.pockets.append(Pocket(ring, feature.depth, "border"))


def _inset(solid: Region, inset: float, corner: float, tolerances: Tolerances) -> Region:
    """Return the outline drawn in, its corners rounded as asked; holes do not count."""
    whole = as_region(shapely.union_all([shapely.Polygon(p.exterior) for p in solid.geoms]))
    line = offset(whole, -inset - corner, tolerances.offset_mm)
    return normalise(offset(line, corner, tolerances.offset_mm))


def _inside(
    draft: LayerDraft, shape: Region, what: str, place: tuple[float, float], field: str
) -> None:
    if not draft.solid.contains(shape):
        left, low, right, high = draft.solid.bounds
        raise GeometryError(
            f"The {what} at {_told(draft, place)} lies outside its layer, wholly or in part.",
            code="hole-outside-layer",
            field=field,
            expected=f"places within {format_sides(right - left, high - low)} of material",
        )


def _told(draft: LayerDraft, place: tuple[float, float]) -> str:
    left, low, _, _ = draft.solid.bounds
    return format_sides(place[0] - left, place[1] - low, times=",")
