"""Rounded loops: what is a corner, and what is narrow all over."""

import pytest
import shapely
from shapely import Polygon, box

from letterply.cutting.face.rounding import rounded
from letterply.shapes import Tolerances, as_region

# Where the middle of a 1/8 in cutter may be in the bow of an e: hardly wider than that cutter.
SLIVER = Polygon([
    (0.29300, 0), (0.28420, 0.41725), (0.28300, 0.45252), (0.28265, 0.46133), (0.28075, 0.49656),
    (0.23785, 1.15207), (0.23500, 1.18898), (0.23420, 1.19820), (0.23050, 1.23504),
    (0.15905, 1.87269), (0.15427, 1.91112), (0.15295, 1.92071), (0.14725, 1.95902),
    (0.04720, 2.57881), (0.04028, 2.61859), (0.03842, 2.62852), (0.03050, 2.66812), (0, 2.81185),
    (0.12400, 2.52792), (0.27460, 2.11304), (0.40860, 1.66249), (0.52460, 1.17576),
    (0.62160, 0.65267), (0.69847, 0.09325), (0.70700, 0),
])  # fmt: skip
RADIUS, STEP = 1.5875, 1.27


@pytest.mark.parametrize("wall", [True, False])
@pytest.mark.parametrize("beside", [False, True])
def test_what_is_narrow_all_over_keeps_its_loop(wall, beside):
    wide = box(10, 0, 30, 20)
    room = as_region(shapely.union_all([SLIVER, wide] if beside else [SLIVER]))
    loops, corners = rounded(room, RADIUS, STEP, Tolerances(), wall=wall)
    assert shapely.intersection(loops, SLIVER).area > 0.99 * SLIVER.area
    assert not any(shapely.intersects(c.area, SLIVER) for c in corners)
    assert len(corners) == (4 if beside and wall else 0)


def test_sharp_corners_of_a_room_are_rounded_and_bitten():
    """What an arc of radius r leaves in four right corners is (4 - pi) r^2 (plane geometry)."""
    room = as_region(box(0, 0, 20, 20))
    loops, corners = rounded(room, RADIUS, STEP, Tolerances(), wall=True)
    assert room.area - loops.area == pytest.approx((4 - 3.14159) * RADIUS**2, abs=0.02)
    assert all(corner.bites for corner in corners)
