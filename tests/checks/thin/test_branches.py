"""Kinds of branches on shapes where a person cannot be in doubt."""

from collections import Counter

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.checks.thin.branches import BranchKind, find_branches
from letterply.shapes.flatten import circle
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import as_region

FINE = 0.002


def disc(x, y, radius):
    return Polygon(circle(x, y, radius, FINE))


def branches(shape, **options):
    return find_branches(medial_axis(as_region(shape)).peel(60), FINE, **options)


def kinds(shape):
    return Counter(str(b.kind) for b in branches(shape))


def one(shape, kind):
    (found,) = (b for b in branches(shape) if b.kind == kind)
    return found


BAR = box(0, 0, 40, 6)
NEEDLE = Polygon([(0, 0), (60, 6), (0, 12)])
HOURGLASS = Polygon([(-10, -10), (10, -10), (0.6, 0), (10, 10), (-10, 10), (-0.6, 0)])
DUMBBELL = shapely.union_all([disc(0, 0, 8), box(0, -1.5, 40, 1.5), disc(40, 0, 8)])
TEE = shapely.union_all([box(0, 0, 60, 8), box(26, -50, 34, 4)])
SLAB = shapely.union_all([box(0, 0, 10, 60), box(-8, 0, 18, 4)])
RING = Polygon(circle(0, 0, 20, FINE), [circle(0, 0, 14, FINE)])
SHAPES = {
    "bar": BAR,
    "needle": NEEDLE,
    "hourglass": HOURGLASS,
    "dumbbell": DUMBBELL,
    "tee": TEE,
    "slab": SLAB,
    "ring": RING,
}


def test_a_bar_is_a_stroke_of_one_width_with_four_corners():
    assert kinds(BAR) == {"spur": 4, "uniform": 1}
    stroke = one(BAR, BranchKind.UNIFORM)
    assert stroke.least_mm == pytest.approx(6)


def test_a_needle_is_a_tip_and_a_wide_wedge_a_corner():
    """Walls at 2 atan(6 / 60) = 11.4 degrees taper; at 60 degrees they are a corner."""
    tip = one(NEEDLE, BranchKind.TIP)
    assert tip.at == pytest.approx((60, 6), abs=0.01)
    wedge = Polygon([(0, 0), (30, 30 * np.tan(np.pi / 6)), (0, 60 * np.tan(np.pi / 6))])
    assert kinds(wedge)["tip"] == 0
    assert kinds(wedge)["spur"] == 3


def test_what_widens_to_both_sides_is_a_neck():
    neck = one(HOURGLASS, BranchKind.NECK)
    assert neck.least_mm == pytest.approx(1.2, abs=1e-6)
    assert neck.at == pytest.approx((0, 0), abs=1e-6)


def test_a_long_bar_between_discs_is_a_stroke_and_a_short_one_a_neck():
    stroke = one(DUMBBELL, BranchKind.UNIFORM)
    assert stroke.least_mm == pytest.approx(3, abs=0.01)
    short = shapely.union_all([disc(0, 0, 8), box(0, -1.5, 20, 1.5), disc(20, 0, 8)])
    assert kinds(short) == {"neck": 1}


def test_a_tee_has_three_strokes_that_meet():
    assert kinds(TEE) == {"spur": 6, "uniform": 3}


def test_short_feet_on_both_sides_of_a_stem_are_serifs():
    serifs = [b for b in branches(SLAB) if b.kind is BranchKind.SERIF]
    assert [b.least_mm for b in serifs] == pytest.approx([4, 4], abs=0.1)
    assert serifs[0].at[0] <= 0.1
    assert serifs[1].at[0] >= 9.9


def test_a_ring_has_no_ends():
    (ring,) = branches(RING)
    assert ring.kind is BranchKind.UNIFORM
    assert ring.least_mm == pytest.approx(6, abs=0.01)


@pytest.mark.parametrize("name", SHAPES)
def test_turning_moving_mirroring_and_scaling_change_no_kind(name):
    shape = SHAPES[name]
    turned = shapely.affinity.rotate(shape, 33, origin=(0, 0))
    moved = shapely.affinity.translate(turned, 300, -150)
    mirrored = shapely.affinity.scale(shape, -1, 1, origin=(0, 0))
    larger = shapely.affinity.scale(shape, 2.5, 2.5, origin=(0, 0))
    for other in (moved, mirrored, larger):
        assert kinds(other) == kinds(shape)


def test_an_axis_without_edges_has_no_branches():
    assert find_branches(medial_axis(as_region(shapely.Point(0, 0))), FINE) == ()
