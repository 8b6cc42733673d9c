"""How a sign will be used: what the standard for its characters must know beside the lettering.

    {"raised": true, "baseline_height": "1.4 m", "viewing_distance": "2 m", "depth": "1 mm",
     "border": "12 mm", "bevel": 0, "braille": true, "separate_visual": false}

All mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from letterply.errors import InputError
from letterply.units import format_mm, parse_length

__all__ = ["SignUse", "normalise_sign_use", "parse_sign_use"]

_LENGTHS = ("viewing_distance", "baseline_height", "depth", "border", "bevel")
_SWITCHES = ("raised", "braille", "separate_visual")
_LONGEST_MM = 100_000.0


@dataclass(frozen=True, slots=True)
class SignUse:
    """How a sign will be used; what is not known stays None and is not checked.

    Attributes:
        raised: characters to be read by touch; otherwise by eye only.
        viewing_distance_mm: farthest distance at which they are to be read, along the floor.
        baseline_height_mm: height of the lowest baseline above the floor.
        depth_mm: how far raised characters stand out from their background.
        border_mm: distance of the characters from raised borders and decoration; None where
            there are none.
        bevel_mm: how far the top edge of a raised character is set in from its base; 0 for a
            rectangular cross section.
        braille: the sign carries braille beside raised characters; the visual rules then do not
            apply to them.
        separate_visual: another set of visual characters says the same as the raised ones.

    """

    raised: bool
    viewing_distance_mm: float | None = None
    baseline_height_mm: float | None = None
    depth_mm: float | None = None
    border_mm: float | None = None
    bevel_mm: float = 0.0
    braille: bool = True
    separate_visual: bool = False

    def __post_init__(self) -> None:
        given = (
            self.viewing_distance_mm,
            self.baseline_height_mm,
            self.depth_mm,
            self.border_mm,
            self.bevel_mm,
        )
        if any(value is not None and not value >= 0 for value in given):
            raise ValueError("lengths of a sign's use are not negative")


def normalise_sign_use(raw: object, *, field: str = "use") -> dict[str, Any]:
    """Return the use as a request gives it in one form, lengths in mm.

    Raises:
        InputError: `bad-value`, `missing-field`, `unknown-field`, `out-of-range`, and as
            `parse_length`.

    """
    if not isinstance(raw, Mapping):
        raise InputError(
            "The use of a sign is no object.",
            code="bad-value",
            field=field,
            expected="an object with raised, and what is known of: " + ", ".join(_LENGTHS),
        )
    if "raised" not in raw:
        raise InputError(
            "The use does not say whether characters are raised.",
            code="missing-field",
            field=f"{field}.raised",
            expected="true for characters read by touch, false for those read by eye only",
        )
    found: dict[str, Any] = {}
    for name, value in sorted(raw.items()):
        where = f"{field}.{name}"
        if name in _SWITCHES:
            if not isinstance(value, bool):
                raise InputError(
                    f"{name} is either true or false.",
                    code="bad-value",
                    field=where,
                    expected="true or false",
                )
            found[name] = value
        elif name in _LENGTHS:
            length = parse_length(value, field=where)
            if not 0 <= length <= _LONGEST_MM:
                raise InputError(
                    f"{name} cannot be {format_mm(length)}.",
                    code="out-of-range",
                    field=where,
                    expected=f"0 to {format_mm(_LONGEST_MM)}",
                )
            found[name] = length
        else:
            raise InputError(
                f"The use of a sign has no {name!r}.",
                code="unknown-field",
                field=where,
                expected=", ".join((*_SWITCHES, *_LENGTHS)),
            )
    return found


def parse_sign_use(normal: Mapping[str, Any]) -> SignUse:
    """Return the use that `normalise_sign_use` gave."""
    return SignUse(**{(f"{n}_mm" if n in _LENGTHS else n): v for n, v in normal.items()})
