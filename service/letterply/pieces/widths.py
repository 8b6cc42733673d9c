"""Angle and tip of a V-bit, lines of a drag point: how wide a cut is at depths that are known.

A cone with a flat of t at its tip and the included angle a cuts, z deep, w = t + 2 z tan(a/2) wide
at the face (plane geometry). A straight line through the measured widths tells both: its slope the
angle, where it meets z = 0 the tip. Lengths mm, angles degrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from letterply.catalogue import Cutter
from letterply.errors import InputError
from letterply.pieces.model import Change, Piece, ReadAt, Rung, Told
from letterply.pieces.shapes import LETTERS, drawn, layer, recipe_of, rectangle, scrap
from letterply.pieces.uncertainty import combined, expanded, of_one_instrument, rectangular
from letterply.requests import SCRIBED_MM, PieceRequest
from letterply.units import format_exact, format_mm

__all__ = ["design_grooves", "design_lines", "fitted_cone", "tell_widths"]

_GROOVES = 6
_DEEPEST_MM = 4.0
_LENGTH_MM = 30.0
_GAP_MM = 8.0
_EDGE_MM = 12.0
_LEAST_READ = 3
_TOO_VAGUE = 0.15
"""Share of the angle by which it may be uncertain; common practice, no source."""
_SHARPER_MM = 0.2
"""What a z that was zeroed too high may make of a tip beyond nought; common practice, no source."""

_LINES_MM = (0.05, 0.1, 0.15, 0.2, 0.3)


def design_grooves(asked: PieceRequest, cutter: Cutter) -> Piece:
    """Return grooves of computed width in a piece of scrap."""
    tan = cutter.half_angle_tan
    tip = cutter.tip_diameter_mm
    widest = (0.9 * cutter.diameter_mm - tip) / (2 * tan)
    deepest = min(0.6 * asked.thickness, 0.8 * cutter.cutting_length_mm, widest, _DEEPEST_MM)
    depths = [round(deepest * (n + 2) / (_GROOVES + 1), 3) for n in range(_GROOVES)]
    widths = [round(tip + 2 * z * tan, 4) for z in depths]
    pitches = [w + _GAP_MM for w in widths]
    wide = sum(pitches) - _GAP_MM
    lefts = [sum(pitches[:n]) - wide / 2 for n in range(_GROOVES)]
    places = [(left + w / 2, 0.0) for left, w in zip(lefts, widths, strict=True)]
    features = [
        drawn(rectangle(w, _LENGTH_MM), "groove", at, angle=cutter.included_angle_deg)
        for w, at in zip(widths, places, strict=True)
    ]
    title = f"Test piece: angle and tip of the {cutter.name}"
    outline = scrap(wide + 2 * _EDGE_MM, _LENGTH_MM + 2 * _EDGE_MM)
    recipe = recipe_of(title, layer("grooves", asked.material, asked.thickness, outline, *features))
    steps = (
        "Clamp a flat piece of scrap of this size or larger and put a cross on the lower left "
        "corner. Zero as the first lines of the program say: z with care, for it is what the tip "
        "is told from.",
        "Cut it, and brush the grooves out. Do not sand the face.",
        "Measure each groove across, at the face, in the middle of its length: with the tips of "
        "the inside jaws, or with a loupe with a scale.",
        "Three of them will do; all six are better. The widest tell most.",
    )
    rungs, reads = _ladder("groove", depths, widths, places)
    subject = f"angle and tip of the {cutter.name}"
    return Piece(
        "angle", title, subject, recipe, (cutter.key,), reads, steps, (("grooves",),), rungs,
        _figures_of(cutter),
    )  # fmt: skip


def design_lines(asked: PieceRequest, cutter: Cutter) -> Piece:
    """Return lines at known depths in a piece of scrap."""
    deep = [z for z in _LINES_MM if z <= min(cutter.cutting_length_mm, asked.thickness / 2)]
    tan, tip = cutter.half_angle_tan, cutter.tip_diameter_mm
    widths = [round(tip + 2 * z * tan, 4) for z in deep]
    pitch = _GAP_MM + 4.0
    places = [((n - (len(deep) - 1) / 2) * pitch, 0.0) for n in range(len(deep))]
    features = [
        drawn(rectangle(4.0, _LENGTH_MM), "scribe", at, depth=z, style="outline")
        for z, at in zip(deep, places, strict=True)
    ]
    title = f"Test piece: lines of the {cutter.name}"
    outline = scrap(pitch * len(deep) + 2 * _EDGE_MM, _LENGTH_MM + 2 * _EDGE_MM)
    recipe = recipe_of(title, layer("lines", asked.material, asked.thickness, outline, *features))
    steps = (
        "Clamp a flat piece of scrap of this size or larger and put a cross on the lower left "
        "corner. Zero as the first lines of the program say, z with care.",
        "Draw the lines with the spindle off, and brush them out.",
        "Measure how wide the long lines of each oblong are, with a loupe with a scale or a small "
        "microscope; enter the step of its scale as the resolution.",
        "Three of them will do; all are better.",
    )
    # Read at the right long line of the oblong.
    at = [(x + 2.0, y) for x, y in places]
    rungs, reads = _ladder("line", deep, widths, at)
    subject = f"width of lines of the {cutter.name}"
    return Piece(
        "line", title, subject, recipe, (cutter.key,), reads, steps, (("lines",),), rungs,
        _figures_of(cutter),
    )  # fmt: skip


def _ladder(
    what: str,
    depths: Sequence[float],
    widths: Sequence[float],
    places: Sequence[tuple[float, float]],
) -> tuple[tuple[Rung, ...], tuple[ReadAt, ...]]:
    """Return steps and fields of cuts of these depths and widths, on the layer `what`s."""
    on = f"{what}s"
    rungs = tuple(
        Rung(LETTERS[n], z, on, at) for n, (z, at) in enumerate(zip(depths, places, strict=True))
    )
    reads = tuple(
        ReadAt(
            f"width_{r.letter.lower()}",
            f"width of {what} {r.letter}, drawn {format_exact(w)} wide and {format_exact(r.value)} "
            "deep",
            on,
            ((r.at[0] - w / 2, 0.0), (r.at[0] + w / 2, 0.0)),
            0.4 * w - 0.1,
            1.8 * w + 0.3,
            needed=False,
        )
        for r, w in zip(rungs, widths, strict=True)
    )
    return rungs, reads


def _figures_of(cutter: Cutter) -> dict[str, float]:
    names = ("included_angle_deg", "tip_diameter_mm", "diameter_mm")
    return {name: getattr(cutter, name) for name in names}


def fitted_cone(
    depths: Sequence[float], widths: Sequence[float], resolution: float, zero: float
) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Return angle and tip by least squares, each with its expanded uncertainty.

    A depth that is off by d everywhere moves the tip by the slope times d, and leaves the angle.

    Returns:
        angle in degrees and its uncertainty, tip in mm and its uncertainty, and how far the widths
        stray from the line at most, mm.

    """
    count = len(depths)
    mean_z, mean_w = sum(depths) / count, sum(widths) / count
    spread = sum((z - mean_z) ** 2 for z in depths)
    by_slope = [(z - mean_z) / spread for z in depths]
    slope = sum(c * w for c, w in zip(by_slope, widths, strict=True))
    by_tip = [1 / count - mean_z * c for c in by_slope]
    tip = mean_w - slope * mean_z
    strays = [w - tip - slope * z for z, w in zip(depths, widths, strict=True)]
    sigma = math.sqrt(sum(s * s for s in strays) / (count - 2)) if count > 2 else 0.0
    # d(2 atan(s/2))/ds = 1 / (1 + s²/4)
    per_slope = math.degrees(1 / (1 + slope * slope / 4))
    u_angle = per_slope * combined(
        of_one_instrument(by_slope, resolution), sigma / math.sqrt(spread)
    )
    u_tip = combined(
        of_one_instrument(by_tip, resolution),
        sigma * math.sqrt(1 / count + mean_z**2 / spread),
        slope * rectangular(zero),
    )
    angle = math.degrees(2 * math.atan(slope / 2))
    return (angle, expanded(u_angle)), (tip, expanded(u_tip)), max(map(abs, strays))


def tell_widths(
    piece: Piece, readings: Mapping[str, float], resolution: float, zero: float
) -> Told:
    """Return angle and tip of a V-bit or drag point.

    Raises:
        InputError: `out-of-range`, widths that no cone cuts; `missing-field`, too few of them.

    """
    read = [(r.value, readings[f.name]) for r, f in zip(piece.rungs, piece.reads, strict=True)
            if f.name in readings]  # fmt: skip
    if len(read) < _LEAST_READ:
        raise InputError(
            f"{len(read)} of the widths are there: they tell no angle.",
            code="missing-field",
            field="readings",
            expected=f"{_LEAST_READ} widths or more, as {piece.reads[-1].name}",
        )
    depths, widths = [z for z, _ in read], [w for _, w in read]
    (angle, u_angle), (tip, u_tip), stray = fitted_cone(depths, widths, resolution, zero)
    was = piece.nominal["included_angle_deg"]
    _require_cone(was, (angle, u_angle), (tip, u_tip))
    remarks = []
    if tip < 0:
        remarks.append(
            "the line meets the face before z is nought: z was zeroed a little high. The tip is "
            "taken as sharp"
        )
        u_tip, tip = max(u_tip, -tip), 0.0
    if stray > max(2 * resolution, 0.05):
        remarks.append(
            f"one width lies {format_exact(stray)} off the line of the others: measure it again; "
            "the scrap may not be flat"
        )
    figures = {"included_angle_deg": round(angle, 3), "tip_diameter_mm": round(tip, 4)}
    if piece.kind == "line":
        slope = 2 * math.tan(math.radians(angle / 2))
        widest = max(piece.nominal["diameter_mm"], tip + slope * max(depths))
        figures["diameter_mm"] = round(widest, 4)
        remarks.append(
            f"a line {format_mm(SCRIBED_MM)} deep is {format_exact(tip + slope * SCRIBED_MM)} wide"
        )
    spread = {"included_angle_deg": round(u_angle, 3), "tip_diameter_mm": round(u_tip, 4)}
    changes = tuple(
        Change(piece.subject, name, piece.nominal[name], figures[name], u)
        for name, u in spread.items()
    )
    return Told(changes, tuple(remarks), figures)


def _require_cone(was: float, told: tuple[float, float], tip: tuple[float, float]) -> None:
    """Refuse widths that no cone cuts, or that tell nothing of it.

    Args:
        was: angle by which the cutter was sold.
        told: angle and its uncertainty.
        tip: its flat and the uncertainty of that.

    Raises:
        InputError: `out-of-range`.

    """
    angle, u_angle = told
    if u_angle > _TOO_VAGUE * was:
        raise InputError(
            f"These widths tell the angle only to ± {u_angle:.0f}°: one of them is out of line "
            "with the others, or all are of grooves that are nearly alike.",
            code="out-of-range",
            field="readings",
            expected="widths read again, the narrowest and the widest among them",
        )
    if not 0.5 * was <= angle <= min(1.5 * was, 175.0) or -tip[0] > tip[1] + _SHARPER_MM:
        raise InputError(
            f"These widths would be those of a cone of {angle:.1f}° with a tip of "
            f"{format_exact(tip[0])}.",
            code="out-of-range",
            field="readings",
            expected=f"widths near those that were drawn, for a cone of {was:g}°; was z zeroed at "
            "the face, and each width typed in its own field?",
        )
