"""Feeds that work: the same slot again and again, each time faster, a program each.

Every program is to be looked at before the next one is run, so each is short and stands alone. No
step asks more of the cutter than the proof allows without a maker's own figures. Feeds mm/min.

    chip load   fz = F / (n z)   mm, F mm/min, n rev/min, z flutes

Source of the formula: Machinery's Handbook, speeds and feeds.
"""

from __future__ import annotations

from collections.abc import Mapping

from letterply.catalogue import Cutter, Machine, Material, pass_depth
from letterply.cutting import choose_feeds, feed_rate
from letterply.names import in_sentence
from letterply.pieces.model import Change, Piece, ReadAt, Rung, Told
from letterply.pieces.shapes import LETTERS, drawn, layer, recipe_of, rectangle, scrap
from letterply.pieces.uncertainty import expanded, rectangular
from letterply.requests import OwnFeeds, PieceRequest

__all__ = ["design_feeds", "feeds_of", "tell_feeds"]

_REFERENCE_MM = 6.0
"""Diameter that chip loads of materials are told for."""

_SHARES = (0.6, 0.75, 0.9, 1.05, 1.2, 1.35)
"""Of the usual feed; the proof refuses what lies half above the thickest usual chip."""

_SLOT_MM = 60.0
_WIDER = 2.5
"""Width of a slot in diameters: its first way goes at the lower feed of slots, as in any pocket,
those beside it at the feed that is tried."""
_GAP_MM = 6.0
_EDGE_MM = 12.0


def design_feeds(
    asked: PieceRequest, cutter: Cutter, material: Material, machine: Machine
) -> Piece:
    """Return slots in a piece of scrap; each is to have a program of its own (`feeds_of`)."""
    working = cutter.diameter_mm
    depth = round(min(pass_depth(cutter, material, working), asked.thickness / 2), 2)
    usual = choose_feeds(cutter, material, machine, depth_mm=depth)
    rpm = usual.spindle_rpm
    chips = material.chip_load_mm[1] * working / _REFERENCE_MM
    most = min(feed_rate(rpm, cutter.flutes, _SHARES[-1] * chips), machine.max_feed_mm_per_min)
    feeds = sorted({_round(min(s * usual.feed_mm_per_min, most)) for s in _SHARES})
    wide = _WIDER * cutter.diameter_mm
    pitch = wide + _GAP_MM
    places = [(0.0, (n - (len(feeds) - 1) / 2) * pitch) for n in range(len(feeds))]
    title = f"Test piece: feeds of the {cutter.name} in {in_sentence(material.name)}"
    outline = scrap(_SLOT_MM + 2 * _EDGE_MM, len(feeds) * pitch + 2 * _EDGE_MM)
    slot = rectangle(_SLOT_MM, wide, wide / 2 - 0.01)
    slots = [drawn(slot, "recess", at, depth=depth) for at in places]
    recipe = recipe_of(title, layer("slots", asked.material, asked.thickness, outline, *slots))
    rungs = tuple(
        Rung(LETTERS[n], feed, "slots", at)
        for n, (feed, at) in enumerate(zip(feeds, places, strict=True))
    )
    read = ReadAt(
        "best", "the fastest slot that is clean, cool and quiet", rungs[0].layer,
        (places[0], places[-1]), choices=tuple(r.letter for r in rungs),
    )  # fmt: skip
    steps = (
        "Clamp a piece of scrap of this very material and thickness, flat, and put a cross on the "
        "lower left corner. Zero as the first lines of the programs say; it stays there for all "
        "slots.",
        "Run the programs one after the other, from A on: sheet 1 is slot A. Stay at the stop "
        "button, with extraction on.",
        "After each slot stop and look: fluffy, burnt or melted walls, chatter, a cutter too hot "
        "to touch (let it stand still first), or a sound that gets rough. Then do not run the "
        "next one.",
        "Name the fastest slot that was good in every way.",
    )
    nominal = {"feed_mm_per_min": usual.feed_mm_per_min, "spindle_rpm": rpm, "depth_mm": depth,
               "flutes": float(cutter.flutes)}  # fmt: skip
    return Piece(
        "feed", title, f"feed of the {cutter.name} in {in_sentence(material.name)}",
        recipe, (cutter.key,), (read,), steps,
        (("slots",),), rungs, nominal,
    )  # fmt: skip


def feeds_of(piece: Piece, rung: Rung) -> OwnFeeds:
    """Return with what a slot is cut."""
    return OwnFeeds.model_validate({"feed": rung.value, "spindle": piece.nominal["spindle_rpm"]})


def _round(feed: float) -> float:
    return float(10 * (feed // 10)) if feed > 100 else float(round(feed))


def tell_feeds(piece: Piece, readings: Mapping[str, str], old: float | None) -> Told:
    """Return the feed of the slot that is named; a better one lies within a step of it."""
    at = next(n for n, r in enumerate(piece.rungs) if r.letter == readings["best"])
    rung = piece.rungs[at]
    steps = [b.value - a.value for a, b in zip(piece.rungs, piece.rungs[1:], strict=False)]
    u = expanded(rectangular(max(steps) / 2)) if steps else 0.0
    was = piece.nominal["feed_mm_per_min"] if old is None else old
    change = Change(piece.subject, "feed_mm_per_min", was, rung.value, round(u, 1))
    remarks = ["it counts in this material alone, with this cutter"]
    if at == len(piece.rungs) - 1:
        remarks.append("faster than this, the proof lets no program through as it is")
    return Told((change,), tuple(remarks), feeds=feeds_of(piece, rung))
