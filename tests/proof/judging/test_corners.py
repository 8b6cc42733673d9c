"""What a cutter leaves in corners: overlays near what is thick give what whole ones would."""

import pytest
import shapely
from shapely import box

from letterply.proof.judging.corners import FIT_MM, thick_rest

STAR = shapely.union_all(
    [shapely.affinity.rotate(box(-2, -20, 2, 20), turn) for turn in range(0, 180, 36)]
)
HALF = FIT_MM / 2


@pytest.mark.parametrize("radius", [0.5, 1.5, 4.0])
def test_the_rest_is_that_of_a_whole_overlay_but_for_what_is_thin(radius):
    """Inside corners that a round cutter leaves; walls coincide with those of the star."""
    reached = STAR.buffer(radius, quad_segs=24).buffer(-radius, quad_segs=24)
    whole = reached.difference(STAR).buffer(-HALF).buffer(HALF)
    near = thick_rest(reached, STAR).buffer(-HALF).buffer(HALF)
    assert whole.area > 0.1
    assert shapely.symmetric_difference(whole, near).area < 1e-6
    assert len(shapely.get_parts(near)) == len(shapely.get_parts(whole)) == 10


def test_nothing_is_left_where_all_is_thin():
    assert thick_rest(STAR.buffer(0.4 * FIT_MM), STAR).is_empty
