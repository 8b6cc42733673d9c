"""Lines for a drag point: along the middle of strokes, against shapes whose middle is known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon, box

from letterply.stacks.features.lines import centre_lines, hatch_lines, scribed_lines


def region(*pieces: shapely.Polygon) -> MultiPolygon:
    return MultiPolygon(list(pieces))


def test_a_bar_has_one_straight_line_half_its_width_short_of_both_ends() -> None:
    (line,) = centre_lines(region(box(0, 0, 40, 4)))
    ends = sorted(line.coords)
    assert ends[0] == pytest.approx((2, 2), abs=1e-6)
    assert ends[-1] == pytest.approx((38, 2), abs=1e-6)
    assert line.length == pytest.approx(36)


def test_a_ring_has_one_closed_line() -> None:
    disc = shapely.Point(0, 0)
    ring = disc.buffer(20, quad_segs=128).difference(disc.buffer(16, quad_segs=128))
    lines = centre_lines(region(ring))
    assert sum(line.length for line in lines) == pytest.approx(2 * np.pi * 18, rel=2e-3)
    for line in lines:
        assert np.abs(np.hypot(*np.asarray(line.coords).T) - 18).max() < 0.01


def test_a_stroke_that_bends_and_forks_is_followed_to_every_end() -> None:
    fork = LineString([(0, 0), (0, 30)]).buffer(1, cap_style="flat")
    arm = LineString([(0, 20), (20, 20)]).buffer(1, cap_style="flat")
    lines = shapely.union_all(centre_lines(region(shapely.union(fork, arm))))
    for end in ((0, 1), (0, 29), (19, 20)):
        assert lines.distance(shapely.Point(end)) < 0.01
    assert 46 < lines.length < 49


def test_a_disc_has_a_dot_and_nothing_has_none() -> None:
    (dot,) = centre_lines(region(shapely.Point(3, 4).buffer(2)))
    assert dot.centroid.distance(shapely.Point(3, 4)) < 0.05
    assert dot.length <= 0.5
    assert centre_lines(MultiPolygon()) == ()


def test_styles() -> None:
    bar = region(box(0, 0, 20, 3))
    assert len(scribed_lines(bar, "outline", 0.15, 0.5)) == 1
    assert len(scribed_lines(bar, "hatch", 0.15, 0.5)) == 2  # its outline, and one to and fro
    assert len(scribed_lines(bar, "centre", 0.15, 0.5)) == 1


def test_hatching_is_joined_at_its_ends_and_stays_in_the_region() -> None:
    """Level lines 0.5 mm apart cover a ring; where its hole parts them, they are not joined."""
    ring = shapely.Point(0, 0).buffer(9).difference(shapely.Point(0, 0).buffer(4))
    lines = hatch_lines(region(ring), 0.5)
    assert len(lines) <= 6
    drawn = shapely.union_all(lines)
    assert shapely.covers(shapely.buffer(ring, -0.1), drawn)
    # Each row is there as it was: what the rows cover is covered, half a gap and a bit around.
    cover = shapely.buffer(drawn, 0.26)
    assert shapely.buffer(ring, -0.3).difference(cover).area < 0.01 * ring.area
    level = sum(
        abs(b[0] - a[0])
        for line in lines
        for a, b in itertools.pairwise(line.coords)
        if abs(b[1] - a[1]) < 1e-9
    )
    assert level == pytest.approx(shapely.buffer(ring, -0.25).area / 0.5, rel=0.03)


def test_without_a_gap_lines_lie_as_far_apart_as_they_are_wide_less_an_overlap() -> None:
    bar = region(box(0, 0, 20, 10))
    rows = {}
    for depth in (0.1, 0.2):
        (zigzag,) = scribed_lines(bar, "hatch", depth, None)[1:]
        heights = sorted({round(y, 6) for _, y in zigzag.coords})
        rows[depth] = np.diff(heights).mean()
        assert rows[depth] == pytest.approx(0.8 * 2 * depth * np.sqrt(3), rel=1e-4)
