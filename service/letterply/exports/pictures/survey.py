"""A survey as a sheet of glyphs: the weakest first, their weak spots ringed in vermillion.

A spot that is a blocker at the size that was asked about has a full ring, the spot that governs
the smallest size of a glyph that is fine there a thin one; both have a line across the ink. All
glyphs are drawn to the same scale.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from letterply.checks import Survey, SurveyRow, WeakSpot
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    caption,
    caption_within,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.exports.primitives.views import Frame
from letterply.units import about_mm

__all__ = ["survey_picture"]

_COLUMNS = 8
_MOST = 96
_CELL = 34.0
_LABEL = 8.0
_PAD = 8.0
_UNIT = 3.2
_RING = 1.9
_GLYPH_FILL = "#C9C4BA"

Points = NDArray[np.float64]


def survey_picture(survey: Survey, summary: str) -> str:
    """Return the weakest glyphs of a survey, at most 96, as SVG."""
    rows = [row for row in survey.rows if row.measures is not None][:_MOST]
    lines = max(1, -(-len(rows) // _COLUMNS))
    width = _COLUMNS * _CELL + 2 * _PAD
    said = wrapped(summary, _UNIT, width - 2 * _PAD)
    head = _PAD + 2.2 * _UNIT + 1.45 * _UNIT * len(said)
    height = head + lines * (_CELL + _LABEL) + _PAD
    title = f"{survey.font.facts.family} {survey.font.facts.style}".strip()
    found = svg_open(width, height, escaped(f"Survey of {title}"), escaped(summary))
    found.append(
        caption_within(title, 1.5 * _UNIT, _PAD, _PAD + _UNIT, width - 2 * _PAD, bold=True)
    )
    for k, line in enumerate(said):
        found.append(caption(line, _UNIT, _PAD, _PAD + (2.8 + 1.45 * k) * _UNIT, colour=QUIET))
    scale = _scale(rows)
    for k, row in enumerate(rows):
        column, line_number = k % _COLUMNS, k // _COLUMNS
        x = _PAD + column * _CELL
        y = head + line_number * (_CELL + _LABEL)
        found.extend(_cell(row, x, y, scale))
    return svg_close(found)


def _scale(rows: Iterable[SurveyRow]) -> float:
    """Return the scale at which the largest glyph fits its cell, a few huge ones left out."""
    sizes = []
    for row in rows:
        if row.measures is not None:
            left, low, right, high = row.measures.region.bounds
            sizes.append(max(right - left, high - low))
    return 0.8 * _CELL / float(np.percentile(sizes, 90)) if sizes else 1.0


def _cell(row: SurveyRow, x: float, y: float, scale: float) -> list[str]:
    measures = row.measures
    assert measures is not None  # the caller leaves unreadable ones out
    left, low, right, high = measures.region.bounds
    scale = min(scale, 0.86 * _CELL / max(right - left, high - low))
    # The middle of the glyph's box lies in the middle of the cell.
    frame = Frame(
        x + _CELL / 2 - scale * (left + right) / 2, y + _CELL / 2 + scale * (low + high) / 2
    )
    rings = [ring * scale for ring in region_rings(measures.region)]
    found = [
        f'<rect x="{number(x + 0.5, 2)}" y="{number(y, 2)}" width="{number(_CELL - 1, 2)}" '
        f'height="{number(_CELL + _LABEL - 1, 2)}" rx="1.2" fill="#FFFFFF"/>',
        f'<path d="{frame.path(rings)}" fill="{_GLYPH_FILL}" fill-rule="evenodd" '
        f'stroke="#8A8780" stroke-width="0.12"/>',
    ]
    governing = row.sizing.spot if row.sizing else None
    spots = row.spots or ((governing,) if governing else ())
    for spot in spots:
        found.extend(_mark(spot, frame, scale, blocked=bool(row.spots)))
    return [*found, *_labels(row, x, y)]


def _mark(spot: WeakSpot, frame: Frame, scale: float, *, blocked: bool) -> list[str]:
    x = spot.at[0] * scale + frame.left_mm
    y = frame.top_mm - spot.at[1] * scale
    stroke = 0.6 if blocked else 0.25
    line: list[Points] = [np.array(spot.feet) * scale]
    return [
        f'<path d="{frame.path((), line)}" stroke="{FINDING_COLOUR}" '
        f'stroke-width="{number(stroke, 2)}" stroke-linecap="round" fill="none"/>',
        f'<circle cx="{number(x, 2)}" cy="{number(y, 2)}" r="{number(_RING, 2)}" fill="none" '
        f'stroke="{FINDING_COLOUR}" stroke-width="{number(stroke, 2)}"/>',
    ]


def _labels(row: SurveyRow, x: float, y: float) -> list[str]:
    size = row.sizing.cap_height_mm if row.sizing else None
    said = "no size" if size is None else f"from {about_mm(size)}"
    room = _CELL - 3
    base = y + _CELL + 2.2
    colour = FINDING_COLOUR if row.spots else INK
    notes = [said]
    if row.islands:
        notes.append(f"{row.islands + 1} pieces")
    if row.closing:
        notes.append(f"{row.closing} closing")
    return [
        caption_within(row.name, 2.6, x + 1.8, base, room, bold=True),
        caption_within(", ".join(notes), 2.4, x + 1.8, base + 3.4, room, colour=colour),
    ]
