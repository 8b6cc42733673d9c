"""Readings as they were typed: texts in, lengths and letters out, with every mistake at once.

What no caliper can have read on this piece is refused: a slip of a digit or of a unit would make
every later plan wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from letterply.errors import InputError, Mistakes, shown
from letterply.pieces.model import Piece, ReadAt
from letterply.requests import MeasuredRequest
from letterply.units import MM_PER_INCH, format_exact, parse_length

__all__ = ["Instrument", "read_readings"]

_RESOLUTION_MM, _RESOLUTION_IN = 0.01, 0.0005
_ZERO_MM, _ZERO_IN = 0.02, 0.001
_FINEST_MM, _COARSEST_MM = 1e-4, 0.5


@dataclass(frozen=True, slots=True)
class Instrument:
    """With what it was measured.

    Attributes:
        resolution_mm: the smallest step that is told.
        zero_mm: how far z may have been off when it was zeroed.

    """

    resolution_mm: float
    zero_mm: float


def read_readings(
    piece: Piece, asked: MeasuredRequest, units: str
) -> tuple[dict[str, float], dict[str, str], Instrument]:
    """Return lengths in mm and letters by the names of their fields, and the instrument.

    `units` are those in which the sheet of the piece speaks: bare numbers are in them unless the
    request says otherwise.

    Raises:
        InputError: every mistake in its data: `unknown-field`, `missing-field`, `out-of-range`,
            `unknown-choice`, and those of lengths.

    """
    mistakes = Mistakes()
    inch = (asked.units or units) == "inch"
    scale = MM_PER_INCH if inch else 1.0
    fields = {r.name: r for r in piece.reads}
    lengths: dict[str, float] = {}
    letters: dict[str, str] = {}
    for name, value in asked.readings.items():
        where = f"readings.{name}"
        field = fields.get(name)
        if field is None:
            known = ", ".join(fields)
            mistakes.tell("unknown-field", f"The piece has no field {name!r}.", where, known)
        elif field.choices:
            letter = str(value).strip().upper()
            if letter in field.choices:
                letters[name] = letter
            else:
                mistakes.tell(
                    "unknown-choice",
                    f"{shown(value)} is no step of the ladder.",
                    where,
                    ", ".join(field.choices),
                )
        else:
            length = mistakes.trying(_length, value, scale, where)
            if length is not None and _can_be(field, length, where, mistakes):
                lengths[name] = length
    for name, field in fields.items():
        if field.needed and name not in asked.readings:
            mistakes.tell(
                "missing-field", f"{field.label} is missing.", f"readings.{name}", "what was read"
            )
    instrument = _instrument(asked, mistakes, inch=inch)
    mistakes.raise_any()
    assert instrument is not None
    return lengths, letters, instrument


def _instrument(asked: MeasuredRequest, mistakes: Mistakes, *, inch: bool) -> Instrument | None:
    """Return with what it was measured, or None where that cannot be; each mistake is noted."""
    scale = MM_PER_INCH if inch else 1.0
    usual = (_RESOLUTION_IN, _ZERO_IN) if inch else (_RESOLUTION_MM, _ZERO_MM)
    resolution, zero = (
        mistakes.trying(_length, usual[n] if value is None else value, scale, name)
        for n, (name, value) in enumerate((("resolution", asked.resolution), ("zero", asked.zero)))
    )
    for name, value_mm, least in (
        ("resolution", resolution, _FINEST_MM),
        ("zero", zero, 0.0),
    ):
        if value_mm is not None and not least <= value_mm <= _COARSEST_MM:
            mistakes.tell(
                "out-of-range",
                f"A {name} of {format_exact(value_mm, 4)} cannot be.",
                name,
                f"between {format_exact(least, 4)} and {format_exact(_COARSEST_MM)}",
            )
    return None if resolution is None or zero is None else Instrument(resolution, zero)


def _length(value: Any, scale: float, field: str) -> float:
    """Return a length in mm; a bare number, typed or as text, is in the units of the readings."""
    if isinstance(value, bool):
        raise InputError(
            f"{shown(value)} is no length.", code="bad-length", field=field, expected="a number"
        )
    if isinstance(value, str):
        bare = value.strip().replace(",", ".")
        try:
            value = float(bare)
        except ValueError:
            unit = "in" if scale != 1.0 else "mm"
            bare = bare if any(c.isalpha() or c in "\"'" for c in bare) else f"{bare} {unit}"
            return parse_length(bare, field=field)
    return parse_length(parse_length(value, field=field) * scale, field=field)


def _can_be(field: ReadAt, length_mm: float, where: str, mistakes: Mistakes) -> bool:
    if max(field.low, 0.0) <= length_mm <= field.high:
        return True
    low, high = format_exact(max(field.low, 0.0)), format_exact(field.high)
    mistakes.tell(
        "out-of-range",
        f"{field.label} cannot be {format_exact(length_mm)}.",
        where,
        f"between {low} and {high}; look for a slip of the digits, or of the unit",
    )
    return False
