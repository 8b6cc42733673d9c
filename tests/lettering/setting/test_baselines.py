"""Letters on arcs, circles, paths and in columns, measured where they stand."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from lettering.words import LIBRARY, lettering
from letterply.errors import GeometryError, InputError
from letterply.lettering.setting.baselines import circle_curve, path_points, polyline_curve
from letterply.lettering.setting.lettering import Size
from letterply.lettering.setting.spec import Baseline


def polar(letter):
    """Return angle (degrees) and distance of a letter's middle from the origin."""
    x, y = letter.region.envelope.centroid.coords[0]
    return math.degrees(math.atan2(y, x)), math.hypot(x, y)


def upright(letter):
    """Return a letter turned back and put on the origin."""
    moved = shapely.affinity.translate(letter.region, -letter.x_mm, -letter.y_mm)
    return shapely.affinity.rotate(moved, -letter.angle_deg, origin=(0, 0))


@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize("radius", [40.0, 150.0])
@pytest.mark.parametrize("kind", ["arc", "circle"])
def test_like_letters_on_a_circle_stand_at_even_distances(kind, side, radius):
    found = lettering("HHHHHHHHH", baseline=Baseline(kind, radius, side))
    # By the outlines: the turn from each to the next, from the middles of their minimum boxes.
    middles = [
        shapely.minimum_rotated_rectangle(x.region).centroid.coords[0] for x in found.letters
    ]
    turns = np.unwrap([math.atan2(y, x) for x, y in middles])
    along = np.abs(np.diff(turns)) * radius
    assert along == pytest.approx(np.full(8, along.mean()), rel=0.005)
    if kind == "circle":
        assert along.mean() == pytest.approx(2 * math.pi * radius / 9, rel=0.005)
    else:
        advance = LIBRARY.load("oswald").harfbuzz.get_glyph_h_advance(
            LIBRARY.load("oswald").harfbuzz.get_nominal_glyph(ord("H"))
        )
        assert along.mean() == pytest.approx(advance * 20 / 1000, rel=0.005)


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_unlike_letters_keep_the_spacing_of_a_straight_line(side):
    word = "Whimbrel"
    straight = lettering(word)
    bent = lettering(word, baseline=Baseline("arc", 80, side))
    x = np.array([a.x_mm for a in straight.letters])
    turned = np.unwrap([math.atan2(a.y_mm, a.x_mm) for a in bent.letters])
    assert np.abs(np.diff(turned)) * 80 == pytest.approx(np.diff(x), rel=0.005)


@pytest.mark.parametrize("kind", ["arc", "circle"])
def test_letters_are_turned_and_never_bent(kind):
    straight = lettering("Dunlin")
    bent = lettering("Dunlin", baseline=Baseline(kind, 60, "outside"))
    for a, b in zip(straight.letters, bent.letters, strict=True):
        assert shapely.hausdorff_distance(upright(a), upright(b)) < 1e-3


def test_outside_heads_point_away_and_inside_towards_the_centre():
    outside = lettering("HHH", baseline=Baseline("arc", 60, "outside"))
    inside = lettering("HHH", baseline=Baseline("arc", 60, "inside"))
    assert all(polar(x)[1] > 60 for x in outside.letters)
    assert all(polar(x)[1] < 60 for x in inside.letters)
    # Read from left to right either way.
    assert outside.letters[0].x_mm < outside.letters[2].x_mm
    assert inside.letters[0].x_mm < inside.letters[2].x_mm


@pytest.mark.parametrize("angle", [0.0, 45.0, 90.0, 200.0])
def test_the_middle_of_the_text_stands_at_its_angle(angle):
    found = lettering("H", baseline=Baseline("arc", 60, "outside", angle))
    turned, away = polar(found.letters[0])
    assert (turned - angle) % 360 == pytest.approx(0, abs=0.01) or turned % 360 == pytest.approx(
        angle % 360, abs=0.01
    )
    assert away > 60


def test_a_second_line_has_a_circle_of_its_own():
    found = lettering("HHH\nHHH", baseline=Baseline("arc", 80, "outside"), line_gap=1.5)
    radii = [math.hypot(x.x_mm, x.y_mm) for x in found.letters]
    assert radii == pytest.approx([80] * 3 + [50] * 3)


def test_text_longer_than_its_circle_says_by_how_much():
    with pytest.raises(GeometryError) as caught:
        lettering("Oystercatcher " * 4, baseline=Baseline("circle", 30))
    assert caught.value.code == "baseline-too-short"
    assert caught.value.data["available_mm"] == pytest.approx(2 * math.pi * 30, abs=0.01)
    assert caught.value.data["needed_mm"] > caught.value.data["available_mm"]


def test_letters_follow_a_path_with_even_spacing():
    points = path_points("M0 0C60 -80 120 80 200 0", field="data")
    found = lettering("HHHHHHHH", baseline=Baseline("path", points=points), align="left")
    curve = polyline_curve(np.array(points))
    step = found.letters[1].x_mm
    along = np.linspace(0, curve.length_mm, 200_001)
    on_curve, angles = curve.at(along)
    places = []
    for letter in found.letters:
        away = np.hypot(*(on_curve - (letter.x_mm, letter.y_mm)).T)
        nearest = int(np.argmin(away))
        assert away[nearest] < 1e-3
        assert math.degrees(angles[nearest]) == pytest.approx(letter.angle_deg, abs=0.2)
        places.append(along[nearest])
    gaps = np.diff(places)
    assert step > 0
    assert gaps == pytest.approx(np.full(7, gaps.mean()), rel=0.005)


def test_a_path_that_is_too_short_is_refused():
    with pytest.raises(GeometryError) as caught:
        lettering("Sanderling", baseline=Baseline("path", points=((0, 0), (20, 0))))
    assert caught.value.code == "baseline-too-short"


@pytest.mark.parametrize(
    "data", ["", "x", "M0 0", "M0 0L0 0", "M0 0L1e9 0", "M0 0L5", "M" + "0 " * 6000]
)
def test_path_data_that_cannot_be_used_names_its_field(data):
    with pytest.raises(InputError) as caught:
        path_points(data, field="baseline.data")
    assert (caught.value.code, caught.value.field) == ("bad-path", "baseline.data")


def test_a_path_is_flattened_finely():
    # A quarter circle of radius 100, as SVG draws it, y down.
    points = np.array(path_points("M100 0A100 100 0 0 1 0 100", field="data"))
    assert np.hypot(*points.T) == pytest.approx(np.full(len(points), 100), abs=1e-3)
    length = np.hypot(*np.diff(points, axis=0).T).sum()
    assert length == pytest.approx(math.pi * 50, rel=1e-6)


def test_a_circle_is_walked_at_unit_speed():
    curve = circle_curve(30, inside=False, middle_deg=90)
    s = np.linspace(0, curve.length_mm, 500)
    points, angles = curve.at(s)
    steps = np.diff(points, axis=0)
    assert np.arctan2(steps[:, 1], steps[:, 0]) % math.tau == pytest.approx(
        ((angles[:-1] + angles[1:]) / 2) % math.tau, abs=1e-6
    )
    middle, _ = curve.at(np.array([curve.length_mm / 2]))
    assert middle[0] == pytest.approx((0, 30))


def test_columns_stand_letters_below_each_other_upright():
    found = lettering("KNOT", baseline=Baseline("vertical", gap_mm=3))
    boxes = [x.region.bounds for x in found.letters]
    gaps = [a[1] - b[3] for a, b in pairwise(boxes)]
    assert gaps == pytest.approx([3, 3, 3], abs=1e-3)
    middles = [(b[0] + b[2]) / 2 for b in boxes]
    assert middles == pytest.approx([middles[0]] * 4, abs=1e-3)
    assert {x.angle_deg for x in found.letters} == {0.0}


def test_justified_lines_are_as_wide_as_the_widest():
    found = lettering("HI HI HI HI\nHI HI", align="justify")
    lines = [
        shapely.union_all([x.region for x in found.letters if x.line == n]).bounds for n in (0, 1)
    ]
    assert lines[1][0] == pytest.approx(lines[0][0], abs=0.01)
    assert lines[1][2] == pytest.approx(lines[0][2], abs=0.01)


def test_the_largest_on_a_sheet_turns_it_where_that_helps():
    wide = lettering("Oystercatcher", size=Size("largest", 50, 300))
    left, low, right, high = wide.region.bounds
    assert high - low == pytest.approx(50, abs=0.05)
    assert 50 < right - left <= 300.05


def test_fitted_to_a_disc_the_ink_touches_its_rim():
    found = lettering("Knot\nDunlin", size=Size("fit_disc", 80))
    left, low, right, high = found.region.bounds
    middle = ((left + right) / 2, (low + high) / 2)
    far = max(math.dist(middle, p) for p in shapely.get_coordinates(found.region).tolist())
    assert far == pytest.approx(40, abs=0.02)
