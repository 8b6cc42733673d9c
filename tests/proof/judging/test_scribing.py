"""What is taken for drawn without a closer look is drawn."""

import numpy as np
import pytest
import shapely
import shapely.affinity
import shapely.ops

from letterply.proof.judging.scribing import _cover, _surely_near
from letterply.proof.reading.moves import Segments

BOW = shapely.MultiLineString(
    [shapely.Point(0, 0).buffer(20, quad_segs=64).exterior, [(30, 0), (30, 0.01)]]
)


def drawn(lines, beside_mm=0.0, without=0.0):
    """Return segments along lines, moved aside, the last stretch of the first left out."""
    first, *others = shapely.affinity.translate(lines, beside_mm).geoms
    first = shapely.ops.substring(first, 0, first.length - without)
    pairs = [np.array(line.coords) for line in (first, *others)]
    starts, ends = (np.vstack([p[s] for p in pairs]) for s in (slice(-1), slice(1, None)))
    depth = np.full((len(starts), 1), -0.3)
    moves = np.arange(len(starts))
    return Segments(np.hstack((starts, depth)), np.hstack((ends, depth)), moves)


@pytest.mark.parametrize(
    ("beside_mm", "without_mm", "plain"),
    [(0.0, 0.0, True), (0.029, 0.0, True), (0.04, 0.0, False), (0.0, 0.2, False)],
)
def test_what_lies_near_all_along_is_covered(beside_mm, without_mm, plain):
    segments = drawn(BOW, beside_mm, without_mm)
    assert _surely_near(BOW, segments) is plain
    left = BOW.difference(_cover(segments, BOW))
    if plain:
        assert left.is_empty
    if without_mm:
        assert left.length > 0.05


def test_nothing_is_near_where_nothing_is_drawn():
    none = Segments(np.empty((0, 3)), np.empty((0, 3)), np.empty(0, dtype=np.int64))
    assert not _surely_near(BOW, none)
