"""Pinches: narrow places between wider ones; tips and even strokes have none."""

import pytest
import shapely
from shapely import box

from letterply.checks.thin.pinches import find_pinches
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import as_region


def pinches(shape, limit_mm=100.0):
    axis = medial_axis(as_region(shape)).strokes(40.0)
    return [(round(p.at[0], 3), round(p.at[1], 3), round(p.cut.width_mm, 4))
            for p in find_pinches(axis, limit_mm)]  # fmt: skip


def notched(*notches):
    """Return a bar of 60 by 10 with notches (x, depth) from above."""
    bar = box(0, 0, 60, 10)
    cuts = [shapely.Polygon([(x - d, 10), (x, 10 - d), (x + d, 10)]) for x, d in notches]
    return shapely.difference(bar, shapely.union_all(cuts))


def test_each_notch_of_a_bar_is_a_pinch_and_the_deepest_comes_first():
    found = pinches(notched((20, 4), (40, 7)))
    assert [width for _, _, width in found] == [3.0, 6.0]
    assert [x for x, _, _ in found] == [40.0, 20.0]


def test_only_what_is_under_the_limit_is_told():
    assert [w for _, _, w in pinches(notched((20, 4), (40, 7)), limit_mm=5.0)] == [3.0]


@pytest.mark.parametrize(
    "shape",
    [
        box(0, 0, 60, 3),
        shapely.Polygon([(0, 0), (60, 0), (30, 40)]),
        shapely.Point(0, 0).buffer(10),
        notched((30, 0.4)),
    ],
    ids=["an even stroke", "tips", "a disc", "a scratch"],
)
def test_what_is_no_narrower_than_its_sides_has_none(shape):
    assert pinches(shape) == []


def test_a_ring_is_told_where_it_is_thinnest():
    ring = shapely.Point(0, 0).buffer(20).difference(shapely.Point(3, 0).buffer(14))
    ((x, _, width),) = pinches(ring)
    assert x == pytest.approx(18.5, abs=0.1)
    assert width == pytest.approx(3.0, abs=0.02)
