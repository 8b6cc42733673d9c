"""Necks and strokes: material thinner than the rule of its material and thickness."""

from __future__ import annotations

import math

from letterply.catalogue import Material
from letterply.checks.places import name_part_place
from letterply.checks.thin.strength import levers, weakest
from letterply.checks.thin.zones import Zone, thin_zones
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.requests import CheckRules
from letterply.shapes import SAME_MM, MedialAxis
from letterply.stacks import Layer, Part
from letterply.units import about_mm, about_newtons, format_mm, times_as_large

__all__ = ["find_thin_material"]


def find_thin_material(
    part: Part,
    axis: MedialAxis,
    layer: Layer,
    material: Material,
    rules: CheckRules,
    tolerance_mm: float,
    *,
    supported: bool,
) -> tuple[Finding, ...]:
    """Return necks and strokes of one part, each with the load that snaps it.

    `axis` is the part's interior axis, peeled. `supported` parts are glued flat onto a layer
    below and must only stand the handling until then.
    """
    limit = material.min_web(layer.thickness_mm)
    found: list[Finding] = []
    for zone in thin_zones(axis, limit, tolerance_mm):
        if zone.is_corner(limit, rules.tip_angle_deg):
            continue
        found.append(_finding(part, zone, layer, material, limit, rules, supported))
    return tuple(found)


def _finding(
    part: Part,
    zone: Zone,
    layer: Layer,
    material: Material,
    limit: float,
    rules: CheckRules,
    supported: bool,
) -> Finding:
    neck = zone.exits >= 2 and zone.length_mm <= rules.neck_ratio * limit
    tip = zone.exits == 1 and zone.width_mm < 0.2 * limit
    width = zone.mean_width_mm if tip else zone.width_mm
    feet, snap = zone.feet, None
    if not tip:
        # Short grain breaks first, and a letter has some in every direction.
        strength = material.weakest_mpa(layer.thickness_mm)
        cuts = levers(part.outline, zone.cuts)
        found = weakest(cuts, layer.thickness_mm, strength)
        if found is not None:
            cut, snap = found
            width, feet = cut.width_mm, cut.feet
    needed = rules.supported_load_n if supported else rules.handling_load_n
    weak = snap is not None and snap.load_n / rules.safety_factor < needed
    frail = (snap is None or not zone.exits) and zone.width_mm < limit / 4
    severity = Severity.BLOCKER if not tip and (weak or frail) else Severity.CAUTION
    kind = "neck" if neck else "stroke"
    what = "tip" if tip else ("neck" if neck else "thin stroke")
    load = "chips easily" if tip else "may break"
    if snap is not None:
        load = f"breaks at {about_newtons(snap.load_n)} at its end"
    why = (
        f"a {what} {about_mm(width, beside=limit)} wide and {about_mm(zone.length_mm)} long "
        f"{name_part_place(part, zone.at)} {load}: {format_mm(layer.thickness_mm)} "
        f"{in_sentence(material.name)} should be at least {about_mm(limit, beside=width)} wide"
    )
    data: list[tuple[str, object]] = [
        ("length_mm", round(zone.length_mm, 3)),
        ("exits", zone.exits),
    ]
    if snap is not None:
        data += [
            ("snap_in_plane_n", round(snap.in_plane_n, 2)),
            ("snap_out_of_plane_n", round(snap.out_of_plane_n, 2)),
            ("lever_mm", round(snap.reach_mm, 2)),
            ("safety_factor", rules.safety_factor),
        ]
    return Finding(
        code=kind,
        severity=severity,
        layer=layer.name,
        part=part.name,
        where=Place("point", (zone.at,)) if tip else Place("segment", feet),
        measured=round(width, 4),
        limit=round(limit, 4),
        why=why,
        remedies=_remedies(width, limit),
        data=tuple(data),
    )


def _remedies(width: float, limit: float) -> tuple[Remedy, ...]:
    grow = math.ceil((limit - width) / 2 * 20) / 20
    factor = limit / max(width, SAME_MM)
    remedies = [Remedy(RemedyAction.GROW_BY, f"grow the outline by {about_mm(grow)}", grow, "mm")]
    if factor < 4:
        remedies.append(
            Remedy(
                RemedyAction.RAISE_SIZE_TO,
                f"make it {times_as_large(factor)}",
                round(factor, 3),
                "times",
            )
        )
    remedies.append(Remedy(RemedyAction.CHANGE_FONT, "take a heavier font or weight"))
    return tuple(remedies)
