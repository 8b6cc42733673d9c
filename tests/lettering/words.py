"""Lettering for tests, in a line."""

from __future__ import annotations

from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

__all__ = ["LIBRARY", "lettering"]

LIBRARY = FontLibrary()


def lettering(text, font="oswald", size=None, fallback=(), **options):
    """Return lettering, 20 mm an em where nothing else is said."""
    spec = LetteringSpec(text, font, size or Size("em", 20), **options)
    fonts = [LIBRARY.load(key) for key in fallback]
    return set_lettering(spec, LIBRARY.load(font), DEFAULT_TOLERANCES, fallback=fonts)
