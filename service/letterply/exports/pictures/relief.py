"""One layer, drawn so that it looks like a thing: face, walls, what is worked into it, shadow.

The elements are SVG text, y down; a `Frame` says where the picture's corner lies. Whatever needs
a definition (clip, blur) takes its id from the caller's prefix, so that layers do not disturb one
another.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Material, MaterialClass
from letterply.exports.cutfiles.drawing import is_counter_clockwise, region_rings
from letterply.exports.primitives.colours import darker, lighter
from letterply.exports.primitives.markup import attribute
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.textures import surface
from letterply.exports.primitives.views import Frame, View, visible_walls
from letterply.shapes import as_region
from letterply.stacks import Layer

__all__ = ["layer_relief", "layer_shadow"]

Points = NDArray[np.float64]

_FINE_MM = 0.02
"""Outlines are simplified by this for pictures; no screen shows it."""

_PLY_MM = 1.5
_LEVEL_MM = 0.01
"""Faces that differ in height by less are level: no wall and no shadow is seen."""


def layer_shadow(layer: Layer, view: View, frame: Frame, z_mm: float, prefix: str) -> list[str]:
    """Return the shadow that a layer throws on what lies at height `z_mm`; none when sunk in it."""
    rise = layer.z_mm + layer.stands_mm - z_mm
    if rise <= _LEVEL_MM:
        return []
    region = translate(_fine(layer.region), rise * 0.36, -rise * 0.45)
    rings = [view.project(ring, z_mm) for ring in region_rings(region)]
    return [
        _blur(f"{prefix}-blur", rings, frame, 0.35 + rise * 0.16),
        f'<path d="{frame.path(rings)}" fill="#000000" fill-opacity="0.34" fill-rule="evenodd" '
        f'filter="url(#{prefix}-blur)"/>',
    ]


def layer_relief(
    layer: Layer, material: Material, view: View, frame: Frame, low_mm: float, prefix: str
) -> list[str]:
    """Return walls and face of a layer; nothing below height `low_mm` is seen of its walls."""
    high = layer.z_mm + layer.stands_mm
    region = _fine(layer.region)
    rings = region_rings(region)
    found = _walls(rings, material, view, frame, min(max(layer.z_mm, low_mm), high), high)
    colour = material.colour
    face = frame.path(view.project(r, high) for r in rings)
    found.append(
        f'<path d="{face}" fill="{colour}" fill-rule="evenodd" '
        f"data-letterply-layer={attribute(layer.name)}/>"
    )
    found.extend(surface(region, material, view, frame, high))
    for place, (sunk, depth) in enumerate(_sunk(layer)):
        found.extend(_pocket(sunk, depth, colour, view, frame, high, f"{prefix}-p{place}"))
    for part in layer.parts:
        for groove in part.grooves:
            found.extend(_groove(_fine(groove.region), colour, view, frame, high))
    found.extend(_scribes(layer, colour, view, frame, high))
    found.append(
        f'<path d="{face}" fill="none" stroke="{darker(colour, 0.45)}" stroke-width="0.12" '
        'stroke-linejoin="round"/>'
    )
    found.append(
        f'<path d="{_lit_edges(rings, view, frame, high)}" fill="none" '
        f'stroke="{lighter(colour, 0.5)}" stroke-width="0.3" stroke-opacity="0.8"/>'
    )
    return found


def _blur(name: str, rings: list[Points], frame: Frame, deviation: float) -> str:
    """Return a blur that works on no more of the picture than it must."""
    every = np.vstack(rings)
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    room = 3 * deviation
    x, y = left + frame.left_mm - room, frame.top_mm - high - room
    return (
        f'<filter id="{name}" filterUnits="userSpaceOnUse" x="{number(x, 1)}" '
        f'y="{number(y, 1)}" width="{number(right - left + 2 * room, 1)}" '
        f'height="{number(high - low + 2 * room, 1)}">'
        f'<feGaussianBlur stdDeviation="{number(deviation, 2)}"/></filter>'
    )


def _fine(region: BaseGeometry) -> BaseGeometry:
    return as_region(region.simplify(_FINE_MM))


def _walls(
    rings: list[Points], material: Material, view: View, frame: Frame, low: float, high: float
) -> list[str]:
    """Return the walls: those of holes first, for they are seen through their mouths alone."""
    if high - low <= _LEVEL_MM:
        return []
    plies = 1
    if material.kind is MaterialClass.PLYWOOD:
        plies = max(3, round((high - low) / _PLY_MM) | 1)
    heights = np.linspace(low, high, plies + 1).tolist()
    outer = [is_counter_clockwise(ring) for ring in rings]
    inner_rings = tuple(r for r, out in zip(rings, outer, strict=True) if not out)
    outer_rings = tuple(r for r, out in zip(rings, outer, strict=True) if out)
    found = []
    for some in (inner_rings, outer_rings):
        for ply, (z0, z1) in enumerate(pairwise(heights)):
            base = darker(material.colour, 0.26) if ply % 2 else material.colour
            by_shade: dict[float, list[Points]] = {}
            for brightness, ring in visible_walls(some, view, z0, z1):
                by_shade.setdefault(brightness, []).append(ring)
            for brightness, strips in sorted(by_shade.items()):
                tone = darker(base, 0.44 - 0.34 * brightness)
                found.append(
                    f'<path d="{frame.path(strips)}" fill="{tone}" stroke="{tone}" '
                    'stroke-width="0.12" stroke-linejoin="round"/>'
                )
    return found


def _sunk(layer: Layer) -> list[tuple[BaseGeometry, float]]:
    """Return what is sunk to a flat floor: pockets and blind holes, the shallow first."""
    found: list[tuple[BaseGeometry, float]] = []
    for part in layer.parts:
        found.extend((_fine(p.region), p.depth_mm) for p in part.pockets)
        for hole in part.holes:
            if hole.depth_mm is not None:
                disc = Point(hole.x_mm, hole.y_mm).buffer(hole.diameter_mm / 2)
                found.append((as_region(disc), hole.depth_mm))
    return sorted(found, key=lambda f: f[1])


def _pocket(
    region: BaseGeometry,
    depth: float,
    colour: str,
    view: View,
    frame: Frame,
    high: float,
    prefix: str,
) -> list[str]:
    rings = region_rings(region)
    seen = [view.project(r, high) for r in rings]
    mouth = frame.path(seen)
    # What the edges towards the light leave of the floor in the light.
    lit = frame.path(r + (0.7 * depth, -0.7 * depth) for r in seen)
    inward = tuple(r[::-1] for r in rings)  # the material lies outside
    walls: dict[float, list[Points]] = {}
    for brightness, strip in visible_walls(inward, view, high - depth, high):
        walls.setdefault(brightness, []).append(strip)
    found = [
        f'<clipPath id="{prefix}"><path d="{mouth}" clip-rule="evenodd"/></clipPath>',
        _blur(f"{prefix}-soft", seen, frame, 0.2 + 0.18 * depth),
        f'<g clip-path="url(#{prefix})">',
        f'<path d="{mouth}" fill="{darker(colour, 0.5)}" fill-rule="evenodd"/>',
        f'<path d="{lit}" fill="{darker(colour, 0.14)}" fill-rule="evenodd" '
        f'filter="url(#{prefix}-soft)"/>',
    ]
    for brightness, strips in sorted(walls.items()):
        tone = darker(colour, 0.62 - 0.3 * brightness)
        found.append(f'<path d="{frame.path(strips)}" fill="{tone}"/>')
    found.append("</g>")
    return found


def _groove(region: BaseGeometry, colour: str, view: View, frame: Frame, high: float) -> list[str]:
    """Return a V groove: the wall that turns its back to the light is dark, the other bright."""
    if region.is_empty or not region.length:
        return []
    half = region.area / region.length  # half the mean width of a stroke
    lit = as_region(shapely.intersection(region, translate(region, half * 0.7, -half * 0.7)))
    edge = frame.path(view.project(r, high) for r in region_rings(region))
    bright = frame.path(view.project(r, high) for r in region_rings(lit))
    return [
        f'<path d="{edge}" fill="{darker(colour, 0.55)}" fill-rule="evenodd"/>',
        f'<path d="{bright}" fill="{lighter(colour, 0.22)}" fill-rule="evenodd"/>',
        f'<path d="{edge}" fill="none" stroke="{darker(colour, 0.6)}" stroke-width="0.15"/>',
    ]


def _scribes(layer: Layer, colour: str, view: View, frame: Frame, high: float) -> list[str]:
    lines = [
        view.project(np.asarray(line.coords)[:, :2], high)
        for part in layer.parts
        for scribe in part.scribes
        for line in scribe.lines
    ]
    if not lines:
        return []
    lit = [line + (0.12, -0.12) for line in lines]
    return [
        f'<path d="{frame.path((), lit)}" fill="none" stroke="{lighter(colour, 0.45)}" '
        'stroke-width="0.3"/>',
        f'<path d="{frame.path((), lines)}" fill="none" stroke="{darker(colour, 0.6)}" '
        'stroke-width="0.3"/>',
    ]


def _lit_edges(rings: list[Points], view: View, frame: Frame, high: float) -> str:
    """Return the edges of the face that turn to the light, as path data."""
    lines = []
    for ring in rings:
        along = np.roll(ring, -1, axis=0) - ring
        bright = along[:, 1] * -0.6 - along[:, 0] * 0.8 > 0
        seen = view.project(ring, high)
        for start in np.flatnonzero(bright & ~np.roll(bright, 1)).tolist():
            stop = start
            while bright[stop % len(ring)] and stop < start + len(ring):
                stop += 1
            lines.append(seen[np.arange(start, stop + 1) % len(ring)])
    return frame.path((), lines)
