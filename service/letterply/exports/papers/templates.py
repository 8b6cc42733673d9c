"""Paper templates in real size: where the parts of each layer go on the layer below.

A page a design, as large as it needs; a rule of 50 mm on every page shows whether the printer kept
the size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import shapely

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.papers.pdf_page import Document
from letterply.exports.primitives.captions import QUIET
from letterply.exports.primitives.label_faces import LabelFaces
from letterply.exports.primitives.palette import STYLES
from letterply.stacks import Layer
from letterply.units import MM_PER_INCH, format_mm, spoken

__all__ = ["RULE_MM", "Template", "paper_size", "templates_pdf"]

RULE_MM = 50.0

_PAPERS_MM = ((210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (594.0, 841.0), (841.0, 1189.0))
"""A4 to A0 (ISO 216)."""

_ROUND_MM = 12.0
_HEAD_MM = 22.0
_FOOT_MM = 16.0
_DASHES = ((), (3.0, 1.2), (1.0, 1.0), (4.0, 1.0, 1.0, 1.0))


@dataclass(frozen=True, slots=True)
class Template:
    """A design: its title, for which lines it is, its layers when they are needed."""

    title: str
    lines: str
    layers: Callable[[], tuple[Layer, ...]]
    names: tuple[tuple[str, ...], ...]
    """Names of the parts, a tuple a layer."""


def paper_size(width_mm: float, height_mm: float) -> tuple[float, float]:
    """Return the smallest sheet of paper, upright or not, that takes a drawing of this size.

    What is larger than A0 gets a page of its own size: it is printed in tiles or on a roll.

    >>> paper_size(150, 100), paper_size(250, 100), paper_size(2000, 100)
    ((210.0, 297.0), (297.0, 210.0), (2024.0, 162.0))

    """
    wide, high = width_mm + 2 * _ROUND_MM, height_mm + 2 * _ROUND_MM + _HEAD_MM + _FOOT_MM
    for short, long in _PAPERS_MM:
        for size in ((short, long), (long, short)):
            if wide <= size[0] and high <= size[1]:
                return size
    return wide, high


def templates_pdf(
    title: str, templates: Iterable[Template], faces: LabelFaces | None = None
) -> bytes:
    """Return the templates of an order, in real size."""
    whole = f"{title}: placement templates, print at 100 %"
    document = Document(whole, margin_mm=_ROUND_MM, faces=faces)
    for template in templates:
        _page(document, template)
    return document.finish()


def _page(document: Document, template: Template) -> None:
    layers = template.layers()
    outlines = [p.outline for layer in layers for p in layer.parts]
    left, low, right, high = shapely.total_bounds(outlines).tolist()
    document.page(paper_size(right - left, high - low))
    document.text(template.title, _ROUND_MM, _ROUND_MM + 6, 6.0, bold=True)
    document.text(
        f"{template.lines} · print at 100 %, then measure the rule below",
        _ROUND_MM,
        _ROUND_MM + 12,
        3.2,
        colour=QUIET,
    )
    x, y = _ROUND_MM - left, _ROUND_MM + _HEAD_MM + high
    legend_x = _ROUND_MM
    for at, layer in enumerate(layers):
        dash = _DASHES[at % len(_DASHES)]
        colour = STYLES["profile"].colour if at else "#2B2B2B"
        for number, part in enumerate(layer.parts):
            rings = [[(float(a), float(b)) for a, b in ring] for ring in region_rings(part.outline)]
            document.rings(rings, x, y, stroke=colour, dash_mm=dash)
            if at and len(layer.parts) > 1:
                place = shapely.point_on_surface(part.outline)
                name = template.names[at][number]
                document.text(
                    name, x + place.x, y - place.y + 1, 2.6, colour=colour, align="centre"
                )
        sample = _ROUND_MM + 16.5
        document.rings(
            [[(0, 0), (9, 0), (9, 0.01)]], legend_x, sample - 1, stroke=colour, dash_mm=dash
        )
        document.text(layer.name, legend_x + 11, sample, 2.8, colour=colour)
        legend_x += 18 + 1.6 * len(layer.name)
    _rule(document, _ROUND_MM, document.size_mm[1] - _FOOT_MM)


def _rule(document: Document, x_mm: float, y_mm: float) -> None:
    """Draw a rule of 50 mm with a tick each 5 mm, or one of 2 in with a tick each eighth."""
    length, ticks, whole = (2 * MM_PER_INCH, 16, 8) if spoken() == "inch" else (RULE_MM, 10, 2)
    document.line(x_mm, y_mm, x_mm + length, y_mm, width_mm=0.2)
    for tick in range(ticks + 1):
        long = 3.0 if tick % whole == 0 else 1.8
        at = x_mm + tick * length / ticks
        document.line(at, y_mm, at, y_mm - long, width_mm=0.2)
    document.text(format_mm(length), x_mm + length + 2, y_mm, 3.0)
