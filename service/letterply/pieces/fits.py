"""Fits: a ladder of recesses for a plug, or of holes for a dowel, each a step wider all round.

The first step in which it goes by hand is what later work takes. The clearance that is really
needed lies between that step and the one before. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from letterply.catalogue import Catalogue, CutterKind, Machine, Shop
from letterply.names import in_sentence
from letterply.pieces.model import Change, Piece, ReadAt, Rung, Told
from letterply.pieces.shapes import LETTERS, board, drawn, layer, recipe_of, rectangle
from letterply.pieces.uncertainty import expanded, rectangular
from letterply.requests import FitFigure, PieceRequest
from letterply.units import format_mm

__all__ = ["design_fit", "tell_fit"]

_STEPS = 7
_PLUG_MM = 20.0
_CORNER_MM = 4.0
_ROUNDER_MM = 0.5
_CUT_CORNER_MM = 7.0
_INLAY_STEP_MM, _DOWEL_STEP_MM = 0.05, 0.025
_LEAST_WEB_MM = 8.0
_DEEPEST_MM = 5.0


def design_fit(asked: PieceRequest, catalogue: Catalogue, shop: Shop) -> Piece:
    """Return the ladder, and the plug where it is not for a dowel."""
    material = catalogue.material(asked.material)
    web = max(_LEAST_WEB_MM, 1.5 * material.min_web(asked.thickness))
    size = asked.dowel or _PLUG_MM
    step = asked.step or (_DOWEL_STEP_MM if asked.dowel else _INLAY_STEP_MM)
    clearances = [round(step * n, 4) for n in range(_STEPS)]
    pitch = size + 2 * clearances[-1] + web
    width, height = _STEPS * pitch + web, size + 2 * clearances[-1] + 2 * web + 4
    places = [((n - (_STEPS - 1) / 2) * pitch, 0.0) for n in range(_STEPS)]
    steps = list(zip(clearances, places, strict=True))
    into = in_sentence(material.name)
    plugs: list[dict[str, Any]] = []
    if asked.dowel:
        what = f"dowels of {format_mm(asked.dowel)} in {into}"
        features = [
            {
                "kind": "holes",
                "diameter": round(size + 2 * c, 4),
                "at": [[round(x + width / 2, 4), round(height / 2, 4)]],
            }
            for c, (x, _) in steps
        ]
    else:
        of = asked.of or asked.material
        what = f"{in_sentence(catalogue.material(of).name)} in {into}"
        plate = {"kind": "plate", "shape": "rounded", "width": size, "height": size}
        thickness = asked.of_thickness or asked.thickness
        corner = _corner(asked, shop)
        plugs = [layer("plug", of, thickness, {**plate, "corner": corner})]
        features = _recesses(steps, min(asked.thickness, thickness) / 2, corner, shop.machine)
    outline = {"kind": "artwork", "artwork": board(width, height, _CUT_CORNER_MM)}
    title = f"Test piece: fit of {what}"
    ladder = layer("ladder", asked.material, asked.thickness, outline, *features)
    rungs = tuple(Rung(LETTERS[n], clearances[n], "ladder", places[n]) for n in range(_STEPS))
    name = "dowel" if asked.dowel else "plug"
    first = (places[0], places[-1])
    read = ReadAt(
        "fits", f"the first step into which the {name} goes by hand", "ladder", first,
        choices=tuple(r.letter for r in rungs),
    )  # fmt: skip
    said = (
        "Measure the cutter first (test piece for its diameter): what is wrong there shows here.",
        "The corner that is cut off lies at step A, the closest. Write the letters on the board.",
        f"Take off burrs. Try the {name} from A on: do not force it, and do not sand it.",
        f"Name the first step into which the {name} goes with the push of a thumb. If not even "
        "G takes it, name none, and cut the piece again with a wider step.",
    )
    panels = (("ladder",), ("plug",)) if plugs else (("ladder",),)
    return Piece(
        "fit", title, f"clearance of {what}", recipe_of(title, ladder, *plugs),
        (asked.cutter,) if asked.cutter else (), (read,), said, panels, rungs, {"step_mm": step},
    )  # fmt: skip


def _corner(asked: PieceRequest, shop: Shop) -> float:
    """Return how round the plug's corners are: as far as the cutter gets into those of recesses."""
    flat = [c for c in shop.cutters if c.kind is CutterKind.FLAT and asked.cutter in (None, c.key)]
    return max(_CORNER_MM, min((c.radius_mm for c in flat), default=0.0) + _ROUNDER_MM)


def _recesses(
    steps: Sequence[tuple[float, tuple[float, float]]],
    depth_mm: float,
    corner_mm: float,
    machine: Machine,
) -> list[dict[str, Any]]:
    """Return what the plug goes into; a beam cuts it through."""
    depth = round(min(depth_mm, _DEEPEST_MM), 2)
    work, sunk = ("through", {}) if machine.kind == "beam" else ("recess", {"depth": depth})
    return [
        drawn(rectangle(_PLUG_MM + 2 * c, _PLUG_MM + 2 * c, corner_mm + c), work, at, **sunk)
        for c, at in steps
    ]


def tell_fit(
    piece: Piece, readings: Mapping[str, str], asked: PieceRequest, old_mm: float | None, on: str
) -> Told:
    """Return the clearance of the step that fits; what is needed lies within one step of it."""
    named = next(r for r in piece.rungs if r.letter == readings["fits"])
    u = expanded(rectangular(piece.nominal["step_mm"]))
    into = asked.material
    kind = {"kind": "dowel", "diameter": asked.dowel} if asked.dowel else {
        "kind": "inlay", "of": asked.of or into,
    }  # fmt: skip
    fit = FitFigure.model_validate(
        {**kind, "into": into, "clearance": named.value, "uncertainty": round(u, 4),
         "measured_on": on}
    )  # fmt: skip
    remarks = []
    if named is piece.rungs[0]:
        remarks.append("it goes into the closest step already: a closer fit may do as well")
    change = Change(piece.subject, "clearance_mm", old_mm, named.value, round(u, 4))
    return Told((change,), tuple(remarks), fit=fit)
