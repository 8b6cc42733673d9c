"""Text in, glyphs with positions out: HarfBuzz, with nothing dropped in silence.

All figures are units of the first font, the pen starts at the origin. A *cluster* is the run of
characters that shaping keeps together (a letter with its marks, a ligature): it is what a part
carries. Glyphs come in the order in which they are seen; clusters keep the order of the text.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import uharfbuzz as hb

from letterply.errors import GlyphMissing
from letterply.lettering.fonts.font import Font
from letterply.lettering.setting.bidi import visual_order
from letterply.lettering.setting.itemising import Run, itemise, missing_in

__all__ = ["ShapedGlyph", "ShapedLine", "shape_line"]


@dataclass(frozen=True, slots=True)
class ShapedGlyph:
    """One glyph of a line.

    Attributes:
        glyph: its number in its font.
        cluster: index in the line's text of the first character it stands for.
        x, y: where its origin lies.
        advance: how far it moves the pen along the line.
        font: place of its font among those that were on offer.

    """

    glyph: int
    cluster: int
    x: float
    y: float
    advance: float
    font: int = 0


@dataclass(frozen=True, slots=True)
class ShapedLine:
    """A shaped line.

    Attributes:
        text: the line's text.
        glyphs: in visual order.
        advance: where the pen ends.
        runs: in logical order.

    """

    text: str
    glyphs: tuple[ShapedGlyph, ...]
    advance: float
    runs: tuple[Run, ...] = ()

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
    fallback: Sequence[Font] = (),
    language: str = "",
    direction: str = "auto",
    vertical: bool = False,
    offset: int = 0,
    field: str = "text",
) -> ShapedLine:
    """Return the glyphs of one line of text.

    Args:
        font: tried first for every letter; its units are the units of the result.
        text: the line.
        features: OpenType feature tag -> value.
        fallback: fonts for letters that `font` lacks, in order.
        language: BCP 47 tag, for forms that differ by language.
        direction: of the line: `ltr`, `rtl` or `auto`.
        vertical: True to shape from top to bottom: y falls, `advance` counts downwards.
        offset: where the line starts in the whole text, for errors.
        field: name of the text in the request, for errors.

    Raises:
        GlyphMissing: names the first character that no font on offer has.

    """
    fonts = (font, *fallback)
    runs = itemise(text, fonts, direction=direction)
    _all_there(text, runs, fonts, offset, field)
    glyphs: list[ShapedGlyph] = []
    pen_x = pen_y = 0.0
    order = range(len(runs)) if vertical else visual_order([r.level for r in runs])
    for run in (runs[n] for n in order):
        used = fonts[run.font]
        unit = font.units_per_em / used.units_per_em
        buffer = _shaped(used, text, run, features or {}, language, vertical)
        for info, move in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            if info.codepoint == 0:
                raise _missing(text, runs, fonts, info.cluster, offset, field)
            glyphs.append(
                ShapedGlyph(
                    glyph=info.codepoint,
                    cluster=info.cluster,
                    x=pen_x + move.x_offset * unit,
                    y=pen_y + move.y_offset * unit,
                    advance=(-move.y_advance if vertical else move.x_advance) * unit,
                    font=run.font,
                )
            )
            pen_x += move.x_advance * unit
            pen_y += move.y_advance * unit
    return ShapedLine(text, tuple(glyphs), -pen_y if vertical else pen_x, tuple(runs))


def _shaped(
    font: Font,
    text: str,
    run: Run,
    features: Mapping[str, int | bool],
    language: str,
    vertical: bool,
) -> hb.Buffer:
    buffer = hb.Buffer()
    # The whole line is handed over, so that letters at the ends of a run see their neighbours.
    buffer.add_codepoints([ord(c) for c in text], run.start, run.end - run.start)
    buffer.direction = "ttb" if vertical else "rtl" if run.level % 2 else "ltr"
    buffer.script = run.script
    if language:
        buffer.language = language
    else:
        # Not left to the machine: HarfBuzz would ask its locale.
        buffer.language = "und"
    # What is never seen and has no glyph must not stand as an empty box.
    buffer.flags = hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES
    hb.shape(font.harfbuzz, buffer, dict(features))
    return buffer


def _all_there(
    text: str, runs: Sequence[Run], fonts: Sequence[Font], offset: int, field: str
) -> None:
    """Raise `GlyphMissing` for the first character that its font cannot show."""
    for run in runs:
        place = missing_in(text[run.start : run.end], fonts[run.font])
        if place is not None:
            at = run.start + place
            raise GlyphMissing(text[at], offset + at, fonts[run.font].key, field=field)


def _missing(
    text: str, runs: Sequence[Run], fonts: Sequence[Font], at: int, offset: int, field: str
) -> GlyphMissing:
    font = next((fonts[r.font] for r in runs if r.start <= at < r.end), fonts[0])
    return GlyphMissing(text[at], offset + at, font.key, field=field)
