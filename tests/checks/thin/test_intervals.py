"""Width intervals against the zones under single limits, found another way, and by hand."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.checks.thin.intervals import find_width_intervals
from letterply.checks.thin.zones import thin_zones
from letterply.lettering.fonts.library import FontLibrary
from letterply.shapes.flatten import circle, flatten_segments
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import as_region, nonzero_union

CORNER = 40.0
LIMITS = (0.7, 1.0, 1.5, 2.0, 2.7, 3.0, 4.0, 5.0, 6.3, 8.0, 12.0, 17.0)


def strokes(shape):
    return medial_axis(as_region(shape)).strokes(CORNER)


def glyph(key, character, tolerance=0.01):
    font = FontLibrary().load(key)
    number = font.harfbuzz.get_nominal_glyph(ord(character))
    scale = 100 / font.units_per_em
    region = nonzero_union(
        [flatten_segments((p * scale, d), tolerance) for p, d in font.outline(number)]
    )
    return max(region.geoms, key=lambda piece: piece.area)


@pytest.mark.parametrize(
    ("font", "character"),
    [("playfair-display", c) for c in "aeg8&K"]
    + [("dancing-script", c) for c in "wzQ"]
    + [("great-vibes", c) for c in "Gy"]
    + [("oswald", "R"), ("lobster", "g")],
)
def test_the_zones_under_any_limit_are_the_intervals_that_hold_it(font, character):
    axis = strokes(glyph(font, character))
    intervals = find_width_intervals(axis)
    seen = 0
    for limit in LIMITS:
        zones = sorted((z.exits, round(z.width_mm, 3)) for z in thin_zones(axis, limit, 0.001))
        held = sorted(
            (s.exits, round(s.width_mm, 3)) for s in intervals if s.low_mm < limit <= s.high_mm
        )
        assert held == zones
        seen += len(zones)
    assert seen >= 3


@pytest.mark.parametrize(("font", "character"), [("dancing-script", "f"), ("nunito", "t")])
def test_a_ramp_says_how_a_blind_stroke_grows(font, character):
    axis = strokes(glyph(font, character))
    told = 0
    for interval in find_width_intervals(axis):
        if interval.ramp is None:
            continue
        for limit, length, width in zip(
            interval.ramp.limits_mm, interval.ramp.lengths_mm, interval.ramp.widths_mm, strict=True
        ):
            if not interval.low_mm * 1.01 < limit < interval.high_mm * 0.99:
                continue
            zone = min(
                (z for z in thin_zones(axis, float(limit), 1e-4) if z.exits == 1),
                key=lambda z: np.hypot(z.at[0] - interval.at[0], z.at[1] - interval.at[1]),
            )
            assert length == pytest.approx(zone.length_mm, rel=0.02, abs=0.02)
            assert width == pytest.approx(zone.mean_width_mm, rel=0.02)
            told += 1
    assert told >= 5


def test_an_hourglass_is_a_neck_until_all_of_it_is_thin():
    """Waist 1.2; the largest discs beside it are those of the two triangles."""
    waist = Polygon([(-10, -10), (10, -10), (0.6, 0), (10, 10), (-10, 10), (-0.6, 0)])
    intervals = find_width_intervals(strokes(waist))
    first = intervals[0]
    assert (first.low_mm, first.width_mm) == pytest.approx((1.2, 1.2), abs=1e-6)
    assert first.exits == 2
    assert first.at == pytest.approx((0, 0), abs=1e-6)
    last = intervals[-1]
    assert (last.exits, last.high_mm) == (0, np.inf)
    assert last.low_mm == pytest.approx(first.high_mm)


def test_a_neck_between_discs_of_two_sizes_is_a_blind_stroke_in_between():
    shape = shapely.union_all(
        [
            Polygon(circle(0, 0, 8, 0.001)),
            box(0, -1, 30, 1),
            Polygon(circle(30, 0, 5, 0.001)),
        ]
    )
    exits = dict.fromkeys((3.0, 12.0, 17.0))
    intervals = [s for s in find_width_intervals(strokes(shape)) if s.width_mm < 2.1]
    for limit in exits:
        (interval,) = (s for s in intervals if s.low_mm < limit <= s.high_mm)
        exits[limit] = interval.exits
    assert exits == {3.0: 2, 12.0: 1, 17.0: 0}


def test_the_point_of_a_tip_does_not_make_a_stroke_as_thin_as_a_point():
    """A thorn on a bar 4 wide: the bar is 4 wide, not nought."""
    thorn = Polygon([(20, 3.9), (22, 3.9), (21, 12)])
    bar = shapely.union_all([box(-10, -8, 0, 12), box(0, 0, 40, 4), box(40, -8, 50, 12), thorn])
    axis = strokes(bar)
    through = [z for z in thin_zones(axis, 5.0, 1e-3) if z.exits == 2]
    assert [z.width_mm for z in through] == pytest.approx([4], abs=0.01)
    held = [s for s in find_width_intervals(axis) if s.low_mm < 5 <= s.high_mm and s.exits == 2]
    assert [s.width_mm for s in held] == pytest.approx([4], abs=0.01)


def test_a_disc_and_an_empty_axis():
    (disc,) = find_width_intervals(strokes(Polygon(circle(0, 0, 4, 0.001))))
    assert (disc.low_mm, disc.exits) == (pytest.approx(8, abs=0.01), 0)
    assert find_width_intervals(strokes(shapely.Point(0, 0))) == ()
