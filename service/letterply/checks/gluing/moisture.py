"""How wood moves with the damp: the equations of the Wood Handbook.

Moisture contents are percent of the ovendry mass, shrinkages percent of the green size, widths
mm, temperatures °C, relative humidities fractions. "Wood Handbook" is the USDA Forest Products
Laboratory's FPL-GTR-190 (2010). Real boards are neither all flat-sawn nor all quarter-sawn, so
width changes come out rather large (Wood Handbook ch. 13).
"""

from __future__ import annotations

__all__ = [
    "COEFFICIENT_RANGE_PERCENT",
    "FIBRE_SATURATION_PERCENT",
    "coefficient_change",
    "coefficient_from_shrinkage",
    "equilibrium_moisture",
    "green_change",
]

COEFFICIENT_RANGE_PERCENT = (6.0, 14.0)
"""Moisture contents between which the coefficients hold (Wood Handbook ch. 13)."""

FIBRE_SATURATION_PERCENT = 30.0
"""Above it wood does not move (Wood Handbook ch. 4 and 13)."""

_COEFFICIENT_REFERENCE_PERCENT = 10.0
"""Moisture content at which the size is taken to which the coefficients refer."""


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


def green_change(width_mm: float, shrinkage_percent: float, mc_from: float, mc_to: float) -> float:
    """Return the change of a width with moisture, mm, from the shrinkage green to ovendry.

    dD = D (MF - MI) / (30 · 100 / S - 30 + MI), Wood Handbook equation 13-3. It says that size is
    linear in moisture: D is the green size less (30 - MI) / 30 of the whole shrinkage S.

    Raises:
        ValueError: a moisture content outside 0 to 30 %, or a shrinkage outside 0 to 100 %.

    """
    saturated = FIBRE_SATURATION_PERCENT
    if not (0 <= mc_from <= saturated and 0 <= mc_to <= saturated):
        raise ValueError(f"the equation holds from 0 to {saturated:g} % moisture")
    if not 0 < shrinkage_percent < 100:
        raise ValueError("a shrinkage lies between 0 and 100 %")
    whole = saturated * 100 / shrinkage_percent - saturated + mc_from
    return width_mm * (mc_to - mc_from) / whole


def coefficient_from_shrinkage(
    shrinkage_percent: float, saturation_percent: float = FIBRE_SATURATION_PERCENT
) -> float:
    """Return the coefficient of equation 13-2 that belongs to a shrinkage green to ovendry.

    C = (S / M0) / (1 - S (M0 - 10) / M0), S as a fraction: size linear in moisture below the
    saturation M0, referred to the size at 10 % (derived; it reproduces Table 13-5 from Table 4-3,
    with M0 = 22 % for redwood, western redcedar and northern white-cedar).

    Raises:
        ValueError: a shrinkage outside 0 to 100 %, or a saturation not above 10 %.

    >>> round(coefficient_from_shrinkage(9.9), 5)  # sugar maple, tangential
    0.00353

    """
    if not 0 < shrinkage_percent < 100:
        raise ValueError("a shrinkage lies between 0 and 100 %")
    reference = _COEFFICIENT_REFERENCE_PERCENT
    if not saturation_percent > reference:
        raise ValueError(f"a saturation lies above {reference:g} %")
    share = shrinkage_percent / 100
    slope = share / saturation_percent
    return slope / (1 - slope * (saturation_percent - reference))


def equilibrium_moisture(temperature_c: float, relative_humidity: float) -> float:
    """Return the moisture content that wood settles at in air, percent.

    The sorption isotherm of Hailwood and Horrobin with the constants of Simpson, FPL-RN-0268
    (1998), and Wood Handbook ch. 4, stated there in °F. On average within 0.13 % of the tables,
    never farther than 0.9 % (Simpson, Forest Products Journal, 1973).

    Raises:
        ValueError: a relative humidity outside 0 to 1 (it is a fraction, not a percentage).

    >>> round(equilibrium_moisture(60, 0.55), 1)  # 140 °F
    8.4

    """
    if not 0 <= relative_humidity <= 1:
        raise ValueError("relative humidity is a fraction between 0 and 1")
    t = temperature_c * 9 / 5 + 32
    w = 330 + 0.452 * t + 0.00415 * t**2
    k = 0.791 + 4.63e-4 * t - 8.44e-7 * t**2
    k1 = 6.34 + 7.75e-4 * t - 9.35e-5 * t**2
    k2 = 1.09 + 2.84e-2 * t - 9.04e-5 * t**2
    kh = k * relative_humidity
    hydrated = k1 * kh + 2 * k1 * k2 * kh**2
    return 1800 / w * (kh / (1 - kh) + hydrated / (1 + k1 * kh + k1 * k2 * kh**2))
