"""Lettering set at a size: shaped lines in, clean regions in millimetres out.

Lettering frame: x along the baseline, y up, origin at the start of the first baseline (for
centred and right-aligned text: where the widest line starts). Lines go down the page. Every
glyph's contours are flattened at the final size and merged under the nonzero rule; then glyphs
that touch are merged with each other, so a connected script becomes one region.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.affinity import translate

from letterply.errors import GeometryError, InputError
from letterply.lettering.fonts import Font
from letterply.lettering.shaping import ShapedLine, shape_line
from letterply.shapes.flatten import flatten_segments
from letterply.shapes.regions import EMPTY, Region, as_region, nonzero_union, normalise
from letterply.shapes.tolerances import GRID_MM, Tolerances

__all__ = ["Letter", "Lettering", "LetteringSpec", "Size", "set_lettering"]

Align = Literal["left", "centre", "right"]

_MAX_LETTERS = 2000
_MAX_EM_MM = 3000.0
_MIN_EM_MM = 0.5


@dataclass(frozen=True, slots=True)
class Size:
    """How large: exactly one kind, with one or two lengths in mm.

    Attributes:
        kind: `cap_height`, `x_height`, `em`, `width` (of the ink) or `fit` (ink inside a box).
        first_mm: the length; for `fit` the width of the box.
        second_mm: for `fit` the height of the box, otherwise 0.

    """

    kind: Literal["cap_height", "x_height", "em", "width", "fit"]
    first_mm: float
    second_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class LetteringSpec:
    """What to set.

    Attributes:
        text: the words; a newline starts a line.
        font: key on the shelf.
        size: how large.
        features: OpenType feature tag -> value, and
        axes: variable axis tag -> value.
        align: of several lines.
        tracking_mm: extra space between letters.
        line_gap: distance of baselines as a multiple of the em.

    """

    text: str
    font: str
    size: Size
    features: Mapping[str, int] = field(default_factory=dict)
    axes: Mapping[str, float] = field(default_factory=dict)
    align: Align = "centre"
    tracking_mm: float = 0.0
    line_gap: float = 1.2


@dataclass(frozen=True, slots=True)
class Letter:
    """One cluster as set.

    Attributes:
        text: its characters.
        line: number of its line, from 0.
        region: what it fills, mm, lettering frame; empty for a space.

    """

    text: str
    line: int
    region: Region


@dataclass(frozen=True, slots=True)
class Lettering:
    """Lettering at its size.

    Attributes:
        spec: what was asked for.
        region: all of it, merged.
        letters: in reading order, spaces left out.
        em_mm: size of the em.
        cap_height_mm: height of a flat capital.
        x_height_mm: height of a flat small letter.

    """

    spec: LetteringSpec
    region: Region
    letters: tuple[Letter, ...]
    em_mm: float
    cap_height_mm: float
    x_height_mm: float

    def moved(self, dx_mm: float, dy_mm: float) -> Lettering:
        """Return the lettering shifted, its regions no longer exactly on the grid."""

        def move(region: Region) -> Region:
            return as_region(translate(region, dx_mm, dy_mm))

        letters = tuple(replace(x, region=move(x.region)) for x in self.letters)
        return replace(self, region=move(self.region), letters=letters)

    def letters_of(self, pieces: Sequence[Region]) -> list[str]:
        """Return for each piece the text of the letters that lie on it, in reading order."""
        tree = STRtree([x.region for x in self.letters])
        found: list[str] = []
        for piece in pieces:
            shapely.prepare(piece)
            hits = sorted(int(i) for i in tree.query(piece, predicate="intersects"))
            found.append("".join(self.letters[i].text for i in hits))
        return found


def set_lettering(
    spec: LetteringSpec, font: Font, tolerances: Tolerances, *, field: str = "lettering"
) -> Lettering:
    """Return the lettering at its size.

    Raises:
        InputError: `empty-text`, `text-too-long`, `bad-size`; `GlyphMissing`; `FontError`.
        GeometryError: `nothing-to-cut` when the text leaves no ink.

    """
    lines = _checked_lines(spec, field)
    font = font.at(spec.axes, field=f"{field}.axes")
    shaped = _shape(lines, spec, font, 0.0, field)
    if not any(font.outline(g.glyph) for line in shaped for g in line.glyphs):
        raise GeometryError(
            "The text leaves nothing to cut.",
            code="nothing-to-cut",
            field=f"{field}.text",
            expected="at least one character with an outline",
        )
    scale = _solve_scale(spec, font, shaped, field)
    em_mm = scale * font.units_per_em
    if not _MIN_EM_MM <= em_mm <= _MAX_EM_MM:
        raise InputError(
            f"The size makes letters of {em_mm:.3g} mm em.",
            code="bad-size",
            field=f"{field}.size",
            expected=f"an em between {_MIN_EM_MM} and {_MAX_EM_MM:.0f} mm",
        )
    if spec.tracking_mm:
        shaped = _shape(lines, spec, font, spec.tracking_mm / scale, field)
    letters = _letters(shaped, spec, font, scale, tolerances)
    region = _merge([x.region for x in letters])
    return Lettering(
        spec=spec,
        region=region,
        letters=tuple(x for x in letters if not x.region.is_empty),
        em_mm=em_mm,
        cap_height_mm=font.cap_height * scale,
        x_height_mm=font.x_height * scale,
    )


def _checked_lines(spec: LetteringSpec, field: str) -> list[str]:
    text = spec.text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise InputError(
            "There is no text.",
            code="empty-text",
            field=f"{field}.text",
            expected="at least one letter",
        )
    if len(text) > _MAX_LETTERS:
        raise InputError(
            f"The text has {len(text)} characters.",
            code="text-too-long",
            field=f"{field}.text",
            expected=f"at most {_MAX_LETTERS} characters",
        )
    return text.split("\n")


def _shape(
    lines: Sequence[str], spec: LetteringSpec, font: Font, tracking: float, field: str
) -> list[ShapedLine]:
    shaped: list[ShapedLine] = []
    offset = 0
    for line in lines:
        shaped.append(
            shape_line(
                font,
                line,
                features=spec.features,
                tracking=tracking,
                offset=offset,
                field=f"{field}.text",
            )
        )
        offset += len(line) + 1
    return shaped


def _solve_scale(
    spec: LetteringSpec, font: Font, shaped: Sequence[ShapedLine], field: str
) -> float:
    """Return mm a font unit.

    Width and height of the ink grow with the scale, apart from tracking, which is in mm: for
    those sizes the scale is found by stepping on the difference, which settles at once when
    there is no tracking and in a few steps when there is.
    """
    size = spec.size
    if size.kind == "em":
        return size.first_mm / font.units_per_em
    if size.kind == "cap_height":
        return size.first_mm / font.cap_height
    if size.kind == "x_height":
        return size.first_mm / font.x_height
    boxes = [_ink_boxes(line, font) for line in shaped]
    scale = size.first_mm / max(_ink_size(spec, font, shaped, boxes, 0.0)[0], 1e-9)
    for _ in range(50):
        width, height = (
            x * scale for x in _ink_size(spec, font, shaped, boxes, spec.tracking_mm / scale)
        )
        ratio = size.first_mm / width
        if size.kind == "fit":
            ratio = min(ratio, size.second_mm / height)
        scale *= ratio
        if scale * font.units_per_em < _MIN_EM_MM / 10:
            break
        if abs(ratio - 1) < 1e-12:
            return scale
    raise InputError(
        "No size of letters fits: the tracking alone takes the room.",
        code="bad-size",
        field=f"{field}.size",
        expected="less tracking or more room",
    )


def _ink_boxes(line: ShapedLine, font: Font) -> NDArray[np.float64]:
    """Return an (n, 4) array of ink boxes relative to each glyph's origin; NaN for a space."""
    boxes = np.full((len(line.glyphs), 4), np.nan)
    for row, glyph in enumerate(line.glyphs):
        contours = font.outline(glyph.glyph)
        if contours:
            fine = np.vstack([flatten_segments(c, font.units_per_em / 4000) for c in contours])
            boxes[row] = (*fine.min(axis=0), *fine.max(axis=0))
    return boxes


def _ink_size(
    spec: LetteringSpec,
    font: Font,
    shaped: Sequence[ShapedLine],
    boxes: Sequence[NDArray[np.float64]],
    tracking: float,
) -> tuple[float, float]:
    """Return width and height of the ink in font units with `tracking` between clusters."""
    starts = _line_starts(spec, shaped, tracking)
    ink: list[NDArray[np.float64]] = []
    for number, (line, box) in enumerate(zip(shaped, boxes, strict=True)):
        if not len(box):
            continue
        x = np.array([g.x for g in line.glyphs]) + tracking * _gaps_before(line) + starts[number]
        y = np.array([g.y for g in line.glyphs]) - number * spec.line_gap * font.units_per_em
        ink.append(box + np.column_stack((x, y, x, y)))
    all_ink = np.vstack(ink)
    low = np.nanmin(all_ink[:, :2], axis=0)
    high = np.nanmax(all_ink[:, 2:], axis=0)
    return float(high[0] - low[0]), float(high[1] - low[1])


def _gaps_before(line: ShapedLine) -> NDArray[np.float64]:
    """Return for each glyph how many gaps between clusters lie before it."""
    clusters = np.array([g.cluster for g in line.glyphs])
    changes = np.concatenate(([0], np.cumsum(clusters[1:] != clusters[:-1])))
    return changes.astype(float)


def _line_starts(
    spec: LetteringSpec, shaped: Sequence[ShapedLine], tracking: float = 0.0
) -> list[float]:
    """Return where each line starts, font units, so that the lines align."""
    widths = [
        line.advance + (tracking * _gaps_before(line)[-1] if line.glyphs else 0.0)
        for line in shaped
    ]
    share = {"left": 0.0, "centre": 0.5, "right": 1.0}[spec.align]
    return [share * (max(widths) - w) for w in widths]


def _letters(
    shaped: Sequence[ShapedLine],
    spec: LetteringSpec,
    font: Font,
    scale: float,
    tolerances: Tolerances,
) -> list[Letter]:
    starts = _line_starts(spec, shaped)
    regions: dict[int, Region] = {}
    letters: list[Letter] = []
    for number, line in enumerate(shaped):
        down = -number * spec.line_gap * font.units_per_em
        clusters: dict[int, list[Region]] = {}
        for glyph in line.glyphs:
            if glyph.glyph not in regions:
                contours = [
                    flatten_segments((points * scale, degrees), tolerances.flatten_mm)
                    for points, degrees in font.outline(glyph.glyph)
                ]
                regions[glyph.glyph] = nonzero_union(contours)
            region = regions[glyph.glyph]
            placed = translate(region, (starts[number] + glyph.x) * scale, (down + glyph.y) * scale)
            clusters.setdefault(glyph.cluster, []).append(placed)
        for cluster in sorted(clusters):
            pieces = clusters[cluster]
            merged = as_region(pieces[0]) if len(pieces) == 1 else _merge(pieces)
            text = line.cluster_text(cluster).strip()
            letters.append(Letter(text, number, merged))
    return letters


def _merge(regions: Sequence[Region]) -> Region:
    """Return the union, on the grid; regions that do not touch are left as they are."""
    inked = [r for r in regions if not r.is_empty]
    if not inked:
        return EMPTY
    return normalise(shapely.union_all(inked, grid_size=GRID_MM))
