"""What a drawing is, as plain JSON values: size, ink, colours, ids, and what is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from letterply.lettering.artwork.drawing import room_px
from letterply.lettering.artwork.model import PX_MM, Artwork
from letterply.lettering.artwork.setting import ink_px
from letterply.units import counted, format_sides

__all__ = ["artwork_summary", "describe_artwork", "left_out_words"]

_MOST_NAMED = 200


def describe_artwork(artwork: Artwork) -> dict[str, Any]:
    """Return what there is to know of a drawing; lengths are mm at its natural size.

    Raises:
        InputError: `artwork-empty`.
        ArtworkError: `artwork-too-complex`.

    """
    ink = ink_px(artwork)
    left, low, right, high = ink.bounds
    painted = [s for s in artwork.shapes if s.fill or s.stroke]
    colours = Counter(
        c for s in painted for c in {s.fill_colour * bool(s.fill), s.stroke_colour} if c
    )
    room = room_px(artwork)
    width, height = (right - left) * PX_MM, (high - low) * PX_MM
    pieces = len(ink.geoms)
    told = [
        {"what": n.what, "done": n.done, "count": n.count, "where": list(n.where),
         "remedy": n.remedy}
        for n in artwork.left_out
    ]  # fmt: skip
    facts = {
        "title": artwork.title,
        "page": None
        if artwork.size_px is None
        else {
            "width_mm": round(artwork.size_px[0] * PX_MM, 4),
            "height_mm": round(artwork.size_px[1] * PX_MM, 4),
        },
        "ink": {
            "width_mm": round(width, 3),
            "height_mm": round(height, 3),
            "area_mm2": round(ink.area * PX_MM * PX_MM, 3),
            "pieces": pieces,
        },
        "room": None
        if room is None
        else {
            "width_mm": round((room[2] - room[0]) * PX_MM, 3),
            "height_mm": round((room[3] - room[1]) * PX_MM, 3),
        },
        "shapes": len(painted),
        "colours": [{"colour": c, "shapes": n} for c, n in colours.most_common(_MOST_NAMED)],
        "ids": list(artwork.ids)[:_MOST_NAMED],
        "left_out": told,
    }
    return {"summary": artwork_summary(facts), **facts}


def artwork_summary(facts: Mapping[str, Any]) -> str:
    """Return what a drawing is in one sentence, in the units that are spoken.

    Args:
        facts: of `describe_artwork`.

    """
    ink = facts["ink"]
    size = f"{format_sides(ink['width_mm'], ink['height_mm'])} at its natural size"
    words = _left_out(facts["left_out"])
    return f"{counted(ink['pieces'], 'piece')}, {size}{f'; {words}' if words else ''}."


def left_out_words(artwork: Artwork) -> str:
    """Return what could not be taken as drawn in one clause, empty for nothing."""
    return _left_out([{"what": n.what, "done": n.done, "count": n.count} for n in artwork.left_out])


def _left_out(notes: Sequence[Mapping[str, Any]]) -> str:
    said = [
        f"{n['count']} × {n['what']} {n['done']}" if n["count"] > 1 else f"{n['what']} {n['done']}"
        for n in notes
    ]
    return ", ".join(said[:6]) + (" and more" if len(said) > 6 else "")
