"""Growth that fades out: its slope along strokes, dips that hand nothing on, ends that stay."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.medial.thin import thin_runs
from letterply.shapes.regions import as_region
from letterply.stacks.repairs.strengthening import strengthen
from letterply.stacks.repairs.tapering import SLOPE, handed_on, tapered
from stacks.glyphs import ink

TOLERANCE = 0.005


def region(*shapes):
    return as_region(shapely.union_all(shapes))


def spindle(*profile):
    """Return a stroke along x, of pairs of x and half its width there."""
    upper = [(x, r) for x, r in profile]
    return region(Polygon(upper + [(x, -r) for x, r in reversed(upper)]))


def taper_of(shape, limit):
    axis = medial_axis(shape)
    body = axis.peel(110)
    runs = thin_runs(axis.peel(60), limit, TOLERANCE, reach_mm=limit / 2, body=body)
    return tapered(body, runs, limit, limit / 8, TOLERANCE)


def heights(shape, xs):
    """Return where the upper edge of a shape lies over each x."""
    low, high = shape.bounds[1] - 1, shape.bounds[3] + 1
    cuts = shapely.intersection(
        shape, shapely.linestrings([[(x, low), (x, high)] for x in xs.tolist()])
    )
    return shapely.bounds(cuts)[:, 3]


WIDENING = spindle((0, 0.5), (30, 0.5), (38, 2.5), (80, 2.5))
"""Half its width rises by 1 in 4: the outline of a stroke grown to the limit alone would, too."""


def test_the_outline_moves_by_no_more_than_the_slope_along_a_stroke():
    grown, _ = strengthen(WIDENING, 3.0, 1.0, TOLERANCE)
    xs = np.arange(4.0, 76.0, 0.25)
    moved = heights(grown, xs) - heights(WIDENING, xs)
    assert moved.min() > -1e-3
    assert moved[:60].min() == pytest.approx(1.0, abs=0.03)
    # A wall that leans by 1 in 4 lies sqrt(1 + 1/16) of its offset higher.
    steepest = np.abs(moved[8:] - moved[:-8]).max() / 2
    assert steepest <= SLOPE * np.sqrt(1 + 1 / 16) * 1.1
    assert moved[np.abs(xs - 34).argmin()] == pytest.approx(1.0 - 4 * SLOPE, abs=0.06)
    assert np.abs(moved[xs > 30 + 1.1 / SLOPE]).max() < 0.01


@pytest.mark.parametrize(
    "word", [("Sanderling", "great-vibes", 40, 2.0), ("Knot", "playfair-display", 25, 3.0)]
)
def test_growth_fades_by_the_slope_and_reaches_the_limit_on_every_stroke(word):
    *set_in, limit = word
    taper = taper_of(ink(*set_in), limit)
    a, b = taper.edges.T
    lengths = np.hypot(*(taper.points[a] - taper.points[b]).T)
    assert taper.growth.min() >= 0
    assert 0.3 < taper.growth.max() <= limit / 2 + TOLERANCE
    assert (np.abs(taper.growth[a] - taper.growth[b]) <= SLOPE * lengths + 1e-5).all()
    fading = (taper.growth > 0.05) & (taper.radii > limit / 2 + 0.05)
    assert fading.sum() > 20


def test_a_stem_swells_on_the_side_of_the_stroke_that_runs_into_it_alone():
    """A stroke 1 mm wide meets a stem 6 mm wide: it is 3 mm wide right up to it."""
    stem, stroke = box(0, -30, 6, 30), Polygon([(0.5, 1.5), (0.5, 0.5), (-40, -20.5), (-40, -19.5)])
    grown, _ = strengthen(region(stem, stroke), 3.0, 1.0, TOLERANCE)
    assert grown.bounds[2] == pytest.approx(6, abs=0.01)
    # Across the stroke: 1 mm beyond either wall, as measured square to it, and no knob at its end.
    square = np.hypot(40, 20.5) / 40
    for x in np.arange(-12.0, -0.4, 0.5):
        upper = 1.2469 + 0.51852 * (x - 0.01235) + square
        assert heights(grown, np.array([x]))[0] >= upper - 0.25
    added = shapely.difference(grown, region(stem, stroke))
    assert shapely.intersection(added, box(-0.05, 12, 6, 30)).area < 0.01


def test_what_is_handed_on_round_a_ring_falls_by_the_slope_both_ways():
    values = np.zeros(200)
    values[[3, 120]] = 1.0, 0.5
    steps = np.full(200, 0.5)
    handed = handed_on(values, steps)
    away = np.minimum(np.abs(np.arange(200) - 3), 200 - np.abs(np.arange(200) - 3)) * 0.5
    other = np.abs(np.arange(200) - 120) * 0.5
    wanted = np.maximum.reduce([1 - SLOPE * away, 0.5 - SLOPE * other])
    assert np.maximum(handed, 0) == pytest.approx(np.maximum(wanted, 0), abs=1e-9)


def test_a_pinch_is_filled_and_hands_nothing_on():
    """Walls that close at 90 degrees: a crotch, no stroke."""
    pinched = spindle((0, 4), (26, 4), (29.8, 0.2), (33.6, 4), (60, 4))
    assert taper_of(pinched, 3.0).growth.max() == pytest.approx(0, abs=0.25)
    _, (growth,) = strengthen(pinched, 3.0, 1.0, TOLERANCE)
    assert growth.width_mm == pytest.approx(0.4, abs=0.05)
    left, _, right, _ = growth.region.bounds
    assert 25.5 < left < right < 34.1


def test_a_wide_stroke_gets_no_longer_where_growth_reaches_its_end():
    short = spindle((0, 0.5), (20, 0.5), (28, 2.5), (31, 2.5))
    grown, _ = strengthen(short, 3.0, 1.0, TOLERANCE)
    assert grown.bounds[2] == pytest.approx(31, abs=0.02)
    assert shapely.difference(short, grown).area < 1e-3


def test_nothing_grows_where_nothing_is_thin_nearby():
    far = region(box(0, -4, 40, 4), box(60, -0.5, 90, 0.5))
    grown, _ = strengthen(far, 3.0, 1.0, TOLERANCE)
    assert shapely.intersection(grown, box(-1, -6, 45, 6)).area == pytest.approx(320, abs=1e-6)
