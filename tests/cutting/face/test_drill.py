"""Drilling in pecks and scribing along lines."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from cutting.hand_made import disc
from cutting.measuring import dense, plan_lengths
from letterply.cutting.face.drill import drill_hole, in_short_order, scribe_line
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES


@given(st.floats(0.1, 40), st.floats(0.3, 12))
def test_pecks_are_equal_no_deeper_than_allowed_and_come_out_between(depth, peck):
    path = drill_hole(7, 9, depth, peck)
    assert path.plunging.all()
    assert (path.ends[:, :2] == [7, 9]).all()
    z = path.ends[:, 2]
    count = math.ceil(depth / peck - 1e-9)
    bottoms = -depth * np.arange(1, count + 1) / count
    # Down, then for every further peck out to the face, back to just above the last, and on.
    assert len(z) == 1 + 3 * (count - 1)
    assert z[0] == pytest.approx(bottoms[0])
    assert z[3::3] == pytest.approx(bottoms[1:])
    assert (z[1::3] == 0).all()
    back = z[2::3]
    assert (back > bottoms[:-1]).all()
    assert (back <= 0).all()
    assert z.min() == pytest.approx(-depth)
    assert (bottoms[:-1] - bottoms[1:] <= peck + 1e-9).all()


def test_a_hole_in_one_peck_is_one_move():
    path = drill_hole(0, 0, 3.0, 3.0)
    assert path.ends.tolist() == [[0, 0, -3.0]]
    assert path.start.tolist() == [0, 0, 0]


@pytest.mark.parametrize("arcs", [True, False])
def test_a_scribed_line_runs_level_within_the_tolerance(arcs):
    line = LineString(disc(10, 10, 6).exterior.coords)
    path = scribe_line(line, 0.15, TOLERANCES, arcs=arcs)
    assert path.plunging.tolist() == [True] + [False] * (len(path) - 1)
    assert (path.ends[:, 2] == -0.15).all()
    points, move = dense(path, 0.1)
    drawn = points[move > 0, :2]
    assert shapely.distance(shapely.points(drawn), line).max() <= TOLERANCES.arc_fit_mm + 1e-9
    assert plan_lengths(path).sum() == pytest.approx(line.length, rel=1e-3)
    assert bool(path.senses.any()) is arcs


def test_a_scribed_zigzag_keeps_every_corner():
    corners = [(0, 0), (5, 0), (5, 3), (1, 3), (1, 8)]
    path = scribe_line(LineString(corners), 0.1, TOLERANCES)
    assert path.ends[:, :2].tolist() == [list(map(float, c)) for c in corners]


lines = st.lists(
    st.lists(
        st.tuples(st.integers(0, 99), st.integers(0, 99)), min_size=2, max_size=4, unique=True
    ),
    min_size=1,
    max_size=14,
)


@given(lines)
def test_short_order_keeps_every_line_and_always_takes_the_nearest_end(drawn):
    given_lines = [LineString(points) for points in drawn]
    ordered = in_short_order(given_lines)

    def plain(line):
        coords = list(line.coords)
        return min(tuple(coords), tuple(coords[::-1]))

    assert sorted(map(plain, ordered)) == sorted(map(plain, given_lines))
    at = (0.0, 0.0)
    for k, line in enumerate(ordered):
        ends = [end for later in ordered[k:] for end in (later.coords[0], later.coords[-1])]
        assert math.dist(at, line.coords[0]) == min(math.dist(at, end) for end in ends)
        at = line.coords[-1]


def test_no_lines_are_in_short_order():
    assert in_short_order([]) == []
