"""How much is worked into the faces of layers, before anything is made: features in, lengths out.

Rough by nature, as all that `measuring` tells: strokes come from the box of the words. What is
rough alike for two designs of one family still tells how much more work one is than the other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from letterply.requests import (
    SCRIBED_MM,
    ArtworkFeature,
    ArtworkRecipe,
    Feature,
    GrooveLettering,
    LetteringRecipe,
    Recess,
    ScribeLettering,
    ThroughLettering,
    hatch_gap,
)

__all__ = ["CUT_A_WIDTH", "INK_SHARE", "drawn_size", "worked_length"]

INK_SHARE = 0.45
"""Share of the box of a word that its letters fill; 0.3 to 0.6 for the shipped fonts."""

CUT_A_WIDTH = 8.0
"""Length of the outlines of a word over its width; 6 to 10 for the shipped fonts."""

_LOOPS_APART_MM = 1.5
"""Distance of the rounds that clear a pocket, about."""

Size = tuple[float, float]


def worked_length(
    features: Sequence[Feature], ink_of: Callable[[LetteringRecipe | None, int], Size]
) -> float:
    """Return how far cutters go for the features of a layer, mm; holes count for nothing.

    Args:
        features: of the layer.
        ink_of: width and height of the words of a feature, mm, from its own lettering, if it has
            any, and its number.

    """
    total = 0.0
    for number, feature in enumerate(features):
        if isinstance(feature, GrooveLettering):
            total += _groove(ink_of(feature.lettering, number))
        elif isinstance(feature, ScribeLettering):
            size = ink_of(feature.lettering, number)
            gap = feature.hatch_gap or hatch_gap(feature.depth)
            total += _scribe(size, feature.style, gap)
        elif isinstance(feature, Recess):
            total += _pocket(ink_of(feature.lettering, number))
        elif isinstance(feature, ThroughLettering):
            total += CUT_A_WIDTH * ink_of(feature.lettering, number)[0]
        elif isinstance(feature, ArtworkFeature):
            total += _artwork(feature, ink_of(None, number))
    return round(total, 1)


def drawn_size(artwork: ArtworkRecipe, ink: Size) -> Size:
    """Return the size of a drawing: what the recipe says of it, or that of the words."""
    said = artwork.size
    if said is not None and said.fit is not None:
        return said.fit.width, said.fit.height
    if said is not None and said.width is not None:
        return said.width, said.width
    return ink


def _artwork(feature: ArtworkFeature, ink: Size) -> float:
    size = drawn_size(feature.artwork, ink)
    if feature.work == "groove":
        return _groove(size)
    if feature.work == "recess":
        return _pocket(size)
    if feature.work == "through":
        return 2 * sum(size)
    gap = feature.hatch_gap or hatch_gap(feature.depth or SCRIBED_MM)
    return _scribe(size, feature.style, gap)


def _groove(size: Size) -> float:
    """Return the length of grooves along the middle of strokes: half that of their outlines."""
    return CUT_A_WIDTH / 2 * size[0]


def _scribe(size: Size, style: str, gap_mm: float) -> float:
    width, height = size
    length = CUT_A_WIDTH * width
    if style == "centre":
        length /= 2
    elif style == "hatch":
        length += INK_SHARE * width * height / gap_mm
    return length


def _pocket(size: Size) -> float:
    width, height = size
    return CUT_A_WIDTH * width + INK_SHARE * width * height / _LOOPS_APART_MM
