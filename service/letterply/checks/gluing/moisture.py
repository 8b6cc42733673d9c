"""How wood moves with the damp: the equations of the Wood Handbook.

Moisture contents are percent of the ovendry mass, widths mm. "Wood Handbook" is the USDA
Forest Products Laboratory's FPL-GTR-190 (2010). Real boards are neither all flat-sawn nor all
quarter-sawn, so width changes come out rather large (Wood Handbook ch. 13).
"""

from __future__ import annotations

__all__ = [
    "COEFFICIENT_RANGE_PERCENT",
    "FIBRE_SATURATION_PERCENT",
    "coefficient_change",
]

COEFFICIENT_RANGE_PERCENT = (6.0, 14.0)
"""Moisture contents between which the coefficients hold (Wood Handbook ch. 13)."""

FIBRE_SATURATION_PERCENT = 30.0
"""Above it wood does not move (Wood Handbook ch. 4 and 13)."""


def coefficient_change(width_mm: float, coefficient: float, mc_from: float, mc_to: float) -> float:
    """Return the change of a width with moisture, mm; above 0 when it swells.

    `coefficient` is CT (flat-sawn) or CR (quarter-sawn) of Wood Handbook Table 13-5, a percent of
    moisture: dD = D C (MF - MI), equation 13-2.

    Raises:
        ValueError: a moisture content outside 6 to 14 %, where the coefficients do not hold.

    >>> round(coefficient_change(232, 0.00245, 8, 11), 4)  # the handbook's white fir: 1.7 mm
    1.7052

    """
    low, high = COEFFICIENT_RANGE_PERCENT
    if not (low <= mc_from <= high and low <= mc_to <= high):
        raise ValueError(f"coefficients hold between {low:g} and {high:g} % moisture")
    return width_mm * coefficient * (mc_to - mc_from)
