"""What is worked into the faces of layers, before anything is made: features in, lengths out.

Rough by nature, as all that `measuring` tells: strokes come from the box of the words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from letterply.requests import (
    ArtworkFeature,
    ArtworkRecipe,
    Feature,
    GrooveLettering,
    LetteringRecipe,
    Recess,
    ScribeLettering,
    ThroughLettering,
)

__all__ = [
    "CUT_A_WIDTH",
    "INK_SHARE",
    "FaceWork",
    "WorkKind",
    "drawn_size",
    "face_work",
    "stroke_of",
]

INK_SHARE = 0.45
"""Share of the box of a word that its letters fill; 0.3 to 0.6 for the shipped fonts."""

CUT_A_WIDTH = 8.0
"""Length of the outlines of a word over its width; 6 to 10 for the shipped fonts."""

_HALF_ANGLE_DEG = 30.0
"""Half the included angle of the usual V-bit."""

_LINE_DEPTH_MM = 0.15

Size = tuple[float, float]


class WorkKind(StrEnum):
    """How the face is worked."""

    GROOVE = "groove"
    SCRIBE = "scribe"
    POCKET = "pocket"
    THROUGH = "through"


@dataclass(frozen=True, slots=True)
class FaceWork:
    """One work on a layer of one copy, by estimate.

    Attributes:
        kind: how it is done.
        length_mm: of the lines that the cutter follows, each once.
        depth_mm: how deep they are.
        area_mm2: what is cleared, for a pocket.
        stroke_mm: width of strokes, which bounds the cutter; 0 where there are none.

    """

    kind: WorkKind
    length_mm: float
    depth_mm: float
    area_mm2: float = 0.0
    stroke_mm: float = 0.0


def stroke_of(height_mm: float) -> float:
    """Return about how wide the strokes of words are: twice their area over their outline."""
    return 2 * INK_SHARE * max(height_mm, 0.0) / CUT_A_WIDTH


def face_work(
    features: Sequence[Feature],
    thickness_mm: float,
    ink_of: Callable[[LetteringRecipe | None, int], Size],
) -> Iterator[FaceWork]:
    """Yield the work that the features of a layer ask for; holes and slots count for nothing.

    Args:
        features: of the layer.
        thickness_mm: of the layer.
        ink_of: width and height of the words of a feature, mm, from its own lettering, if it has
            any, and its number.

    """
    for number, feature in enumerate(features):
        if isinstance(feature, GrooveLettering):
            size = ink_of(feature.lettering, number)
            yield _groove(size, feature.max_depth)
        elif isinstance(feature, ScribeLettering):
            size = ink_of(feature.lettering, number)
            yield _scribe(size, feature.style, feature.hatch_gap, feature.depth)
        elif isinstance(feature, Recess):
            yield _pocket(ink_of(feature.lettering, number), feature.depth)
        elif isinstance(feature, ThroughLettering):
            width, height = ink_of(feature.lettering, number)
            yield FaceWork(
                WorkKind.THROUGH,
                round(CUT_A_WIDTH * width, 1),
                thickness_mm,
                stroke_mm=stroke_of(height),
            )
        elif isinstance(feature, ArtworkFeature):
            yield _artwork(feature, thickness_mm, ink_of(None, number))


def drawn_size(artwork: ArtworkRecipe, ink: Size) -> Size:
    """Return the size of a drawing: what the recipe says of it, or that of the words."""
    said = artwork.size
    if said is not None and said.fit is not None:
        return said.fit.width, said.fit.height
    if said is not None and said.width is not None:
        return said.width, said.width
    return ink


def _artwork(feature: ArtworkFeature, thickness_mm: float, ink: Size) -> FaceWork:
    size = drawn_size(feature.artwork, ink)
    if feature.work == "groove":
        return _groove(size, feature.depth)
    if feature.work == "recess":
        return _pocket(size, feature.depth or thickness_mm / 2)
    if feature.work == "through":
        return FaceWork(WorkKind.THROUGH, round(2 * sum(size), 1), thickness_mm)
    return _scribe(size, feature.style, feature.hatch_gap, feature.depth or _LINE_DEPTH_MM)


def _groove(size: Size, most_mm: float | None) -> FaceWork:
    """Return a groove along the middle of the strokes: half as long as their outlines."""
    width, height = size
    depth = stroke_of(height) / 2 / math.tan(math.radians(_HALF_ANGLE_DEG))
    depth = min(depth, most_mm or depth)
    return FaceWork(WorkKind.GROOVE, round(CUT_A_WIDTH / 2 * width, 1), round(depth, 2))


def _scribe(size: Size, style: str, gap_mm: float, depth_mm: float) -> FaceWork:
    width, height = size
    length = CUT_A_WIDTH * width
    if style == "centre":
        length /= 2
    elif style == "hatch":
        length += INK_SHARE * width * height / gap_mm
    return FaceWork(WorkKind.SCRIBE, round(length, 1), depth_mm)


def _pocket(size: Size, depth_mm: float) -> FaceWork:
    width, height = size
    area = INK_SHARE * width * height
    outline = round(CUT_A_WIDTH * width, 1)
    return FaceWork(WorkKind.POCKET, outline, depth_mm, round(area, 1))
