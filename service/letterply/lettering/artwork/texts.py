"""Texts of a drawing, set in a font that the request names: shapes at their place.

Every stretch of text begins at the pen or at its own `x` and `y`; a chunk, from one absolute place
to the next, is anchored as a whole (SVG 2, chapter 11). Spacing, shifts and turns of single letters
are noted. The author's font is not asked for: its shapes are not in the drawing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Shape, Subpath
from letterply.lettering.artwork.painting import Painter
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.values import length
from letterply.lettering.fonts.font import Font
from letterply.lettering.setting.shaping import ShapedLine, shape_line

__all__ = ["text_shapes"]

Descend = Callable[[Element, Place], Place | None]
"""Takes on the style of an element inside a text; None when it is not shown."""

_DETAILS = ("rotate", "textLength", "lengthAdjust")
_STYLES = (
    "letter-spacing", "word-spacing", "writing-mode", "baseline-shift", "dominant-baseline",
    "alignment-baseline", "text-decoration", "text-decoration-line", "direction", "text-transform",
    "font-variant", "font-feature-settings", "white-space", "text-orientation",
)  # fmt: skip
_PLAIN = frozenset(
    {"normal", "0", "baseline", "auto", "alphabetic", "horizontal-tb", "lr-tb", "lr", "", "none",
     "ltr", "mixed"}
)  # fmt: skip
_SHARE = {"start": 0.0, "middle": 0.5, "end": 1.0}


@dataclass(slots=True)
class _Run:
    """A stretch of text in one style; where it begins, None for where the last one ends."""

    text: str
    element: Element
    place: Place
    x: float | None
    y: float | None
    dx: float
    dy: float


def text_shapes(
    element: Element, place: Place, scene: Scene, font: Font, descend: Descend
) -> list[Shape]:
    """Return the shapes of a text element set in a font, in user units of its place.

    Raises:
        GlyphMissing: naming the character that the font lacks.

    """
    runs = _evened(_gather(element, place, scene, descend))
    painter = Painter(scene)
    found: list[Shape] = []
    chunk: list[tuple[_Run, ShapedLine]] = []
    pen = [0.0, 0.0]

    def finish() -> None:
        """Set the chunk that has been gathered."""
        if not chunk:
            return
        first = chunk[0][0]
        total = sum(line.advance * _scale(run, font) + run.dx for run, line in chunk[1:])
        total += chunk[0][1].advance * _scale(first, font)
        anchor = _SHARE.get(first.place.style.get("text-anchor", "start"), 0.0)
        pen[0] = (pen[0] if first.x is None else first.x) - anchor * total
        pen[1] = pen[1] if first.y is None else first.y
        for run, line in chunk:
            pen[0] += run.dx
            pen[1] += run.dy
            scale = _scale(run, font)
            subpaths = _outlines(line, font, scale, (pen[0], pen[1]))
            pen[0] += line.advance * scale
            fill, fill_colour = painter.fill(run.element, run.place)
            stroke, stroke_colour = painter.stroke(run.element, run.place)
            found.append(
                Shape(
                    subpaths,
                    run.place.matrix,
                    None if fill is None else "nonzero",
                    stroke,
                    names=run.place.names,
                    fill_colour=fill_colour,
                    stroke_colour=stroke_colour,
                )
            )
        chunk.clear()

    for run in runs:
        if run.x is not None or run.y is not None:
            finish()
        chunk.append((run, shape_line(font, run.text, field="font")))
    finish()
    return found


def _scale(run: _Run, font: Font) -> float:
    return run.place.font_size / font.units_per_em


def _gather(element: Element, place: Place, scene: Scene, descend: Descend) -> list[_Run]:
    """Return the stretches of text in an element, in order."""
    first: dict[str, float | None] = {}
    for name, way in (("x", "x"), ("y", "y"), ("dx", "x"), ("dy", "y")):
        written = element.attributes.get(name, "").replace(",", " ").split()
        first[name] = length(written[0], place.whole(way), place.font_size) if written else None
        if len(written) > 1:
            scene.notes.add("text detail", element.place)
    kept_space = element.attributes.get("xml:space") == "preserve" and (
        "  " in element.text or "\n" in element.text
    )
    if (
        kept_space
        or any(n in element.attributes for n in _DETAILS)
        or any(place.style.get(n, "") not in _PLAIN for n in _STYLES)
    ):
        scene.notes.add("text detail", element.place)
    found = [
        _Run(element.text, element, place, first["x"], first["y"], first["dx"] or 0.0,
             first["dy"] or 0.0)
    ]  # fmt: skip
    for child in element.children:
        if child.tag in ("tspan", "a"):
            inside = descend(child, place)
            if inside is not None:
                found += _gather(child, inside, scene, descend)
        elif child.tag == "textPath":
            scene.notes.add("text on a path", f"{child.place}: {child.words()[:60]!r}")
        elif child.tag not in ("title", "desc"):
            scene.notes.add("text detail", child.place)
        found.append(_Run(child.tail, element, place, None, None, 0.0, 0.0))
    # A place that stands before a nested stretch is that stretch's.
    for before, after in pairwise(found):
        if not before.text.strip() and before.x is not None and after.x is None:
            after.x, after.y = before.x, before.y if after.y is None else after.y
            before.x = before.y = None
    return found


def _evened(runs: Sequence[_Run]) -> list[_Run]:
    """Return runs with white space evened out across them, empty ones left out."""
    kept: list[_Run] = []
    for run in runs:
        inner = " ".join(run.text.split())
        lead = " " if run.text[:1].isspace() and kept and not kept[-1].text.endswith(" ") else ""
        trail = " " if run.text[-1:].isspace() and inner else ""
        run.text = f"{lead}{inner}{trail}"
        if run.text:
            kept.append(run)
    if kept:
        kept[-1].text = kept[-1].text.rstrip()
    return [run for run in kept if run.text]


def _outlines(
    line: ShapedLine, font: Font, scale: float, pen: tuple[float, float]
) -> tuple[Subpath, ...]:
    found: list[Subpath] = []
    for glyph in line.glyphs:
        for points, degrees in font.outline(glyph.glyph):
            placed = (points + (glyph.x, glyph.y)) * (scale, -scale) + pen
            found.append(Subpath((np.asarray(placed, dtype=np.float64), degrees), True))
    return tuple(found)
