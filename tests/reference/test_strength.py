"""Snap load against the textbook cantilever: M = F L, sigma = M / S, S = b h² / 6.

Flexural strength of cast acrylic: 14000 lbf/in2 (ASTM D790) = 96.5 MPa, UFGS acrylic sheet table.
"""

import pytest
import shapely
from shapely import Polygon, box

from letterply.checks.thin.strength import levers, snap_load
from letterply.checks.thin.zones import Cut


def test_cantilever_by_hand():
    """W = 2, t = 3, L = 30 mm, 97 MPa: 97 x 3 x 4 / 6 / 30 = 6.4667 N; out of plane 9.7 N."""
    snap = snap_load(2, 3, 30, 97)
    assert snap.in_plane_n == pytest.approx(6.466667, abs=1e-6)
    assert snap.out_of_plane_n == pytest.approx(9.7, abs=1e-9)
    assert snap.load_n == snap.in_plane_n


def test_stress_at_the_root_is_the_strength():
    """Put the load back: sigma = F L / (t w² / 6) is what went in."""
    snap = snap_load(1.7, 2.5, 21, 96.5)
    assert snap.in_plane_n * 21 / (2.5 * 1.7**2 / 6) == pytest.approx(96.5)
    assert snap.out_of_plane_n * 21 / (1.7 * 2.5**2 / 6) == pytest.approx(96.5)


def test_the_lever_is_the_reach_of_the_freed_piece():
    """A 40 x 10 block with a 30 x 2 tongue: cut at the root, the far corners are the lever."""
    shape = shapely.union(box(0, 0, 40, 10), box(40, 4, 70, 6))
    ((_, reach),) = levers(shape, [Cut(((40.0, 4.0), (40.0, 6.0)), 2.0)])
    assert reach == pytest.approx((30**2 + 1) ** 0.5, abs=0.01)


def test_a_neck_in_a_ring_frees_nothing():
    ring = Polygon(box(0, 0, 20, 20).exterior, [box(2, 2, 18, 18).exterior.coords])
    assert levers(ring, [Cut(((0.0, 10.0), (2.0, 10.0)), 2.0)]) == ()
