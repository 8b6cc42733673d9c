"""How a load of blanks lies on a machine: as it is drawn, or turned by a quarter. All mm.

A load is the board of a fixture with its pockets filled, or one blank by itself; its lower left
corner lies at that of the bed. What counts is what is worked, not how large the board is.
"""

from __future__ import annotations

import shapely

from letterply.stacks.model import Fixture, Layer

__all__ = ["is_turned"]


def is_turned(layer: Layer, fixture: Fixture, bed_mm: tuple[float, float]) -> bool | None:
    """Return whether a load of blanks is turned by a quarter; None where neither way is reached.

    Args:
        layer: a layer of blanks.
        fixture: how they lie.
        bed_mm: travel of the machine in x and y.

    """
    low, right, high = _worked(layer, fixture)
    height = fixture.size_mm[1]
    more_x = (fixture.columns - 1) * fixture.pitch_mm[0]
    more_y = (fixture.rows - 1) * fixture.pitch_mm[1]
    if right + more_x <= bed_mm[0] and high + more_y <= bed_mm[1]:
        return False
    # Turned counter-clockwise, the load's lower edge is its right side, its left one its lower.
    if height - low <= bed_mm[0] and right + more_x <= bed_mm[1]:
        return True
    return None


def _worked(layer: Layer, fixture: Fixture) -> tuple[float, float, float]:
    """Return the lowest, rightmost and highest of what is worked into the first blank."""
    boxes = []
    for part in layer.parts:
        seen = part.cut_view(from_back=layer.from_back)
        boxes += [p.region.bounds for p in seen.pockets] + [g.region.bounds for g in seen.grooves]
        boxes += [line.bounds for s in seen.scribes for line in s.lines]
        boxes += [
            shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2).bounds for h in seen.holes
        ]
    x, y = (
        first - middle for first, middle in zip(fixture.first_mm, fixture.middle_mm, strict=True)
    )
    if not boxes:
        return fixture.first_mm[1], *fixture.first_mm
    return min(b[1] for b in boxes) + y, max(b[2] for b in boxes) + x, max(b[3] for b in boxes) + y
