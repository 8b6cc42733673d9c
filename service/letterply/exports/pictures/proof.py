"""What the programs leave of a sheet, seen from above: depth as colour, faults in vermillion.

The relief is the height field of the proof, not a drawing of the plan: what is shown is what an
independent reading of the program carves.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.pictures.findings import badge, spread
from letterply.exports.pictures.kept_clear import draw_places
from letterply.exports.pictures.part_labels import draw_labels, place_labels
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    bar_length,
    bar_words,
    caption,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width, wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR, rgb
from letterply.exports.primitives.raster import (
    depth_colours,
    encode_png,
    grown,
    reduced,
    relief_pixels,
    shrunk,
)
from letterply.exports.primitives.views import Frame
from letterply.proof import Fault, HeightField, SheetProof
from letterply.shapes import WHOLE
from letterply.sheets import Sheet
from letterply.units import format_mm

__all__ = ["proof_svg"]

Box = tuple[float, float, float, float]

_MAX_PX = 1600
_ROOM_MM = 8.0
_TOLERANCE_MM = 0.05
_MAX_LISTED = 12


def proof_svg(proof: SheetProof, sheet: Sheet, *, size_px: int = _MAX_PX) -> str:
    """Return the picture of a proof as SVG, the relief embedded as PNG."""
    return _drawn(proof, sheet, size_px)[0]


def _drawn(proof: SheetProof, sheet: Sheet, size_px: int) -> tuple[str, tuple[float, float]]:
    """Return the picture and its width and height, mm."""
    box = _used(proof, sheet)
    left, low, right, high = box
    width, height = right - left, high - low
    unit = max(1.3, 0.02 * math.sqrt(width * height), 0.015 * width)
    pad = 1.8 * unit
    labels = place_labels(sheet.parts, box, 0.9 * unit)
    reach = max((label.ground.bounds[2] for label in labels), default=right) - left
    total_w = max(width, reach, 34 * unit) + 2 * pad
    room = total_w - 2 * pad
    summary = wrapped(proof.summary, unit, room)
    head = (3.6 + 1.4 * len(summary)) * unit
    listed = [_Listed(f, unit, room) for f in proof.faults[:_MAX_LISTED]]
    more = len(proof.faults) - len(listed)
    foot = (4.6 + (1.8 if more else 0)) * unit + sum(line.height for line in listed)
    total_h = head + height + foot + 2 * pad
    verdict = "proof passed" if proof.passed else "proof not passed, do not cut"
    if not proof.readings:
        verdict = "no program"
    title = f"Sheet {proof.sheet_number}: {verdict}"
    found = svg_open(total_w, total_h, escaped(title), escaped(proof.summary))
    found.append(caption(title, 1.5 * unit, pad, pad + 1.2 * unit, bold=True))
    ink = QUIET if proof.passed else INK
    for line, said in enumerate(summary):
        found.append(caption(said, unit, pad, pad + (3.1 + 1.4 * line) * unit, colour=ink))
    top = head + pad
    frame = Frame(pad - left, top + high)
    found.append(_image(proof, box, pad, top, size_px))
    found.append(
        f'<rect x="{number(pad, 2)}" y="{number(top, 2)}" width="{number(width, 2)}" '
        f'height="{number(height, 2)}" fill="none" stroke="{QUIET}" '
        f'stroke-width="{number(0.05 * unit, 3)}"/>'
    )
    outlines = [r for p in sheet.parts for r in region_rings(p.part.outline)]
    if outlines:
        # What is no part is darkened a little.
        around = np.array([[left, low], [right, low], [right, high], [left, high]])
        found.append(
            f'<path d="{frame.path([around, *outlines])}" fill="#000000" fill-opacity="0.13" '
            'fill-rule="evenodd"/>'
        )
        found.append(
            f'<path d="{frame.path(outlines)}" fill="none" stroke="#FFFFFF" stroke-opacity="0.75" '
            f'stroke-width="{number(0.06 * unit, 3)}"/>'
        )
    found.extend(draw_places(sheet.stock, box, frame, unit))
    found.extend(draw_labels(labels, frame))
    found.extend(_fault_marks(proof.faults, frame, unit))
    y = top + height + 1.6 * unit
    found.extend(_depth_bar(proof.thickness_mm, pad, y, unit))
    bar = bar_length(width)
    bar_room = bar + text_width(bar_words(bar), unit) + 0.6 * unit
    found.extend(scale_bar(total_w - pad - bar_room, y + 0.6 * unit, bar, unit))
    y += 3.6 * unit
    found.extend(_list(listed, more, pad, y, unit))
    return svg_close(found), (total_w, total_h)


def _used(proof: SheetProof, sheet: Sheet) -> Box:
    """Return the part of the sheet that is shown: where parts and faults are, and a little more."""
    grid = proof.carved.bounds
    boxes = [p.part.outline.bounds for p in sheet.parts]
    boxes += [(*f.where, *f.where) for f in proof.faults if f.where]
    if not boxes:
        return grid
    every = np.array(boxes)
    left, low = every[:, :2].min(axis=0) - _ROOM_MM
    right, high = every[:, 2:].max(axis=0) + _ROOM_MM
    found = (
        max(grid[0], float(left)),
        max(grid[1], float(low)),
        min(grid[2], float(right)),
        min(grid[3], float(high)),
    )
    return found if found[0] < found[2] and found[1] < found[3] else grid


def _image(proof: SheetProof, box: Box, x: float, y: float, size_px: int) -> str:
    """Return the relief with the cells that differ painted over, as an embedded PNG."""
    carved, (rows, columns) = _cropped(proof.carved, box)
    wanted = proof.wanted.z[rows, columns]
    cell = proof.carved.cell_mm
    factor = max(1, math.ceil(max(carved.shape) / size_px))
    small = reduced(carved, factor)
    pixels = relief_pixels(small, cell * factor, proof.thickness_mm)
    if not proof.passed:
        wrong = _wrong(carved, wanted)
        if wrong.any():
            share = np.clip(2 * reduced(wrong.astype(np.float32), factor), 0, 1)[::-1, :, None]
            pixels = pixels * (1 - share) + np.array(rgb(FINDING_COLOUR), np.float32) * share
    left = proof.carved.origin[0] + (columns.start or 0) * cell
    low = proof.carved.origin[1] + (rows.start or 0) * cell
    wide, tall = carved.shape[1] * cell, carved.shape[0] * cell
    at_x = x + left - box[0]
    at_y = y + box[3] - (low + tall)
    data = base64.b64encode(encode_png(pixels.astype(np.uint8))).decode()
    return (
        f'<image x="{number(at_x)}" y="{number(at_y)}" width="{number(wide)}" '
        f'height="{number(tall)}" preserveAspectRatio="none" style="image-rendering:smooth" '
        f'href="data:image/png;base64,{data}"/>'
    )


def _cropped(field: HeightField, box: Box) -> tuple[NDArray[np.float32], tuple[slice, slice]]:
    """Return the cells within a box, and which they are."""
    ny, nx = field.z.shape
    left, low = field.origin
    first_column = min(nx - 1, max(0, math.floor((box[0] - left) / field.cell_mm + WHOLE)))
    last_column = max(first_column + 1, min(nx, math.ceil((box[2] - left) / field.cell_mm - WHOLE)))
    first_row = min(ny - 1, max(0, math.floor((box[1] - low) / field.cell_mm + WHOLE)))
    last_row = max(first_row + 1, min(ny, math.ceil((box[3] - low) / field.cell_mm - WHOLE)))
    cells = slice(first_row, last_row), slice(first_column, last_column)
    return field.z[cells], cells


def _wrong(carved: NDArray[np.float32], wanted: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return the cells that differ from what is wanted, without fringes of one cell at edges."""
    with np.errstate(invalid="ignore"):
        differs = np.abs(carved - wanted) > _TOLERANCE_MM
    return np.asarray(grown(shrunk(differs)) & differs)


def _fault_marks(faults: Sequence[Fault], frame: Frame, unit: float) -> list[str]:
    numbered = [(n, f.where) for n, f in enumerate(faults, start=1) if f.where]
    places, numbers = [], []
    for (label, where), (bx, by) in zip(
        numbered, spread([w for _, w in numbered], unit), strict=True
    ):
        x, y = where[0] + frame.left_mm, frame.top_mm - where[1]
        to_x, to_y = bx + frame.left_mm, frame.top_mm - by
        places.append(
            f'<path d="M{number(x, 2)} {number(y, 2)}L{number(to_x, 2)} {number(to_y, 2)}" '
            f'stroke="{FINDING_COLOUR}" stroke-width="{number(0.12 * unit, 3)}" fill="none"/>'
        )
        places.append(
            f'<circle cx="{number(x, 2)}" cy="{number(y, 2)}" r="{number(0.5 * unit, 2)}" '
            f'fill="none" stroke="{FINDING_COLOUR}" stroke-width="{number(0.16 * unit, 3)}"/>'
        )
        numbers.extend(badge(label, faults[label - 1].severity, to_x, to_y, unit))
    return places + numbers


def _depth_bar(thickness_mm: float, x: float, y: float, unit: float) -> list[str]:
    """Return the colours of depth in steps, the last of them for what is through."""
    steps, wide, tall = 16, 0.8 * unit, unit
    found = []
    colours = depth_colours(np.append(np.linspace(0, 0.999, steps), 1.0))
    for step, colour in enumerate(colours):
        fill = "#" + "".join(f"{round(float(v)):02X}" for v in colour)
        at = x + step * wide + (0.4 * unit if step == steps else 0.0)
        size = wide if step < steps else 1.6 * unit
        found.append(
            f'<rect x="{number(at, 2)}" y="{number(y - 0.4 * unit, 2)}" '
            f'width="{number(size + 0.02, 2)}" height="{number(tall, 2)}" fill="{fill}"/>'
        )
    under = y + 1.7 * unit
    end = x + steps * wide
    found.append(caption("top", 0.85 * unit, x, under, colour=QUIET))
    deep = format_mm(thickness_mm)
    found.append(caption(deep, 0.85 * unit, end, under, colour=QUIET, anchor="end"))
    found.append(caption("through", 0.85 * unit, end + 0.4 * unit, under, colour=QUIET))
    return found


class _Listed:
    """A fault in the list: its first words in bold, the rest broken into lines beside them."""

    def __init__(self, fault: Fault, unit: float, width: float) -> None:
        self.severity = fault.severity
        self.head = f"{fault.code.replace('-', ' ')} · {fault.severity}"
        self.size = 0.85 * unit
        self.indent = 3.6 * self.size + text_width(self.head, self.size, bold=True)
        line = f" ({fault.program}, line {fault.line})" if fault.program and fault.line else ""
        room = max(width - self.indent, 8 * self.size)
        self.lines = wrapped(fault.text + line, self.size, room)
        self.height = (0.5 + 1.3 * len(self.lines)) * self.size


def _list(listed: Sequence[_Listed], more: int, x: float, y: float, unit: float) -> list[str]:
    found = []
    for label, line in enumerate(listed, start=1):
        size = line.size
        found.extend(badge(label, line.severity, x + size, y - 0.35 * size, 0.9 * size))
        found.append(caption(line.head, size, x + 2.8 * size, y, bold=True))
        for row, words in enumerate(line.lines):
            at = y + 1.3 * size * row
            found.append(caption(words, size, x + line.indent, at, colour=QUIET))
        y += line.height
    if more:
        words = f"{more} more: see the proof document"
        found.append(caption(words, 0.85 * unit, x + 2.4 * unit, y, colour=QUIET))
    return found
