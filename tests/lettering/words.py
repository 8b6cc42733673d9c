"""Lettering for tests, in a line."""

from __future__ import annotations

from letterply.lettering import FontShelf, LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

__all__ = ["SHELF", "lettering"]

SHELF = FontShelf()


def lettering(text, font="oswald", size=None, fallback=(), **options):
    """Return lettering, 20 mm an em where nothing else is said."""
    spec = LetteringSpec(text, font, size or Size("em", 20), **options)
    fonts = [SHELF.load(key) for key in fallback]
    return set_lettering(spec, SHELF.load(font), DEFAULT_TOLERANCES, fallback=fonts)
