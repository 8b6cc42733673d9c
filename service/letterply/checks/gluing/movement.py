"""Movement: layers that are glued flat and grow by different amounts as rooms change.

A layer of wood swells and shrinks with the damp, across the grain far more than along it; one of
acrylic or metal grows with the heat. Two layers glued over an area are held together by the
adhesive, which bears only so much slip before it, or the thinner layer, gives. For each pair of
neighbouring layers the check takes the largest stretch of glue along x and along y:

    moves apart by = stretch * (difference of strains by humidity + difference by heat)

the two taken in the worst case together. It is the whole difference from edge to edge; where a
joint gives evenly from its middle, each edge slips by half of it. Grain runs along x, as it does
on the stock (`Stock.width_mm`). All mm; what the limits are worth is said in `MovementRules`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import shapely

from letterply.catalogue import Catalogue, Material, MaterialClass
from letterply.checks.gluing.moisture import FIBRE_SATURATION_PERCENT, coefficient_change
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.requests import DEFAULT_MOVEMENT_RULES, MovementRules
from letterply.said import say
from letterply.stacks import Layer, Part, Stack, part_words
from letterply.units import about_mm, counted

__all__ = ["find_movement", "strains"]

_WOODS = (MaterialClass.SOFTWOOD, MaterialClass.HARDWOOD)

_CATALOGUE_SWING_PERCENT = 4.0
"""Moisture over which the catalogue states the change of solid woods: from 6 % to 10 %."""

_PLYWOOD_ALONG = 0.18 / 0.27
"""Swelling of plywood along its face grain as a share of that across: 0.18 % to 0.27 %, 22 species
from 30 % to 90 % relative humidity (UK Forest Products Research Laboratory)."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """The glued stretch of one part on another along one axis."""

    upper: Part
    ends: tuple[tuple[float, float], tuple[float, float]]
    length_mm: float
    humidity_mm: float
    heat_mm: float

    @property
    def apart_mm(self) -> float:
        return self.humidity_mm + self.heat_mm


def strains(material: Material, rules: MovementRules) -> tuple[tuple[float, float], float]:
    """Return how a material grows over a year: by humidity along x and y, and by heat.

    Strains are plain ratios. Where the catalogue has no thermal expansion, humidity governs, and
    heat counts as nothing.
    """
    heat = (material.thermal_expansion_per_k or 0.0) * rules.temperature_swing_k
    across = material.moisture_change_percent / 100
    if material.kind in _WOODS:
        swing = rules.dampest_percent - rules.driest_percent
        coefficient = across / _CATALOGUE_SWING_PERCENT
        across = coefficient_change(1.0, coefficient, rules.driest_percent, rules.dampest_percent)
        along = rules.along_grain_percent / 100 * swing / FIBRE_SATURATION_PERCENT
    elif material.kind is MaterialClass.PLYWOOD:
        along = across * _PLYWOOD_ALONG
    else:
        along = across
    return (along, across), heat


def find_movement(
    stack: Stack, catalogue: Catalogue, rules: MovementRules = DEFAULT_MOVEMENT_RULES
) -> tuple[Finding, ...]:
    """Return a finding for each two layers that move apart by more than their joint bears.

    It is placed on the glued stretch that moves most, and counts the parts that move too much.

    Raises:
        UnknownName: a layer's material is not in the catalogue.

    """
    found: list[Finding] = []
    for lower, upper in pairwise(stack.layers):
        stretches = _stretches(lower, upper, catalogue, rules)
        limit = rules.elastic_slip_mm if rules.elastic else rules.rigid_slip_mm
        over = [s for s in stretches if s.apart_mm > limit]
        if over:
            worst = max(over, key=lambda s: s.apart_mm)
            parts = {s.upper.name for s in over}
            found.append(_finding(worst, len(parts), lower, upper, catalogue, rules))
    return tuple(found)


def _stretches(
    lower: Layer, upper: Layer, catalogue: Catalogue, rules: MovementRules
) -> list[_Stretch]:
    """Return the glued stretches of two layers, along x and along y, in the order of the parts."""
    (below_x, below_y), below_heat = strains(catalogue.material(lower.material), rules)
    (above_x, above_y), above_heat = strains(catalogue.material(upper.material), rules)
    heat = abs(above_heat - below_heat)
    damp_x, damp_y = abs(above_x - below_x), abs(above_y - below_y)
    if heat + max(damp_x, damp_y) == 0:
        return []
    found: list[_Stretch] = []
    for part, glued in _glued(lower.parts, upper.parts):
        left, low, right, high = glued
        x, y = (left + right) / 2, (low + high) / 2
        width, height = right - left, high - low
        found += [
            _Stretch(part, ((left, y), (right, y)), width, width * damp_x, width * heat),
            _Stretch(part, ((x, low), (x, high)), height, height * damp_y, height * heat),
        ]
    return found


def _glued(
    lower: Iterable[Part], upper: Iterable[Part]
) -> list[tuple[Part, tuple[float, float, float, float]]]:
    """Return each upper part that lies on a lower one, and the bounds of where it does."""
    below = list(lower)
    tree = shapely.STRtree([p.outline for p in below])
    found = []
    for part in upper:
        for row in sorted(tree.query(part.outline, predicate="intersects").tolist()):
            shared = shapely.intersection(part.outline, below[row].outline)
            if shared.area > 0:
                found.append((part, shared.bounds))
    return found


def _finding(
    worst: _Stretch,
    count: int,
    lower: Layer,
    upper: Layer,
    catalogue: Catalogue,
    rules: MovementRules,
) -> Finding:
    apart = worst.apart_mm
    beyond = apart > rules.elastic_slip_mm
    limit = rules.elastic_slip_mm if rules.elastic else rules.rigid_slip_mm
    names = [in_sentence(catalogue.material(la.material).name) for la in (upper, lower)]
    adhesive = say("elastic") if rules.elastic else say("rigid")
    others = say(" {count} move too much.", count=counted(count, "part")) if count > 1 else ""
    why = say(
        "{part}, {above} on {below}, moves by up to {apart} over {length} in "
        "a year indoors: {adhesive} glue bears about {limit}.{others}",
        part=part_words(worst.upper),
        above=names[0],
        below=names[1],
        apart=about_mm(apart, beside=limit),
        length=about_mm(worst.length_mm),
        adhesive=adhesive,
        limit=about_mm(limit, beside=apart),
        others=others,
    )
    return Finding(
        code="movement",
        severity=Severity.CAUTION if beyond else Severity.NOTE,
        layer=upper.name,
        part=worst.upper.name,
        where=Place("segment", worst.ends),
        measured=round(apart, 4),
        limit=limit,
        why=why,
        remedies=_remedies(worst, lower, rules, limit),
        data=(
            ("below", lower.name),
            ("length_mm", round(worst.length_mm, 3)),
            ("humidity_mm", round(worst.humidity_mm, 4)),
            ("heat_mm", round(worst.heat_mm, 4)),
            ("edge_slip_mm", round(apart / 2, 4)),
            ("parts", count),
        ),
    )


def _remedies(
    worst: _Stretch, lower: Layer, rules: MovementRules, limit: float
) -> tuple[Remedy, ...]:
    remedies: list[Remedy] = []
    longest = round(worst.length_mm * limit / worst.apart_mm, 1)
    if not rules.elastic:
        text = say("glue it with an elastic adhesive, in a thick layer")
        if worst.apart_mm > rules.elastic_slip_mm:
            text += say(", in the middle only")
        remedies.append(Remedy(RemedyAction.USE_ELASTIC_ADHESIVE, text, "elastic"))
    if sum(h.purpose == "dowel" for h in worst.upper.holes) > 1:
        slot = round(worst.apart_mm, 2)
        remedies.append(
            Remedy(
                RemedyAction.SLOT_HOLES,
                say(
                    "keep one dowel hole round and make the others {slot} longer",
                    slot=about_mm(slot),
                ),
                slot,
                "mm",
            )
        )
    remedies.append(
        Remedy(
            RemedyAction.SPLIT,
            say(
                "glue it in pieces of at most {longest}, with gaps between",
                longest=about_mm(longest),
            ),
            longest,
            "mm",
        )
    )
    remedies.append(
        Remedy(
            RemedyAction.CHANGE_MATERIAL,
            say("make both layers of the same material"),
            lower.material,
        )
    )
    return tuple(remedies)
