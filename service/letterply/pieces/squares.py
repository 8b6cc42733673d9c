"""True diameter of a cutter, kerf of a beam: a square and a window of the same size.

A cutter that is wider than the plan thinks by e takes e/2 more on every side: the square comes out
e smaller, the window e larger (plane geometry). Half the difference of both tells e; what makes
both larger or smaller alike, a scale that is a little off or a caliper that does not close at
nought, falls out. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Mapping

from letterply.catalogue import Cutter, CutterKind
from letterply.errors import InputError
from letterply.pieces.model import Change, Piece, ReadAt, Told
from letterply.pieces.shapes import drawn, layer, recipe_of, rectangle
from letterply.pieces.uncertainty import combined, expanded, of_one_instrument, scatter
from letterply.requests import PieceRequest
from letterply.shapes import DEFAULT_TOLERANCES
from letterply.units import format_exact, format_mm

__all__ = ["design_squares", "tell_squares"]

_LEAST_MM = 30.0
_FRAME_MM = 15.0
_OFF_SHARE, _OFF_MM = 0.3, 0.3
"""No cutter is so far from the diameter by which it was sold: share of it, and mm on top."""

_LEAST_SHARE = 0.3
"""Of the diameter that a cutter was sold by: no reading that makes sense tells less."""

_ALIKE_MM = 0.1
"""What makes square and window larger alike by more is worth telling; common practice, no
source."""


def design_squares(asked: PieceRequest, cutter: Cutter) -> Piece:
    """Return a square, and a frame with a window of the same size."""
    beam = cutter.kind is CutterKind.BEAM
    what = "kerf" if beam else "diameter"
    side = max(_LEAST_MM, 5.0 * round(8 * cutter.diameter_mm / 5))
    frame = side + 2 * max(_FRAME_MM, 2.5 * cutter.diameter_mm)
    title = f"Test piece: {what} of the {cutter.name}"
    stuff = asked.material, asked.thickness
    outer = {"kind": "plate", "shape": "rectangle", "width": side, "height": side}
    window = drawn(rectangle(side, side), "through", (0.0, 0.0))
    recipe = recipe_of(
        title,
        layer("frame", *stuff, {**outer, "width": frame, "height": frame}, window),
        layer("square", *stuff, outer),
    )
    off = _OFF_SHARE * cutter.diameter_mm + _OFF_MM
    half, at = side / 2, 0.15 * side
    across = ((-half, at), (half, at))
    up = ((at, -half), (at, half))

    def read(name: str, label: str, on: str, ends: tuple[tuple[float, float], ...]) -> ReadAt:
        return ReadAt(name, label, on, (ends[0], ends[1]), side - off, side + off)

    reads = (
        read("outside_x", "the square, from left to right", "square", across),
        read("outside_y", "the square, from front to back", "square", up),
        read("inside_x", "the window, from left to right", "frame", across),
        read("inside_y", "the window, from front to back", "frame", up),
    )
    tabs = "Cut the tabs, and " if not beam else ""
    steps = (
        "Cut the sheet with its own programs, once, without changing an offset.",
        f"{tabs}mark on the square which side lay along x before you take it out.",
        "Take off burrs and fluff with a fingernail or the back of a blade; do not sand the edges.",
        "Measure the square between the outside jaws, the window between the inside jaws: near the "
        "upper face, in the middle of the sides, away from corners and from where tabs were.",
        "Push the jaws lightly: soft material gives way.",
    )
    nominal = {"diameter_mm": cutter.diameter_mm, "side_mm": side, "beam": float(beam)}
    return Piece(
        "diameter", title, f"{what} of the {cutter.name}", recipe, (cutter.key,), reads, steps,
        (("square",), ("frame",)), nominal=nominal,
    )  # fmt: skip


def tell_squares(piece: Piece, readings: Mapping[str, float], resolution: float) -> Told:
    """Return the true diameter.

    Paths keep a little farther from parts than the radius, for what arcs may stray
    (`Tolerances.path_clearance_mm`): that is taken out here.

    Raises:
        InputError: `out-of-range`, readings that no cutter makes.

    """
    was, side = piece.nominal["diameter_mm"], piece.nominal["side_mm"]
    kept = 2 * DEFAULT_TOLERANCES.path_clearance_mm
    outside = [readings["outside_x"], readings["outside_y"]]
    inside = [readings["inside_x"], readings["inside_y"]]
    smaller = [side + kept - r for r in outside]
    larger = [r - (side - kept) for r in inside]
    wider = (sum(smaller) / 2 + sum(larger) / 2) / 2
    u = combined(
        of_one_instrument([0.25] * 4, resolution), scatter(outside) / 2, scatter(inside) / 2
    )
    alike = (sum(larger) / 2 - sum(smaller) / 2) / 2
    remarks = []
    if abs(alike) > max(_ALIKE_MM, resolution):
        more = "larger" if alike > 0 else "smaller"
        remarks.append(
            f"square and window are both {format_exact(abs(alike))} {more} than drawn: that is not "
            "the cutter. Look at the steps a unit of your machine, and whether the caliper closes "
            "at nought"
        )
    for name, pair in (("square", outside), ("window", inside)):
        apart = abs(pair[0] - pair[1])
        if apart > max(_ALIKE_MM, 2 * resolution):
            remarks.append(
                f"the {name} differs by {format_exact(apart)} between x and y: look for play in "
                "the screws or belts, and for a sheet that moved"
            )
    new = was + wider
    if new < _LEAST_SHARE * was:
        what = "kerf" if piece.nominal["beam"] else "cutter"
        raise InputError(
            f"These readings would be those of a {what} of {format_exact(new)}.",
            code="out-of-range",
            field="readings",
            expected=f"those of about {format_exact(was)}: were square and window mixed up?",
        )
    change = Change(piece.subject, "diameter_mm", was, round(new, 4), round(expanded(u), 4))
    if abs(wider) > 0.1 * was:
        why = (
            "look at the focus, and whether the power is that of your usual cut"
            if piece.nominal["beam"]
            else "look whether the right cutter is in the collet, and runs true"
        )
        remarks.append(f"that is far from {format_mm(was)}: {why}")
    return Told((change,), tuple(remarks), {"diameter_mm": round(new, 4)})
