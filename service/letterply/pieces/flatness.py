"""Flatness and thickness of a sheet: nine shallow pockets, all to one depth of the machine.

Where the face lies higher the pocket is deeper: its depth, read with the rod of a caliper, tells
how the face lies below the spindle there, bed and spoil board included. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Mapping

from letterply.catalogue import Catalogue, Cutter
from letterply.errors import InputError
from letterply.names import in_sentence
from letterply.pieces.model import Change, Piece, ReadAt, Told
from letterply.pieces.shapes import layer, recipe_of, scrap
from letterply.pieces.uncertainty import combined, expanded, of_one_instrument, scatter
from letterply.requests import PieceRequest, TrueThickness
from letterply.units import format_exact, format_mm

__all__ = ["design_flatness", "tell_flatness"]

_DEPTH_MM = 0.8
_EDGE_MM = 14.0
_LEAST_MM = 8.0
_OFF_MM = 0.7
_LEAST_THICKNESSES = 3
_MIDDLE = 5
_USUAL_MM = (200.0, 150.0)


def design_flatness(asked: PieceRequest, catalogue: Catalogue, cutter: Cutter) -> Piece:
    """Return nine pockets on a sheet of this size."""
    width, height = asked.width or _USUAL_MM[0], asked.height or _USUAL_MM[1]
    depth = round(min(_DEPTH_MM, asked.thickness / 3), 2)
    wide = max(_LEAST_MM, 1.6 * cutter.diameter_mm)
    xs = [-(width / 2 - _EDGE_MM), 0.0, width / 2 - _EDGE_MM]
    ys = [height / 2 - _EDGE_MM, 0.0, -(height / 2 - _EDGE_MM)]
    places = [(x, y) for y in ys for x in xs]
    holes = {
        "kind": "holes",
        "diameter": wide,
        "depth": depth,
        "at": [[round(x + width / 2, 4), round(y + height / 2, 4)] for x, y in places],
    }
    sheet = f"{format_mm(asked.thickness)} {in_sentence(catalogue.material(asked.material).name)}"
    title = f"Test piece: flatness and thickness of {sheet}"
    outline = scrap(width, height)
    recipe = recipe_of(title, layer("sheet", asked.material, asked.thickness, outline, holes))
    off = min(_OFF_MM, 0.9 * depth)
    deep = tuple(
        ReadAt(f"depth_{n}", f"depth of pocket {n}", "sheet", (at, at), depth - off, depth + off)
        for n, at in enumerate(places, start=1)
    )
    low, high = 0.75 * asked.thickness, 1.25 * asked.thickness
    edge = [_at_edge(at, width, height) for at in places]
    thick = tuple(
        ReadAt(f"thickness_{n}", f"thickness at the edge beside pocket {n}", "sheet", (at, at),
               low, high, needed=False)
        for n, at in enumerate(edge, start=1) if n != _MIDDLE
    )  # fmt: skip
    steps = (
        f"Lay the sheet as you always do ({format_mm(width)} x {format_mm(height)}, held as for "
        "work). Zero as the first lines of the program say, z beside pocket 5.",
        "Cut the nine pockets. They are shallow: use a sheet whose face may have "
        "them, or its back.",
        "Clean them out, and read the depth of each with the rod of the caliper, its foot flat on "
        "the face.",
        "Measure the thickness between the outside jaws at the edge beside the outer pockets, at "
        f"{_LEAST_THICKNESSES} places or more.",
    )
    return Piece(
        "flatness", title, f"flatness and thickness of {sheet}", recipe, (cutter.key,),
        (*deep, *thick), steps, (("sheet",),),
        nominal={"depth_mm": depth, "thickness_mm": asked.thickness},
    )  # fmt: skip


def _at_edge(at: tuple[float, float], width: float, height: float) -> tuple[float, float]:
    x, y = at
    if y:
        return x, (height / 2 if y > 0 else -height / 2)
    return (width / 2 if x > 0 else -width / 2), y


def tell_flatness(
    piece: Piece,
    readings: Mapping[str, float],
    resolution: float,
    asked: PieceRequest,
    old: TrueThickness | None,
    on: str,
) -> Told:
    """Return thickness and flatness.

    Raises:
        InputError: `missing-field`, too few places of the thickness.

    """
    thick = [readings[r.name] for r in piece.reads[9:] if r.name in readings]
    if len(thick) < _LEAST_THICKNESSES:
        raise InputError(
            f"The thickness was read at {len(thick)} places.",
            code="missing-field",
            field="readings",
            expected=f"{_LEAST_THICKNESSES} places or more, as thickness_1",
        )
    heights = [readings[r.name] - piece.nominal["depth_mm"] for r in piece.reads[:9]]
    flat = max(heights) - min(heights)
    mean = sum(thick) / len(thick)
    u_thick = combined(of_one_instrument([1.0], resolution), scatter(thick))
    u_flat = of_one_instrument([1.0, -1.0], resolution)
    figure = TrueThickness.model_validate(
        {
            "material": asked.material,
            "thickness": asked.thickness,
            "measured": round(mean, 4),
            "flatness": round(flat, 4),
            "uncertainty": round(expanded(u_thick), 4),
            "measured_on": on,
        }
    )
    high = 1 + heights.index(max(heights))
    low = 1 + heights.index(min(heights))
    remarks = [f"the face is highest at {high} and lowest at {low}"]
    if max(thick) - min(thick) > 0.3 * flat + resolution:
        remarks.append(
            f"the sheet itself is thicker at one place than at another, by "
            f"{format_exact(max(thick) - min(thick))}"
        )
    was = old.measured_mm if old is not None else asked.thickness
    changes = (
        Change(piece.subject, "thickness_mm", was, figure.measured_mm, figure.uncertainty_mm),
        Change(piece.subject, "flatness_mm", old.flatness_mm if old is not None else None,
               figure.flatness_mm, round(expanded(u_flat), 4)),
    )  # fmt: skip
    return Told(changes, tuple(remarks), thickness=figure)
