"""Walks against lengths by hand, points on shapely's lines, and helices."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from cutting.hand_made import SHAPES, disc
from cutting.measuring import dense, plan_lengths, starts_of
from letterply.cutting.paths import ParametricPath, polyline_path, vertical_path
from letterply.shapes.arcs import ArcChain, fit_arcs

ARC_MM = 0.01


def slot() -> ArcChain:
    """Return a loop: 10 mm along, half a circle of 4 mm in two arcs, 10 mm back, and again."""
    ends = [(10, 0), (14, 4), (10, 8), (0, 8), (-4, 4), (0, 0)]
    nan = (math.nan, math.nan)
    centres = [nan, (10, 4), (10, 4), nan, (0, 4), (0, 4)]
    return ArcChain(
        np.zeros(2), np.array(ends, float), np.array(centres, float), np.int8([0, 1, 1, 0, 1, 1])
    )


def ring_of(name: str) -> np.ndarray:
    return np.asarray(SHAPES[name].exterior.coords)


def test_length_of_lines_and_arcs_by_hand():
    walk = ParametricPath(slot(), closed=True)
    quarter = math.pi / 2 * 4
    assert walk.lengths == pytest.approx([10, quarter, quarter, 10, quarter, quarter])
    assert walk.length == pytest.approx(20 + 8 * math.pi, abs=1e-12)


@pytest.mark.parametrize(
    ("s", "x", "y"),
    [
        (0, 0, 0),
        (2.5, 2.5, 0),
        (10, 10, 0),
        (10 + math.pi, 10 + 4 * math.sqrt(0.5), 4 - 4 * math.sqrt(0.5)),
        (10 + 2 * math.pi, 14, 4),
        (15 + 4 * math.pi, 5, 8),
        (20 + 6 * math.pi, -4, 4),
    ],
)
def test_points_of_lines_and_arcs_by_hand(s, x, y):
    assert ParametricPath(slot(), closed=True).at(np.array([s]))[0] == pytest.approx(
        [x, y], abs=1e-12
    )


def test_a_walk_round_a_loop_goes_on_where_it_began():
    walk = ParametricPath(slot(), closed=True)
    s = np.linspace(0, walk.length, 57)
    for turns in (-2, -1, 1, 3):
        assert walk.at(s + turns * walk.length) == pytest.approx(walk.at(s), abs=1e-9)


def test_an_open_walk_stops_at_its_ends():
    walk = ParametricPath(slot(), closed=False)
    assert walk.at(np.array([-5.0, walk.length + 5])) == pytest.approx(np.zeros((2, 2)), abs=1e-12)
    chain = slot()
    half = ParametricPath(
        ArcChain(chain.start, chain.ends[:3], chain.centres[:3], chain.senses[:3]), closed=False
    )
    assert half.at(np.array([99.0]))[0] == pytest.approx([10, 8])


points = st.lists(
    st.tuples(st.integers(-300, 300), st.integers(-300, 300)), min_size=2, max_size=30
).filter(lambda p: all(a != b for a, b in pairwise(p)))


@given(points, st.lists(st.floats(0, 1), min_size=1, max_size=9))
def test_a_walk_along_lines_agrees_with_shapely(corners, shares):
    line = LineString(np.array(corners) / 10)
    at = np.asarray(line.coords)
    none = np.full((len(at) - 1, 2), np.nan)
    chain = ArcChain(at[0], at[1:], none, np.zeros(len(at) - 1, dtype=np.int8))
    walk = ParametricPath(chain, closed=False)
    assert walk.length == pytest.approx(line.length, rel=1e-12)
    s = np.array(shares) * line.length
    theirs = shapely.get_coordinates(shapely.line_interpolate_point(line, s))
    assert walk.at(s) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("arcs", [True, False])
@pytest.mark.parametrize("name", SHAPES)
def test_a_fitted_walk_keeps_to_its_outline_and_has_its_length(name, arcs):
    outline = LineString(ring_of(name))
    walk = ParametricPath(fit_arcs(ring_of(name), ARC_MM, arcs=arcs), closed=True)
    s = np.linspace(0, walk.length, 4001)
    at = walk.at(s)
    assert shapely.distance(shapely.points(at), outline).max() <= ARC_MM + 1e-9
    hops = np.hypot(*np.diff(at, axis=0).T)
    assert hops.max() <= s[1] * (1 + 1e-9)
    # Chords of 1/4000 of the way are shorter than the walk by the sagitta and at corners alone.
    assert walk.length == pytest.approx(outline.length, rel=1e-3)
    assert hops.sum() == pytest.approx(walk.length, rel=1e-3)


@given(st.floats(0, 3), st.floats(0.01, 2.7), st.floats(0.1, 12))
def test_a_helix_falls_evenly_along_the_way(first, turns, depth):
    """However many turns: the length is what was asked for, and z runs straight along it."""
    walk = ParametricPath(slot(), closed=True)
    a, b = first * walk.length, (first + turns) * walk.length
    path = walk.path(np.array([a, b]), np.array([0.0, -depth]))
    walked = np.cumsum(plan_lengths(path))
    assert walked[-1] == pytest.approx(b - a, abs=1e-5)
    assert path.ends[:, 2] == pytest.approx(-depth * walked / (b - a), abs=1e-5)
    assert path.start == pytest.approx([*walk.at(np.array([a]))[0], 0.0], abs=1e-12)
    assert path.ends[-1] == pytest.approx([*walk.at(np.array([b]))[0], -depth], abs=1e-9)


@given(st.floats(0, 1), st.floats(0.05, 2.5))
def test_every_point_of_a_path_lies_on_its_loop(first, turns):
    walk = ParametricPath(slot(), closed=True)
    a = first * walk.length
    path = walk.path(np.array([a, a + turns * walk.length]), np.array([-1.0, -1.0]))
    at, _ = dense(path, 0.3)
    # The loop is what is 4 mm from the line between (0, 4) and (10, 4).
    away = shapely.distance(shapely.points(at[:, :2]), LineString([(0, 4), (10, 4)]))
    assert away == pytest.approx(4, abs=1e-9)
    assert (plan_lengths(path) > 0).all()


def test_break_points_of_the_depth_are_met_exactly():
    walk = ParametricPath(fit_arcs(ring_of("disc"), ARC_MM), closed=True)
    s = np.array([3.0, 10.0, 10.7, 11.4, 100.0, 140.0])
    z = np.array([0.0, -2.0, -1.0, -2.0, -2.0, -5.0])
    path = walk.path(s, z)
    walked = 3 + np.concatenate(([0], np.cumsum(plan_lengths(path))))
    heights = np.concatenate((path.start[2:], path.ends[:, 2]))
    for at, deep in zip(s, z, strict=True):
        k = int(np.argmin(np.abs(walked - at)))
        assert walked[k] == pytest.approx(at, abs=1e-6)
        assert heights[k] == pytest.approx(deep, abs=1e-9)
    assert heights == pytest.approx(np.interp(walked, s, z), abs=1e-6)


def test_turning_of_a_circle_is_the_angle_that_the_window_spans():
    walk = ParametricPath(fit_arcs(np.asarray(disc(0, 0, 20).exterior.coords), ARC_MM), closed=True)
    s = np.linspace(0, walk.length, 50)
    # Nine points have seven inner corners: seven eighths of the window.
    assert walk.turning(s, 8.0) == pytest.approx(math.degrees(8 / 20) * 7 / 8, rel=0.02)


def test_turning_is_nothing_on_a_side_and_a_quarter_at_a_corner():
    walk = ParametricPath(fit_arcs(ring_of("square"), ARC_MM), closed=True)
    corners = 40.0 * np.arange(4)
    assert walk.turning(corners, 4.0) == pytest.approx(90, abs=1e-6)
    assert walk.turning(corners + 20, 4.0) == pytest.approx(0, abs=1e-6)


def test_a_polyline_starts_with_a_plunge_and_then_follows():
    at = np.array([[1.0, 2.0, -0.5], [4.0, 2.0, -1.0], [4.0, 6.0, 0.0]])
    path = polyline_path(at)
    assert path.start.tolist() == [1, 2, 0]
    assert path.ends.tolist() == at.tolist()
    assert path.plunging.tolist() == [True, False, False]
    assert not path.senses.any()


def test_a_vertical_path_only_goes_up_and_down():
    path = vertical_path(3, 4, np.array([-1.0, 0.0, -2.0]))
    assert path.plunging.all()
    assert (path.ends[:, :2] == [3, 4]).all()
    assert starts_of(path)[:, 2].tolist() == [0, -1, 0]
    assert path.ends[:, 2].tolist() == [-1, 0, -2]
