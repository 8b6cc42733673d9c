"""Which test piece is made of what is asked for, and what its readings tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from letterply.catalogue import Catalogue, Cutter, CutterKind, Shop
from letterply.errors import Mistakes
from letterply.pieces.feeds import design_feeds, tell_feeds
from letterply.pieces.fits import design_fit, tell_fit
from letterply.pieces.flatness import design_flatness, tell_flatness
from letterply.pieces.model import Piece, Told
from letterply.pieces.readings import Instrument
from letterply.pieces.squares import design_squares, tell_squares
from letterply.pieces.widths import design_grooves, design_lines, tell_widths
from letterply.requests import PieceRequest

__all__ = ["design_piece", "shop_for", "tell_readings"]

_KINDS: Mapping[str, tuple[CutterKind, ...]] = {
    "diameter": (CutterKind.FLAT, CutterKind.BEAM),
    "fit": (CutterKind.FLAT, CutterKind.BEAM),
    "angle": (CutterKind.VBIT,),
    "feed": (CutterKind.FLAT,),
    "line": (CutterKind.DRAG,),
    "flatness": (CutterKind.FLAT,),
}
"""Kind of test piece -> kinds of cutters that it can try."""

_ONLY = {
    "fit": ("of", "of_thickness", "dowel", "step"),
    "flatness": ("width", "height"),
}
"""Kind of test piece -> fields that no other knows."""

_WORDS = {
    CutterKind.FLAT: "an end mill",
    CutterKind.BEAM: "a beam",
    CutterKind.VBIT: "a V-bit",
    CutterKind.DRAG: "a drag point",
}


def design_piece(asked: PieceRequest, shop: Shop, catalogue: Catalogue) -> Piece:
    """Return the test piece that is asked for.

    Raises:
        InputError: every mistake in its data: `missing-field`, `unknown-field`,
            `unknown-material`, `unknown-cutter`, `unknown-choice`.

    """
    mistakes = Mistakes()
    mistakes.trying(catalogue.material, asked.material, field="material")
    if asked.of is not None:
        mistakes.trying(catalogue.material, asked.of, field="of")
    cutter = _cutter(asked, shop, mistakes)
    for kind, names in _ONLY.items():
        for name in names if kind != asked.kind else ():
            if getattr(asked, name) is not None:
                told = f"'{name}' is of no use for a test piece of the kind '{asked.kind}'."
                mistakes.tell("unknown-field", told, name, f"leave it out, or the kind '{kind}'")
    if asked.dowel is not None:
        for name in ("of", "of_thickness"):
            if getattr(asked, name) is not None:
                told = "A dowel is bought: it has no sheet."
                mistakes.tell("unknown-field", told, name, "either a dowel, or a plug of a sheet")
    mistakes.raise_any()
    if asked.kind == "fit":
        return design_fit(asked, catalogue, shop)
    assert cutter is not None  # refused otherwise
    if asked.kind == "diameter":
        return design_squares(asked, cutter)
    if asked.kind == "angle":
        return design_grooves(asked, cutter)
    if asked.kind == "line":
        return design_lines(asked, cutter)
    if asked.kind == "feed":
        return design_feeds(asked, cutter, catalogue.material(asked.material), shop.machine)
    return design_flatness(asked, catalogue, cutter)


def _cutter(asked: PieceRequest, shop: Shop, mistakes: Mistakes) -> Cutter | None:
    """Return the cutter that is tried; notes one that the shop lacks or that is of another kind."""
    kinds = _KINDS[asked.kind]
    beam = shop.machine.kind == "beam"
    able = [c for c in shop.cutters if c.kind in kinds and (c.kind is CutterKind.BEAM) == beam]
    keys = ", ".join(c.key for c in able)
    if not able:
        expected = f"a shop with {' or '.join(_WORDS[k] for k in kinds)}, and the machine for it"
        told = f"Nothing of this shop can be tried with the kind '{asked.kind}'."
        mistakes.tell("unknown-choice", told, "kind", expected)
        return None
    if asked.cutter is None:
        if asked.kind not in ("fit", "flatness"):
            mistakes.tell("missing-field", "The cutter is missing.", "cutter", f"one of: {keys}")
            return None
        return max(
            (c for c in able if c.kind is CutterKind.BEAM or c.diameter_mm <= _LARGEST_MM),
            key=lambda c: (c.diameter_mm, c.key),
            default=able[0],
        )
    found = next((c for c in able if c.key == asked.cutter), None)
    if found is None:
        told = f"The shop has no {asked.cutter!r} that can be tried with the kind '{asked.kind}'."
        mistakes.tell("unknown-cutter", told, "cutter", f"one of: {keys}")
    return found


_LARGEST_MM = 6.5
"""Diameter of the largest cutter that is taken by itself."""


def shop_for(piece: Piece, shop: Shop) -> Shop:
    """Return the shop with the cutters alone that cut a test piece."""
    if not piece.cutters:
        return shop
    return replace(shop, cutters=tuple(c for c in shop.cutters if c.key in piece.cutters))


def tell_readings(
    piece: Piece,
    readings: tuple[Mapping[str, float], Mapping[str, str], Instrument],
    asked: PieceRequest,
    now: Shop,
    on: str,
) -> Told:
    """Return what readings of a test piece tell.

    Args:
        piece: that was cut.
        readings: lengths and letters by field, and with what they were read.
        asked: what was asked for.
        now: the shop that is to keep it, as it is.
        on: the date, as 2026-11-29.

    Raises:
        InputError: readings that cannot be.

    """
    lengths, letters, instrument = readings
    steps = instrument.resolution_mm
    if piece.kind == "diameter":
        return tell_squares(piece, lengths, steps)
    if piece.kind in ("angle", "line"):
        return tell_widths(piece, lengths, steps, instrument.zero_mm)
    if piece.kind == "flatness":
        thick = now.measured.thickness(asked.material, asked.thickness)
        return tell_flatness(piece, lengths, steps, asked, thick, on)
    if piece.kind == "feed":
        own = now.feeds_for(asked.material).get(piece.cutters[0])
        return tell_feeds(piece, letters, own.feed_mm_per_min if own is not None else None)
    known = (
        now.measured.dowel(asked.dowel, asked.material)
        if asked.dowel is not None
        else now.measured.inlay(asked.of or asked.material, asked.material)
    )
    return tell_fit(piece, letters, asked, known.clearance_mm if known else None, on)
