"""Local growth: thin places reach the limit, nothing else moves, gaps stay open."""

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from letterply.checks.thin.zones import thin_zones
from letterply.shapes.hausdorff import hausdorff_mm
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import EMPTY, as_region, digest
from letterply.shapes.tolerances import GRID_MM
from letterply.stacks.repairs.strengthening import strengthen
from stacks.glyphs import ink, turned

TOLERANCE = 0.005


def region(*shapes):
    return as_region(shapely.union_all(shapes))


def disc(x, y, r):
    return Point(x, y).buffer(r, quad_segs=64)


DUMBBELL = region(box(0, 0, 20, 20), box(20, 9, 26, 11), box(26, 0, 46, 20))
NOTCHED = region(
    box(0, 0, 60, 12)
    - Polygon([(27, 12.1), (30, 6.6), (33, 12.1)])
    - Polygon([(27, -0.1), (30, 5.4), (33, -0.1)])
)
"""A neck 1.2 mm wide between two notches."""


def thin(outline, limit):
    """Return the thin zones of an outline that are no plain corners, as the checks see them."""
    zones = thin_zones(medial_axis(outline).peel(60), limit, TOLERANCE)
    longest = limit / (2 * np.sin(np.radians(20)))
    return [z for z in zones if z.exits != 1 or (z.tip_deg <= 40 and z.length_mm >= longest)]


@pytest.mark.parametrize(("shape", "width", "x"), [(DUMBBELL, 2.0, 23), (NOTCHED, 1.2, 30)])
def test_a_neck_reaches_the_limit_and_grows_no_more_than_it_must(shape, width, x):
    grown, growths = strengthen(shape, 3.0, 1.0, TOLERANCE)
    assert thin(shape, 3.0)
    assert thin(grown, 3.0) == []
    (growth,) = growths
    assert growth.width_mm == pytest.approx(width, abs=0.01)
    middle = shapely.intersection(grown, box(x - 0.01, -1, x + 0.01, 21))
    across = middle.bounds[3] - middle.bounds[1]
    assert across == pytest.approx(3.0, abs=0.06)
    assert growth.region.area == pytest.approx(grown.area - shape.area, abs=1e-3)


def test_the_outline_far_from_the_neck_does_not_move_at_all():
    grown, (growth,) = strengthen(NOTCHED, 3.0, 1.0, TOLERANCE)
    far = shapely.difference(box(-1, -1, 61, 13), Point(growth.at).buffer(6))
    before, after = (as_region(shapely.intersection(s, far)) for s in (NOTCHED, grown))
    assert hausdorff_mm(before, after, precision_mm=1e-6) <= GRID_MM
    corners = {tuple(c) for c in shapely.get_coordinates(grown)}
    assert {(0, 0), (60, 0), (60, 12), (0, 12)} <= corners


@pytest.mark.parametrize("way", ["taper", "even"])
def test_nothing_is_taken_away(way):
    for shape in (DUMBBELL, NOTCHED, ink("Knot", "playfair-display", 25)):
        grown, _ = strengthen(shape, 3.0, 1.0, TOLERANCE, way)
        assert shapely.difference(shape, grown).area < 1e-3


def test_evenly_the_outline_moves_alike_all_round():
    """A bar 2 mm wide lacks 0.5 mm on either side: so much is added to the stem on it, too."""
    shape = region(box(0, 0, 40, 2), box(40, -20, 48, 22))
    grown, _ = strengthen(shape, 3.0, 1.0, TOLERANCE, "even")
    assert grown.bounds == pytest.approx((-0.5, -20.5, 48.5, 22.5), abs=0.02)
    across = shapely.intersection(grown, box(10, -5, 10.01, 5)).bounds
    assert (across[1], across[3]) == pytest.approx((-0.5, 2.5), abs=0.02)


def test_evenly_gaps_stay_as_wide_as_the_cutter():
    """Two bars 1 mm wide, 2 mm apart: both lack 1 mm, and half of the gap stays."""
    pair = region(box(0, 0, 60, 1), box(0, 3, 60, 4), box(60, -6, 70, 10))
    grown, _ = strengthen(pair, 3.0, 1.0, TOLERANCE, "even")
    assert shapely.intersection(grown, box(5, 1.51, 55, 2.49)).area < 0.01
    assert thin(grown, 2.98) == []


def test_a_ring_grows_to_both_sides_and_keeps_its_counter():
    ring = region(disc(0, 0, 6) - disc(0, 0, 5))
    grown, _ = strengthen(ring, 3.0, 1.0, TOLERANCE)
    (piece,) = grown.geoms
    assert len(piece.interiors) == 1
    assert piece.bounds[2] == pytest.approx(7, abs=0.03)
    assert Polygon(piece.interiors[0]).bounds[2] == pytest.approx(4, abs=0.03)


def test_beside_a_narrow_counter_the_stroke_grows_outward():
    """A ring 1 mm wide round a counter 2 mm wide: 1 mm must stay, so the rest goes outside."""
    ring = region(disc(0, 0, 2) - disc(0, 0, 1))
    grown, _ = strengthen(ring, 3.0, 1.0, TOLERANCE)
    (piece,) = grown.geoms
    (hole,) = piece.interiors
    assert Polygon(hole).buffer(-0.49).area > 0
    assert thin(grown, 2.98) == []


def test_slots_between_strokes_stay_as_wide_as_the_cutter():
    comb = region(box(0, 0, 20, 5), *(box(x, 5, x + 1.5, 15) for x in (0, 3, 6, 9, 12)))
    grown, _ = strengthen(comb, 3.0, 1.0, TOLERANCE)
    for x in (2.25, 5.25, 8.25, 11.25):
        open_ = shapely.difference(box(x - 0.5, 6, x + 0.5, 14), grown)
        assert open_.area == pytest.approx(8, abs=0.02)


def test_pieces_apart_stay_apart():
    shape = region(disc(0, 0, 0.8), box(2, -5, 8, 5))
    grown, _ = strengthen(shape, 3.0, 1.0, TOLERANCE)
    dot, stem = grown.geoms
    assert dot.distance(stem) >= 0.99
    assert dot.area == pytest.approx(np.pi * 1.5**2, rel=0.05)


def test_blunt_ends_stay_blunt_and_strokes_get_no_longer():
    bar = region(box(0, 0, 40, 1))
    grown, _ = strengthen(bar, 3.0, 1.0, TOLERANCE)
    assert grown.bounds == pytest.approx((0, -1, 40, 2), abs=0.02)
    assert grown.area == pytest.approx(120, abs=1)
    needle = region(Polygon([(0, 0), (60, 5), (0, 10)]))
    assert strengthen(needle, 3.0, 1.0, TOLERANCE)[0].bounds[2] == pytest.approx(60, abs=0.03)


def test_what_is_sturdy_comes_back_as_it_is():
    for shape in (region(box(0, 0, 40, 6)), region(disc(0, 0, 5)), EMPTY):
        grown, growths = strengthen(shape, 3.0, 1.0, TOLERANCE)
        assert grown is shape
        assert growths == ()


def counters(outline):
    return [Polygon(ring) for piece in outline.geoms for ring in piece.interiors]


WORDS = [
    ("Sanderling", "great-vibes", 40, 2.0),
    ("Whimbrel", "dancing-script", 40, 3.0),
    ("Knot&8e", "playfair-display", 25, 3.0),
    ("Dunlin", "zilla-slab-light", 25, 2.5),
]


@pytest.mark.parametrize("way", ["taper", "even"])
@pytest.mark.parametrize("word", WORDS)
def test_lettering_has_no_thin_place_left_and_moves_nowhere_else(word, way):
    *set_in, limit = word
    shape = ink(*set_in)
    grown, growths = strengthen(shape, limit, 1.0, TOLERANCE, way)
    assert thin(shape, limit)
    assert thin(grown, limit) == []
    assert [counter for counter in counters(shape) if not counter.difference(grown).area] == []
    if way == "taper":
        assert len(counters(grown)) == len(counters(shape))
    assert all(g.width_mm < limit for g in growths)
    far = shapely.difference(
        shapely.box(*grown.bounds), shapely.union_all([g.region.buffer(0.01) for g in growths])
    )
    before, after = shapely.intersection(shape, far), shapely.intersection(grown, far)
    # Corners that an addition leaves on an old side are rounded to the grid.
    strayed = shapely.symmetric_difference(before, after)
    assert shapely.buffer(strayed, -2 * GRID_MM).is_empty
    again, more = strengthen(grown, limit, 1.0, TOLERANCE, way)
    assert more == ()
    assert digest(again) == digest(grown)


def test_turned_shapes_grow_alike_and_twice_comes_out_alike():
    shape = ink("Kn", "playfair-display", 25)
    grown, growths = strengthen(shape, 3.0, 1.0, TOLERANCE)
    there, moved = strengthen(turned(shape, 37), 3.0, 1.0, TOLERANCE)
    assert len(moved) == len(growths)
    assert hausdorff_mm(turned(grown, 37), there) < 0.06
    assert digest(strengthen(shape, 3.0, 1.0, TOLERANCE)[0]) == digest(grown)
