"""How strong a beam is to be: the maker's own figures, a material and thickness each.

A power that suits one source burns with another, so none is invented: a sheet without figures of
its own is not cut. Percent of full power, mm, mm/min.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Beam, Catalogue, Material
from letterply.errors import InputError, Mistakes
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.requests import BeamPower
from letterply.said import say
from letterply.units import format_feed, format_mm

__all__ = [
    "BEAM_LINE_MM",
    "check_powers",
    "missing_power",
    "missing_powers",
    "power_for",
]

BEAM_LINE_MM = 0.1
"""Depth that stands for a line drawn by a beam, whose depth nobody sets; common practice, no
source."""

_SAME_MM = 0.05
"""Thicknesses that differ by less are one sheet."""


def power_for(powers: Sequence[BeamPower], material: str, thickness_mm: float) -> BeamPower | None:
    """Return the figures for a sheet, or None where the maker has entered none."""
    for power in powers:
        if power.material == material and abs(power.thickness_mm - thickness_mm) < _SAME_MM:
            return power
    return None


def missing_power(material: Material, thickness_mm: float, *, scribing: bool = False) -> Finding:
    """Return the blocker of a sheet for which no power to cut, or to scribe, has been entered."""
    sheet = say(
        "{thickness} {material}",
        thickness=format_mm(thickness_mm),
        material=in_sentence(material.name),
    )
    what = say("draw lines on") if scribing else say("cut")
    field = "scribe" if scribing else "cut"
    return Finding(
        code="power",
        severity=Severity.BLOCKER,
        why=(
            say(
                "the power of your beam to {what} {sheet} is not known, so there is no "
                "program: enter your own figure under 'power' in the shop",
                what=what,
                sheet=sheet,
            )
        ),
        remedies=(
            Remedy(
                RemedyAction.ENTER_POWER,
                say(
                    'find it on scrap by your machine\'s manual, then add {{"material": '
                    '"{material}", "thickness": "{thickness}", "{field}": percent of full '
                    "power}} to 'shop.power'",
                    material=material.key,
                    thickness=format_mm(thickness_mm),
                    field=field,
                ),
            ),
        ),
        data=(("field", "shop.power"), ("material", material.key), ("thickness_mm", thickness_mm)),
    )


def missing_powers(
    sheets: Iterable[tuple[str, float, bool]],
    machine: Machine,
    powers: Sequence[BeamPower],
    catalogue: Catalogue,
) -> list[Finding]:
    """Return a blocker for each kind of sheet that a beam is to work at a power not entered.

    Args:
        sheets: material, thickness and whether lines are drawn on it, of each layer.
        machine: a router asks for no power.
        powers: what the maker has entered.
        catalogue: materials; those that no beam may cut are refused elsewhere.

    """
    if machine.kind != "beam":
        return []
    found: list[Finding] = []
    for key, thickness, lines in sheets:
        material = catalogue.material(key)
        if material.beam is Beam.REFUSED:
            continue
        power = power_for(powers, key, thickness)
        if power is None:
            found.append(missing_power(material, thickness))
        elif lines and power.scribe_percent is None:
            found.append(missing_power(material, thickness, scribing=True))
    return [f for i, f in enumerate(found) if f not in found[:i]]


def check_powers(
    powers: Sequence[BeamPower], catalogue: Catalogue, machine: Machine, field: str
) -> tuple[BeamPower, ...]:
    """Return the figures of a request, which this machine can follow.

    Raises:
        InputError: `bad-shop` where there is no beam or a sheet is entered twice, `out-of-range`
            for a feed that is too fast; `UnknownName` for a material that is not there.

    """
    if powers and machine.kind != "beam":
        raise InputError(
            f"The machine {machine.name!r} has no beam.",
            code="bad-shop",
            field=field,
            expected="no power, or a machine with a beam",
        )
    mistakes = Mistakes()
    for number, power in enumerate(powers):
        where = f"{field}.{number}"
        mistakes.trying(catalogue.material, power.material, field=f"{where}.material")
        if power_for(powers[:number], power.material, power.thickness_mm) is not None:
            mistakes.tell(
                "bad-shop",
                f"The power for {format_mm(power.thickness_mm)} {power.material!r} is there twice.",
                where,
                "one entry for each material and thickness",
            )
        feed = power.feed_mm_per_min
        if feed is not None and feed > machine.max_feed_mm_per_min:
            mistakes.tell(
                "out-of-range",
                f"The machine {machine.name!r} does not go {format_feed(feed)}.",
                f"{where}.feed",
                f"at most {format_feed(machine.max_feed_mm_per_min)}",
            )
    mistakes.raise_any()
    return tuple(powers)
