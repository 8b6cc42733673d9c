"""Words in, outlines out: fonts, shaping, outlines and setting."""

from letterply.lettering.describing import describe
from letterply.lettering.facts import Axis, FontFacts
from letterply.lettering.fonts import Font
from letterply.lettering.loading import load_font
from letterply.lettering.setting import Letter, Lettering, LetteringSpec, Size, set_lettering
from letterply.lettering.shaping import ShapedGlyph, ShapedLine, shape_line
from letterply.lettering.shelf import FontEntry, FontShelf, font_digest, shipped_faces

__all__ = [
    "Axis",
    "Font",
    "FontEntry",
    "FontFacts",
    "FontShelf",
    "Letter",
    "Lettering",
    "LetteringSpec",
    "ShapedGlyph",
    "ShapedLine",
    "Size",
    "describe",
    "font_digest",
    "load_font",
    "set_lettering",
    "shape_line",
    "shipped_faces",
]
