"""Text in, glyphs with positions out: HarfBuzz, with nothing dropped in silence.

All figures are font units, the pen starts at the origin. A *cluster* is the run of characters
that shaping keeps together (a letter with its marks, a ligature): it is what a part carries.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

import uharfbuzz as hb

from letterply.errors import GlyphMissing
from letterply.lettering.fonts import Font

__all__ = ["ShapedGlyph", "ShapedLine", "shape_line"]


@dataclass(frozen=True, slots=True)
class ShapedGlyph:
    """One glyph of a line.

    Attributes:
        glyph: its number in the font.
        cluster: index in the line's text of the first character it stands for.
        x, y: where its origin lies.
        advance: how far it moves the pen.

    """

    glyph: int
    cluster: int
    x: float
    y: float
    advance: float


@dataclass(frozen=True, slots=True)
class ShapedLine:
    """A shaped line.

    Attributes:
        text: the line's text.
        glyphs: in visual order.
        advance: where the pen ends.

    """

    text: str
    glyphs: tuple[ShapedGlyph, ...]
    advance: float

    def cluster_text(self, cluster: int) -> str:
        """Return the characters of the cluster that starts at `cluster`."""
        starts = sorted({g.cluster for g in self.glyphs})
        later = [s for s in starts if s > cluster]
        return self.text[cluster : later[0] if later else len(self.text)]


def shape_line(
    font: Font,
    text: str,
    *,
    features: Mapping[str, int | bool] | None = None,
    tracking: float = 0.0,
    offset: int = 0,
    field: str = "text",
) -> ShapedLine:
    """Return the glyphs of one line of text, `tracking` font units added between clusters.

    `offset` is where the line starts in the whole text, for errors.

    Raises:
        GlyphMissing: names the first character that the font does not have.

    """
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(font.harfbuzz, buffer, dict(features or {}))
    glyphs: list[ShapedGlyph] = []
    pen_x = pen_y = 0.0
    last = None
    for info, move in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        if info.codepoint == 0:
            character = text[info.cluster]
            if unicodedata.category(character) not in ("Cf", "Cc"):
                raise GlyphMissing(character, offset + info.cluster, font.key, field=field)
            continue
        if tracking and last is not None and info.cluster != last:
            pen_x += tracking
        last = info.cluster
        glyphs.append(
            ShapedGlyph(
                glyph=info.codepoint,
                cluster=info.cluster,
                x=pen_x + move.x_offset,
                y=pen_y + move.y_offset,
                advance=move.x_advance,
            )
        )
        pen_x += move.x_advance
        pen_y += move.y_advance
    return ShapedLine(text, tuple(glyphs), pen_x)
