"""A stack to be looked at while it is typed: outlines in whole hundredths of a mm, and one SVG."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Catalogue
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.documents.values import Document
from letterply.exports.primitives.markup import text
from letterply.exports.primitives.numbers import number, rounded
from letterply.stacks import Layer, Part, Stack

__all__ = ["PREVIEW_STEPS_PER_MM", "preview_document"]

PREVIEW_STEPS_PER_MM = 100
_COARSE_MM = 0.02
"""How far outlines may move: less than a pixel of any screen."""

_LINE_MM = 0.25
_EDGE_MM = 0.2
_WORKED = "#000000"


def preview_document(
    stack: Stack, catalogue: Catalogue, *, not_strengthened: Collection[str] = ()
) -> Document:
    """Return the layers of a stack, bottom first, from the lower left corner of the stack.

    That corner is `origin_mm` in the frame in which findings have their places. Layers that are
    `not_strengthened` though the recipe asks for it are named, bottom first.

    `rings` of a part are x, y, x, y, ... in hundredths of a millimetre, y up, the first point not
    repeated: each exterior, counter-clockwise, before its holes. `worked` are those of pockets,
    grooves and lines in its face, with the depth in mm (None where it follows from the width).

    Raises:
        UnknownName: for a material that the catalogue does not hold.

    """
    left, low, right, high = stack.bounds
    layers = [_layer(layer, catalogue, (left, low)) for layer in stack.layers]
    return {
        "title": stack.title,
        "width_mm": rounded(right - left),
        "height_mm": rounded(high - low),
        "origin_mm": [rounded(left), rounded(low)],
        "total_thickness_mm": rounded(stack.height_mm),
        "steps_per_mm": PREVIEW_STEPS_PER_MM,
        "not_strengthened": [la["name"] for la in layers if la["name"] in not_strengthened],
        "layers": layers,
        "svg": _svg(layers, right - left, high - low, stack.title),
    }


def _layer(layer: Layer, catalogue: Catalogue, origin: tuple[float, float]) -> Document:
    material = catalogue.material(layer.material)
    return {
        "name": layer.name,
        "material": layer.material,
        "colour": material.colour,
        "thickness_mm": rounded(layer.stands_mm),
        "z_mm": rounded(layer.z_mm),
        "parts": [
            {
                "name": part.name,
                "rings": _steps(part.outline, origin),
                "worked": [
                    {"depth_mm": depth, "rings": _steps(shape, origin)}
                    for depth, shape in _worked(part)
                ],
            }
            for part in layer.parts
        ],
    }


def _worked(part: Part) -> list[tuple[float | None, BaseGeometry]]:
    blind = [h for h in part.holes if h.depth_mm is not None]
    return [
        *((p.depth_mm, p.region) for p in part.pockets),
        *((g.max_depth_mm, g.region) for g in part.grooves),
        *((h.depth_mm, shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2)) for h in blind),
        *(
            (s.depth_mm, shapely.MultiLineString(s.lines).buffer(_LINE_MM / 2, quad_segs=1))
            for s in part.scribes
        ),
    ]


def _steps(shape: BaseGeometry, origin: tuple[float, float]) -> list[list[int]]:
    # To see with each point that no lines cross takes ten times as long; where the two walls of a
    # neck do, they cross back: what is lost is as narrow as what outlines may move.
    coarse = shapely.simplify(shape, _COARSE_MM, preserve_topology=False)
    rings = (np.rint((r - origin) * PREVIEW_STEPS_PER_MM) for r in region_rings(coarse))
    return [ring.astype(np.int64).ravel().tolist() for ring in rings]


def _svg(layers: list[Document], width: float, height: float, title: str) -> str:
    """Return the layers one over the other, seen from above, in real size.

    Outlines are written as the whole steps that they have already: numbers with a decimal point
    take several times as long.
    """
    w, h = number(width, 2), number(height, 2)
    step = number(1 / PREVIEW_STEPS_PER_MM)
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" role="img"><title>{text(title)}</title>'
    ]
    for layer in layers:
        rings = [ring for part in layer["parts"] for ring in part["rings"]]
        worked = [r for p in layer["parts"] for work in p["worked"] for r in work["rings"]]
        drawn.append(
            f'<g data-layer="{text(layer["name"])}" fill-rule="evenodd" '
            f'transform="matrix({step} 0 0 -{step} 0 {h})">'
            f'<path d="{_path(rings)}" fill="{layer["colour"]}" stroke="{_WORKED}" '
            f'stroke-opacity="0.4" stroke-width="{number(_EDGE_MM * PREVIEW_STEPS_PER_MM)}"/>'
        )
        if worked:
            drawn.append(f'<path d="{_path(worked)}" fill="{_WORKED}" fill-opacity="0.3"/>')
        drawn.append("</g>")
    return "".join([*drawn, "</svg>"])


def _path(rings: list[list[int]]) -> str:
    return "".join(f"M{' '.join(map(str, ring))}Z" for ring in rings)
