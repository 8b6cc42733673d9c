"""Blanks: ready-made pieces that are worked and not cut, and lettering that fits on them.

Terms: the *safe area* of a blank is what lies `safe_margin` inside its edge and away from its
hole: all work stays in it. All mm; a blank by itself lies with the middle of its box at the
origin.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.affinity import translate

from letterply.errors import GeometryError, InputError
from letterply.lettering import Lettering
from letterply.requests import (
    BlankOutline,
    LayerRecipe,
    LetteringOutline,
    LetteringRecipe,
    Recipe,
    SizeSpec,
)
from letterply.shapes import EMPTY, Region, Tolerances, as_region, normalise, offset
from letterply.stacks.outlines.kinds import hole_place, plate_of_size
from letterply.stacks.outlines.plates import hole_region
from letterply.units import format_sides

__all__ = ["blank_region", "fitted_to_blanks", "place_blank", "safe_area"]

SetLettering = Callable[[LetteringRecipe, str], Lettering]
_Floats = NDArray[np.float64]

_STEPS = 12
"""Places tried for lettering on a blank: this many either way of the middle, each way."""

_ROUNDS = 12
_SPECK_MM2 = 0.01
_TRIAL_EM_MM = 10.0
_KEPT = 1e-4
"""Share of the size that is given up so that rounding does not put lettering over the edge."""


def blank_region(outline: BlankOutline, tolerances: Tolerances) -> Region:
    """Return the blank with its hole, its middle at the origin."""
    plate = as_region(plate_of_size(outline, tolerances))
    hole = _hole(outline, plate, 0.0, tolerances)
    return normalise(plate if hole is None else shapely.difference(plate, hole))


def safe_area(outline: BlankOutline, tolerances: Tolerances) -> Region:
    """Return where the blank may be worked; empty when its margins meet."""
    plate = as_region(plate_of_size(outline, tolerances))
    inner = offset(plate, -outline.safe_margin, tolerances.offset_mm)
    hole = _hole(outline, plate, outline.safe_margin, tolerances)
    safe = as_region(inner if hole is None else shapely.difference(inner, hole))
    return safe if safe.area > _SPECK_MM2 else EMPTY


def _hole(
    outline: BlankOutline, plate: Region, grow_mm: float, tolerances: Tolerances
) -> Region | None:
    if outline.hole is None:
        return None
    x, y = hole_place(plate, outline.shape, outline.hole.inset, outline.hole.diameter)
    return hole_region(x, y, outline.hole.diameter + 2 * grow_mm, tolerances.flatten_mm)


def place_blank(
    outline: BlankOutline, ink: Region, tolerances: Tolerances, *, field: str
) -> tuple[float, float]:
    """Return where the middle of the blank goes so that the ink lies in its safe area.

    As near to the middle of the ink as that allows.

    Raises:
        GeometryError: `blank-too-small` when the ink fits nowhere.

    """
    left, low, right, high = ink.bounds
    middle = (left + right) / 2, (low + high) / 2
    safe = safe_area(outline, tolerances)
    hulls = translate(_hulls(ink), -middle[0], -middle[1])
    around = shapely.buffer(safe, tolerances.offset_mm)
    shapely.prepare(around)
    for x, y in _places(safe):
        if around.covers(translate(hulls, x, y)):
            return middle[0] - x, middle[1] - y
    raise GeometryError(
        f"What lies on the blank ({format_sides(right - left, high - low)}) does not fit into "
        f"its safe area.",
        code="blank-too-small",
        field=field,
        expected="smaller lettering, size fit_blank, or a smaller safe_margin",
        data={"needed_width_mm": round(right - left, 3), "needed_height_mm": round(high - low, 3)},
    )


def _places(safe: Region) -> list[tuple[float, float]]:
    """Return places for the middle of the ink, from that of the blank outwards."""
    if safe.is_empty:
        return []
    left, low, right, high = safe.bounds
    share = np.arange(-_STEPS, _STEPS + 1) / (3 * _STEPS)
    x, y = (v.ravel() for v in np.meshgrid(share * (right - left), share * (high - low)))
    order = np.lexsort((x, y, np.round(np.hypot(x, y), 6)))
    return list(zip(x[order].tolist(), y[order].tolist(), strict=True))


def _hulls(ink: Region) -> MultiPolygon:
    """Return the hulls of the pieces of the ink: quick to hold against an area."""
    pieces = [shapely.convex_hull(p) for p in ink.geoms]
    return MultiPolygon([p for p in pieces if isinstance(p, Polygon)])


def fitted_to_blanks(recipe: Recipe, set_own: SetLettering, tolerances: Tolerances) -> Recipe:
    """Return the recipe with every size `fit_blank` worked out.

    The recipe's own lettering is fitted to its lowest blank, and stays as far inside as layers
    on the blank grow; lettering of a feature is fitted to the blank that it is on.

    Raises:
        InputError: `no-blank` when there is none.
        GeometryError: `blank-too-small` when no size fits.

    """
    layers = list(recipe.layers)
    for number, layer in enumerate(layers):
        features = list(layer.features)
        for at, feature in enumerate(features):
            own = getattr(feature, "lettering", None)
            if own is not None and own.size.fit_blank:
                field = f"recipe.layers.{number}.features.{at}.lettering"
                fitted = _fitted(own, layer, 0.0, set_own, tolerances, field)
                features[at] = feature.model_copy(update={"lettering": fitted})
        if features != layer.features:
            layers[number] = layer.model_copy(update={"features": features})
        outline = layer.outline
        if isinstance(outline, LetteringOutline) and outline.lettering is not None:
            _refuse(outline.lettering, f"recipe.layers.{number}.outline.lettering")
    update: dict[str, object] = {"layers": layers}
    if recipe.lettering is not None and recipe.lettering.size.fit_blank:
        lowest = next((k for k, la in enumerate(layers) if _is_blank(la)), None)
        if lowest is None:
            _refuse(recipe.lettering, "recipe.lettering")
        else:
            grown = [
                la.outline.grow
                for la in layers[lowest + 1 :]
                if isinstance(la.outline, LetteringOutline)
            ]
            update["lettering"] = _fitted(
                recipe.lettering,
                layers[lowest],
                max([0.0, *grown]),
                set_own,
                tolerances,
                "recipe.lettering",
            )
    return recipe.model_copy(update=update)


def _is_blank(layer: LayerRecipe) -> bool:
    return isinstance(layer.outline, BlankOutline)


def _refuse(lettering: LetteringRecipe, field: str) -> None:
    if lettering.size.fit_blank:
        raise InputError(
            "There is no blank that the lettering could be fitted to.",
            code="no-blank",
            field=f"{field}.size.fit_blank",
            expected="an outline of the kind blank, or another size",
        )


def _fitted(
    lettering: LetteringRecipe,
    layer: LayerRecipe,
    inset_mm: float,
    set_own: SetLettering,
    tolerances: Tolerances,
    field: str,
) -> LetteringRecipe:
    if not isinstance(layer.outline, BlankOutline):
        _refuse(lettering, field)
        raise AssertionError("a size that fits a blank was refused")
    safe = offset(safe_area(layer.outline, tolerances), -inset_mm, tolerances.offset_mm)
    em, good = _TRIAL_EM_MM, 0.0
    # Without tracking one step is exact; with it, or along an arc, a few come near enough.
    for _ in range(_ROUNDS):
        sized = lettering.model_copy(update={"size": SizeSpec(em=em)})
        scale = _largest_scale(set_own(sized, field).region, safe)
        if scale >= 1:
            good = max(good, em)
            if scale < 1 + 5 * _KEPT:
                break
        # What does not fit shrinks a little more than it seems to need.
        em *= scale * (1 - _KEPT if scale >= 1 or not good else 1 - 20 * _KEPT)
        if em <= 0:
            break
    if not good:
        raise GeometryError(
            "No size of this lettering fits into the safe area of the blank.",
            code="blank-too-small",
            field=f"{field}.size.fit_blank",
            expected="a larger blank or a smaller safe_margin",
        )
    return lettering.model_copy(update={"size": SizeSpec(em=good)})


def _largest_scale(ink: Region, safe: Region) -> float:
    """Return the largest scale about the middle at which the ink has a place in the area."""
    left, low, right, high = ink.bounds
    hulls = translate(_hulls(ink), -(left + right) / 2, -(low + high) / 2)
    if safe.is_empty or hulls.is_empty:
        return 0.0
    shapely.prepare(safe)
    best = 0.0

    def fits(scale: float, place: tuple[float, float]) -> bool:
        moved = shapely.transform(hulls, lambda c: c * scale + place)
        return bool(safe.covers(moved))

    for place in _places(safe):
        if not fits(best * (1 + _KEPT) if best else 1e-3, place):
            continue
        below = best or 1e-3
        above = 2 * below
        while fits(above, place):
            below, above = above, 2 * above
        while above - below > _KEPT / 4 * below:
            middle = (below + above) / 2
            below, above = (middle, above) if fits(middle, place) else (below, middle)
        best = below
    return best
