"""All checks of a stack, in one call."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from letterply.catalogue import Catalogue, Cutter, CutterKind, Shop
from letterply.checks.gaps.gaps import find_corners, find_slots, part_axes
from letterply.checks.gluing.lookalike import find_look_alikes
from letterply.checks.gluing.movement import find_movement
from letterply.checks.parts.webs import find_webs
from letterply.checks.parts.whole import (
    find_crumbs,
    find_depths,
    find_islands,
    find_overhangs,
    find_room,
)
from letterply.checks.thin.necks import find_thin_material
from letterply.findings import Finding, by_severity
from letterply.requests import DEFAULT_LIMITS, Limits
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.stacks import Layer, Stack

__all__ = ["check_stack", "profile_cutters", "through_cutters"]


def check_stack(
    stack: Stack,
    catalogue: Catalogue,
    shop: Shop,
    limits: Limits = DEFAULT_LIMITS,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Finding, ...]:
    """Return every finding of a stack, worst first, those of its building included.

    The catalogue is taken as it is: figures of materials in `limits` go in by
    `Catalogue.with_figures`.

    Raises:
        UnknownName: a layer's material is not in the catalogue.

    """
    found: list[Finding] = list(stack.findings)
    found.extend(find_room(stack, shop, catalogue))
    found.extend(find_overhangs(stack, limits))
    found.extend(find_movement(stack, catalogue, limits.movement))
    found.extend(find_look_alikes(stack, limits.look_alike))
    below: Layer | None = None
    for layer in stack.layers:
        found.extend(_check_layer(layer, below, catalogue, shop, limits, tolerances))
        below = layer
    return by_severity(found)


def through_cutters(thickness_mm: float, cutters: Sequence[Cutter]) -> tuple[Cutter, ...]:
    """Return the cutters that cut a profile through this thickness, smallest first."""
    fitting = [
        c
        for c in cutters
        if c.kind in (CutterKind.FLAT, CutterKind.BEAM) and c.cutting_length_mm >= thickness_mm
    ]
    return tuple(sorted(fitting, key=lambda c: (c.diameter_mm, c.key)))


def profile_cutters(layer: Layer, shop: Shop) -> tuple[Cutter, ...]:
    """Return the cutters of a shop that cut the outlines of a layer, smallest first."""
    kind = CutterKind.BEAM if shop.machine.kind == "beam" else CutterKind.FLAT
    return tuple(c for c in through_cutters(layer.thickness_mm, shop.cutters) if c.kind is kind)


def _check_layer(
    layer: Layer,
    below: Layer | None,
    catalogue: Catalogue,
    shop: Shop,
    limits: Limits,
    tolerances: Tolerances,
) -> list[Finding]:
    material = catalogue.material(layer.material)
    if layer.fixture is not None:  # its outline is not cut
        return [
            *find_depths(layer, material, shop.cutters, limits),
            *(f for part in layer.parts for f in find_webs(part, layer, material, limits.webs)),
        ]
    cutters = profile_cutters(layer, shop)
    found = [
        *find_islands(layer, below),
        *find_crumbs(layer, shop.hold_down, limits),
        *find_depths(layer, material, shop.cutters, limits),
    ]
    base = None if below is None else shapely.buffer(below.footprint, limits.overhang_mm)
    for part in layer.parts:
        inner, outer = part_axes(part, cutters, limits)
        found += find_thin_material(
            part,
            inner,
            layer,
            material,
            limits,
            tolerances.flatten_mm,
            supported=base is not None and bool(base.contains(part.outline)),
        )
        slots = find_slots(part, outer, cutters, limits, tolerances.flatten_mm)
        found += slots
        found += find_corners(part, cutters, limits, tolerances.offset_mm, slots)
        found += find_webs(part, layer, material, limits.webs)
    return found
