"""All checks of a stack, in one call."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import shapely

from letterply.catalogue import Catalogue, Cutter, CutterRack, Shop, missing_powers
from letterply.checks.gaps.gaps import find_corners, find_slots, find_unentered, part_axes
from letterply.checks.gathering import gathered
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
from letterply.checks.parts.workable import find_unworkable
from letterply.checks.thin.necks import find_thin_material
from letterply.findings import Finding
from letterply.memo import Once, every_time
from letterply.requests import DEFAULT_LIMITS, Limits
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.stacks import Layer, Part, Stack

__all__ = ["check_stack", "find_refusals", "profile_cutters"]


def check_stack(
    stack: Stack,
    catalogue: Catalogue,
    shop: Shop,
    limits: Limits = DEFAULT_LIMITS,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
    once: Once = every_time,
    *,
    alike: bool = True,
) -> tuple[Finding, ...]:
    """Return every finding of a stack, worst first, those of its building included.

    Without `alike` look-alikes are left out: they block nothing, and take long to be found.

    What is the matter in several places of a layer is one finding (`letterply.checks.gathering`).

    The catalogue is taken as it is: figures of materials in `limits` go in by
    `Catalogue.with_figures`. What takes longest is asked for through `once`, as questions that
    name all but catalogue, limits and tolerances.

    Raises:
        UnknownName: a layer's material is not in the catalogue.

    """
    found: list[Finding] = list(stack.findings)
    found.extend(find_room(stack, shop, catalogue))
    found.extend(missing_powers(_sheets_of(stack), shop.machine, shop.power, catalogue))
    found.extend(find_overhangs(stack, limits))
    found.extend(find_movement(stack, catalogue, limits.movement))
    level = replace(stack, layers=tuple(replace(la, z_mm=0.0) for la in stack.layers))
    if alike:
        found.extend(
            once(("look-alike", level.layers), lambda: find_look_alikes(level, limits.look_alike))
        )
    found.extend(find_refusals(stack, catalogue, shop, tolerances))
    below: Layer | None = None
    for layer in level.layers:
        found.extend(_check_layer(layer, below, catalogue, shop, limits, tolerances, once))
        below = layer
    return gathered(found)


def find_refusals(
    stack: Stack,
    catalogue: Catalogue,
    shop: Shop,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Finding, ...]:
    """Return what the shop's rack refuses of a stack, what helps to make it included."""
    found: list[Finding] = []
    for layer in (*stack.layers, *stack.fixtures):
        rack = CutterRack.of(shop, catalogue.material(layer.material))
        found.extend(find_unworkable(layer, rack, shop.hold_down, tolerances))
    return tuple(found)


def _sheets_of(stack: Stack) -> list[tuple[str, float, bool]]:
    """Return material, thickness and whether lines are drawn on it, of each layer that is cut."""
    return [(la.material, la.thickness_mm, any(p.scribes for p in la.parts)) for la in stack.layers]


def profile_cutters(layer: Layer, shop: Shop, catalogue: Catalogue) -> tuple[Cutter, ...]:
    """Return the cutters of a shop that cut the outlines of a layer, smallest first."""
    rack = CutterRack.of(shop, catalogue.material(layer.material))
    return rack.through(layer.thickness_mm, shop.hold_down)


def _check_layer(
    layer: Layer,
    below: Layer | None,
    catalogue: Catalogue,
    shop: Shop,
    limits: Limits,
    tolerances: Tolerances,
    once: Once,
) -> list[Finding]:
    material = catalogue.material(layer.material)
    rack = CutterRack.of(shop, material)
    if layer.fixture is not None:  # its outline is not cut
        return [
            *find_depths(layer, rack, limits),
            *(
                f
                for part in layer.parts
                for f in find_webs(part, layer, material, limits.webs, rack, tolerances)
            ),
        ]
    cutters = rack.through(layer.thickness_mm, shop.hold_down)
    supported = _lying_on(layer, below, limits.overhang_mm)
    crumbs = find_crumbs(layer, shop.hold_down, limits)
    # That a speck is one says all there is to say of it.
    least = material.min_web(layer.thickness_mm)
    specks = {f.part for f in crumbs if f.measured is not None and f.measured < least}
    bare = replace(layer, parts=(), repair=None)
    found = [*find_islands(layer, _lying_on(layer, below, 0.0)), *crumbs]
    found += find_depths(layer, rack, limits)
    for part, lies_on in zip(layer.parts, supported, strict=True):
        if part.name in specks:
            continue
        own, at = replace(part, history=(), letter_indices=()).at_its_corner()
        ask = partial(_check_part, own, bare, cutters, rack, limits, tolerances, lies_on=lies_on)
        found += (f.moved(*at) for f in once(("part", own, bare, lies_on, cutters), ask))
    return found


def _lying_on(layer: Layer, below: Layer | None, overhang_mm: float) -> tuple[bool, ...]:
    """Return for each part of a layer whether it lies on the one below but for a narrow rim."""
    if below is None:
        return (False,) * len(layer.parts)
    base = shapely.buffer(below.footprint, overhang_mm)
    shapely.prepare(base)
    return tuple(bool(base.contains(part.outline)) for part in layer.parts)


def _check_part(
    part: Part,
    layer: Layer,
    cutters: tuple[Cutter, ...],
    rack: CutterRack,
    limits: Limits,
    tolerances: Tolerances,
    *,
    lies_on: bool,
) -> tuple[Finding, ...]:
    """Return what is found along the outlines of a part, wherever it lies.

    Of its layer no more is asked than material, thickness and name.
    """
    material = rack.material
    inner, outer = part_axes(part, cutters, limits)
    slots = find_slots(part, outer, cutters, limits, tolerances.flatten_mm)
    slots += find_unentered(part, cutters, tolerances.offset_mm, slots)
    return (
        *find_thin_material(
            part, inner, layer, material, limits, tolerances.flatten_mm, supported=lies_on
        ),
        *slots,
        *find_corners(part, cutters, limits, tolerances.offset_mm, slots),
        *find_webs(part, layer, material, limits.webs, rack, tolerances),
    )
