"""How strong a beam is to be: the maker's own figures, a material and thickness each.

A power that suits one source burns with another, so none is invented: a sheet without figures of
its own is not cut. Percent of full power, mm, mm/min.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from letterply.catalogue.model import Beam, Catalogue, Machine, Material
from letterply.errors import InputError
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.units import format_mm, parse_feed, parse_length

__all__ = [
    "BEAM_LINE_MM",
    "BeamPower",
    "missing_power",
    "missing_powers",
    "parse_powers",
    "power_for",
]

BEAM_LINE_MM = 0.1
"""Depth that stands for a line drawn by a beam, whose depth nobody sets; common practice, no
source."""

_FIELDS = ("material", "thickness", "cut", "scribe", "feed", "passes")
_MOST = 200
_MOST_PASSES = 20
_SAME_MM = 0.05
"""Thicknesses that differ by less are one sheet."""


@dataclass(frozen=True, slots=True)
class BeamPower:
    """A maker's own figures for a sheet under the beam.

    Attributes:
        material: key of the material.
        thickness_mm: thickness of the sheet.
        cut_percent: power that goes through it.
        scribe_percent: power that draws a line on its face; None when not entered.
        feed_mm_per_min: feed of a cut; None for a slow start.
        passes: how many times the beam goes along a cut.

    """

    material: str
    thickness_mm: float
    cut_percent: float
    scribe_percent: float | None = None
    feed_mm_per_min: float | None = None
    passes: int = 1


def power_for(powers: Sequence[BeamPower], material: str, thickness_mm: float) -> BeamPower | None:
    """Return the figures for a sheet, or None where the maker has entered none."""
    for power in powers:
        if power.material == material and abs(power.thickness_mm - thickness_mm) < _SAME_MM:
            return power
    return None


def missing_power(material: Material, thickness_mm: float, *, scribing: bool = False) -> Finding:
    """Return the blocker of a sheet for which no power to cut, or to scribe, has been entered."""
    sheet = f"{material.name} {format_mm(thickness_mm)}"
    what = "to draw its lines" if scribing else "to cut it"
    field = "scribe" if scribing else "cut"
    return Finding(
        code="power",
        severity=Severity.BLOCKER,
        why=(
            f"{sheet}: how strong the beam must be {what} is not known, so no program is handed "
            "out; enter your own figure under power in the shop"
        ),
        remedies=(
            Remedy(
                RemedyAction.ENTER_POWER,
                f'add {{"material": "{material.key}", "thickness": "{thickness_mm:g} mm", '
                f'"{field}": percent of full power}} to shop.power; find it on scrap by your '
                "machine's manual",
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


def parse_powers(
    raw: object, catalogue: Catalogue, machine: Machine, field: str
) -> tuple[BeamPower, ...]:
    """Return the figures in a request, in its order.

    Raises:
        InputError: `bad-shop`, `unknown-field`, `missing-field`, `out-of-range`; `UnknownName`
            for a material that is not there.

    """
    if raw is None:
        return ()
    if machine.kind != "beam":
        raise _bad(f"{machine.name} has no beam.", field, "no power, or a machine with a beam")
    if not isinstance(raw, list | tuple) or not 0 < len(raw) <= _MOST:
        raise _bad(
            "power is not a list.",
            field,
            f"a list of 1 to {_MOST} entries with {', '.join(_FIELDS[:3])}",
        )
    found: list[BeamPower] = []
    for number, entry in enumerate(raw):
        where = f"{field}.{number}"
        power = _power(entry, catalogue, machine, where)
        if power_for(found, power.material, power.thickness_mm) is not None:
            raise _bad(
                f"{power.material} {power.thickness_mm:g} mm is entered twice.",
                where,
                "one entry for each material and thickness",
            )
        found.append(power)
    return tuple(found)


def _power(entry: object, catalogue: Catalogue, machine: Machine, field: str) -> BeamPower:
    if not isinstance(entry, Mapping):
        raise _bad("This entry is not an object.", field, f"an object with {', '.join(_FIELDS)}")
    for name in entry:
        if name not in _FIELDS:
            raise InputError(
                f"A power has no {name!r}.",
                code="unknown-field",
                field=f"{field}.{name}",
                expected=", ".join(_FIELDS),
            )
    for name in _FIELDS[:3]:
        if name not in entry:
            raise InputError(
                f"{name} is missing.",
                code="missing-field",
                field=f"{field}.{name}",
                expected="material, thickness, and cut in percent of full power",
            )
    material = catalogue.material(str(entry["material"]), field=f"{field}.material")
    thickness = parse_length(entry["thickness"], field=f"{field}.thickness")
    _within(thickness, entry["thickness"], 300.0, f"{field}.thickness", "mm")
    feed = None
    if entry.get("feed") is not None:
        feed = parse_feed(entry["feed"], field=f"{field}.feed")
        _within(feed, entry["feed"], machine.max_feed_mm_per_min, f"{field}.feed", "mm/min")
    scribe = entry.get("scribe")
    return BeamPower(
        material.key,
        thickness,
        _percent(entry["cut"], f"{field}.cut"),
        None if scribe is None else _percent(scribe, f"{field}.scribe"),
        feed,
        _passes(entry.get("passes", 1), f"{field}.passes"),
    )


def _percent(value: Any, field: str) -> float:
    good = isinstance(value, int | float) and not isinstance(value, bool)
    if not good or not 0 < value <= 100:
        raise InputError(
            f"{value!r} is not a share of full power.",
            code="out-of-range",
            field=field,
            expected="percent: a number above 0, at most 100",
        )
    return float(value)


def _passes(value: object, field: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= _MOST_PASSES:
        raise InputError(
            f"{value!r} passes cannot be made.",
            code="out-of-range",
            field=field,
            expected=f"a whole number from 1 to {_MOST_PASSES}",
        )
    return value


def _within(figure: float, value: object, most: float, field: str, unit: str) -> None:
    if not 0 < figure <= most:
        raise InputError(
            f"{value!r} is out of range.",
            code="out-of-range",
            field=field,
            expected=f"above 0, at most {most:g} {unit}",
        )


def _bad(message: str, field: str, expected: str) -> InputError:
    return InputError(message, code="bad-shop", field=field, expected=expected)
