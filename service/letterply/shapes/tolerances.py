"""The one set of tolerances, handed down from the request to every room. All mm.

What a point of an outline may have strayed by, step by step, from the font's curve to the cut:

| step | at most, mm | where to |
|---|---|---|
| curves to chords (`flatten_mm`) | 0.005 | inside a curve |
| union on the grid (`GRID_MM`) | 0.000007 | any |
| points left out (`thin_out_mm`) | 0.002 | any |
| drawings and what is checked end here | 0.007 | |
| offset by the cutter's radius (`offset_mm`) | 0.005 | away from the part |
| lines and arcs for it (`arc_fit_mm`) | 0.01 | away from the part: `path_clearance_mm` |
| decimals of the program, 3 to 6 by machine | 0.0007 | any |
| cut outline, over what is drawn | 0.0182 | on the part's side 0.0007 |

Where two curves cross at a narrow angle, the corner that they make moves farther along it than
either of them (up to 0.009 mm over 147 glyphs and words of 100 mm em, against outlines with ten
times finer chords). Points left out are held to their budget by `tests/reference`, what is cut by
the proof of every program.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "DEFAULT_TOLERANCES",
    "GRID_MM",
    "GRID_PER_MM",
    "LEAST_DIVISOR",
    "LEAST_SQUARE_MM2",
    "ROUNDING",
    "SAME_MM",
    "SPECK_MM2",
    "WHOLE",
    "Tolerances",
]

GRID_PER_MM = 100_000
"""Grid steps a millimetre. Dividing by it gives the float nearest to the decimal; multiplying by
`GRID_MM` would not."""

GRID_MM = 1 / GRID_PER_MM
"""Grid on which regions are normalised: 10 nm. In 32-bit integers it reaches ±21 m, which is
what the segment Voronoi construction takes."""

SAME_MM = 1e-6
"""Lengths and places that differ by less are the same: a nanometre, a tenth of the grid's step, and
far more than what computing with floats adds."""

SPECK_MM2 = 1e-6
"""Less area than this, a square of a thousandth of a millimetre, is none."""

WHOLE = 1e-6
"""A count of steps, cells or shares that is off by less than this part of one is whole."""

ROUNDING = 1e-9
"""What computing with floats may add to a length of some metres or to a share: coordinates carry
about 1e-13 of error each, sums of thousands of them still less than this. A count is rounded up
only beyond it, and a comparison that must not turn on noise allows for it."""

LEAST_DIVISOR = 1e-12
"""What stands in for a length or difference of nought below a fraction line: far below anything
that is drawn, far above what underflows; the quotient is not used or is bounded elsewhere."""

LEAST_SQUARE_MM2 = 1e-18
"""Squares of lengths below are nought: no length that is drawn is so short."""


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far each step may stray.

    Attributes:
        flatten_mm: largest distance between a curve and the chords that stand for it.
        arc_fit_mm: largest distance between a chain of chords and the arcs that replace it.
        offset_mm: by how much an offset that must clear a part may err outward.
        depth_mm: largest error of a carved depth between two points of a path.
        smallest_mm: what is narrower in lettering or a drawing, of ink or ground, is no part of it:
            less than a tenth of the finest cutter, and than paper.
        thin_out_mm: how far an outline of lettering may move when points are left out that its
            shape does not need; on top of `flatten_mm`.

    """

    flatten_mm: float = 0.005
    arc_fit_mm: float = 0.01
    offset_mm: float = 0.005
    depth_mm: float = 0.005
    thin_out_mm: float = 0.002
    smallest_mm: float = 0.02

    def __post_init__(self) -> None:
        for name in (
            "flatten_mm", "arc_fit_mm", "offset_mm", "depth_mm", "thin_out_mm",
            "smallest_mm",
        ):  # fmt: skip
            value = getattr(self, name)
            if not (math.isfinite(value) and 1e-4 <= value <= 1.0):
                raise ValueError(f"{name} must lie between 0.0001 and 1 mm, not {value}")

    @property
    def drawn_mm(self) -> float:
        """How far a drawn outline may lie from the one that was meant, mm."""
        return self.flatten_mm + self.thin_out_mm

    @property
    def path_clearance_mm(self) -> float:
        """How much farther than its radius the path of a cutter keeps away from a part, mm.

        As much as lines and arcs may stray from it, and the sagitta of the offset's own arcs.
        """
        return self.arc_fit_mm + self.offset_mm / 2


DEFAULT_TOLERANCES = Tolerances()
