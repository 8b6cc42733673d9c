"""Insets: the place in the middle, larger, with some outline to know it by."""

import numpy as np
import pytest
import shapely
from svgelements import Path

from letterply.exports.pictures.insets import SUNK, inset_of, sunk_into
from letterply.findings import Finding, Place, Severity
from letterply.shapes.regions import EMPTY, as_region
from letterply.stacks.model import Layer, Part
from letterply.stacks.work import Groove, Hole, Pocket

SIDE = 24.0
BRIDGED = as_region(
    shapely.union_all(
        [shapely.box(0, 0, 20, 20), shapely.box(20, 9.5, 26, 10.5), shapely.box(26, 0, 46, 20)]
    )
)
NECK = Place("segment", ((23.0, 9.5), (23.0, 10.5)))


def neck(measured=1.0, unit="mm"):
    return Finding("neck", Severity.BLOCKER, "", where=NECK, measured=measured, limit=3, unit=unit)


def test_a_small_measure_is_shown_much_larger_with_its_surroundings():
    inset = inset_of(neck(), NECK, BRIDGED, SIDE)
    assert inset.times == 4
    assert inset.window == pytest.approx((20, 7, 26, 13))
    assert inset_of(neck(measured=4.0), NECK, BRIDGED, SIDE).times == 2


def test_what_is_drawn_is_the_region_in_its_window_so_many_times_as_large():
    inset = inset_of(neck(), NECK, BRIDGED, SIDE)
    drawn = "".join(inset.drawn(BRIDGED, EMPTY, 100, 50, 2.0))
    data = drawn.split('d="')[1].split('"')[0]
    left, top, right, low = Path(data).bbox()
    assert (left, right) == pytest.approx((100, 124), abs=0.01)
    assert (top, low) == pytest.approx((50 + 2.5 * 4, 50 + 3.5 * 4), abs=0.01)


def test_what_is_sunk_into_a_layer_is_seen_beside_its_ridges():
    """Two grooves, a pocket and a blind hole; a through hole is part of the outline."""
    part = Part(
        "board",
        "board",
        shapely.box(0, 0, 60, 30),
        holes=(Hole(50, 25, 4, depth_mm=3), Hole(50, 5, 4)),
        pockets=(Pocket(as_region(shapely.box(30, 20, 40, 25)), 2.0),),
        grooves=(Groove(as_region(BRIDGED - shapely.box(20, 9, 26, 11))),),
    )
    sunk = sunk_into(Layer("board", "mdf", 6.0, 0.0, (part,)))
    assert sunk.area == pytest.approx(800 + 50 + np.pi * 4, rel=1e-2)
    inset = inset_of(neck(measured=4.0), NECK, BRIDGED, SIDE)
    drawn = inset.drawn(as_region(part.outline), sunk, 0, 0, 2.0)
    (path,) = [element for element in drawn if SUNK in element]
    left, _, right, _ = Path(path.split('d="')[1].split('"')[0]).bbox()
    assert (left, right) == pytest.approx((0, 24), abs=0.01)


@pytest.mark.parametrize("side", [10.0, 24.0, 60.0])
def test_a_point_far_from_any_edge_is_shown_with_an_edge(side):
    middle = Place("point", ((10.0, 10.0),))
    dropped = Finding("island", Severity.BLOCKER, "", where=middle, measured=22.0, unit="mm2")
    hole = as_region(shapely.box(0, 0, 20, 20) - shapely.Point(10, 10).buffer(2))
    inset = inset_of(dropped, middle, hole, side)
    assert shapely.box(*inset.window).intersects(hole.boundary)
    assert np.isfinite(inset.window).all()
