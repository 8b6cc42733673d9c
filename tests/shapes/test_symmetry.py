"""Symmetries of shapes whose group is known from plane geometry, and of letters."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import rotate, scale, translate

from letterply.lettering import FontShelf, LetteringSpec, Size, set_lettering
from letterply.shapes.flatten import circle
from letterply.shapes.regions import EMPTY, as_region
from letterply.shapes.symmetry import (
    Symmetry,
    mirror_misfit,
    rotation_misfit,
    symmetries,
)
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

TOL = 0.01


def regular(n, radius=20.0, start=0.0):
    turn = 2 * np.pi * np.arange(n) / n + np.radians(start)
    return Polygon(np.column_stack((radius * np.cos(turn), radius * np.sin(turn))))


@pytest.mark.parametrize("n", [3, 4, 5, 6, 8, 12])
def test_a_regular_polygon_has_the_dihedral_group(n):
    """By any text on plane symmetry: n - 1 turns besides the one by nothing, and n mirrors."""
    found = symmetries(as_region(regular(n)), TOL)
    assert found.turns == pytest.approx([360 / n * k for k in range(1, n)], abs=2e-3)
    assert found.mirrors == pytest.approx([180 / n * k for k in range(n)], abs=2e-3)
    assert not found.round


def test_a_rectangle_a_parallelogram_and_a_kite():
    assert symmetries(as_region(box(0, 0, 30, 10)), TOL) == Symmetry((180.0,), (0.0, 90.0))
    slanted = Polygon([(0, 0), (20, 0), (30, 10), (10, 10)])
    assert symmetries(as_region(slanted), TOL) == Symmetry((180.0,), ())
    kite = Polygon([(0, 0), (6, 10), (0, 14), (-6, 10)])
    assert symmetries(as_region(kite), TOL) == Symmetry((), (90.0,))


def test_a_pinwheel_turns_and_has_no_mirror():
    vane = Polygon([(0, 0), (20, 0), (20, 6), (4, 6)])
    wheel = shapely.union_all([rotate(vane, 90 * k, origin=(0, 0)) for k in range(4)])
    found = symmetries(as_region(wheel), TOL)
    assert found.turns == pytest.approx([90, 180, 270], abs=2e-3)
    assert found.mirrors == ()


def test_discs_and_round_washers_are_round_and_an_eccentric_one_is_not():
    disc = Polygon(circle(7, 9, 15, 0.001))
    assert symmetries(as_region(disc), TOL) == Symmetry(round=True)
    washer = Polygon(circle(7, 9, 15, 0.001), [circle(7, 9, 4, 0.001)])
    assert symmetries(as_region(washer), TOL) == Symmetry(round=True)
    eccentric = Polygon(circle(7, 9, 15, 0.001), [circle(12, 9, 4, 0.001)])
    assert symmetries(as_region(eccentric), TOL) == Symmetry((), (0.0,))


def test_an_ellipse_has_two_mirrors_and_the_half_turn():
    oval = rotate(scale(Polygon(circle(0, 0, 20, 0.001)), 1.4, 1), 30)
    found = symmetries(as_region(oval), 0.02)
    assert found.turns == pytest.approx([180], abs=0.01)
    assert found.mirrors == pytest.approx([30, 120], abs=0.05)


def test_a_shape_without_any_symmetry_and_an_empty_one():
    foot = Polygon([(0, 0), (30, 0), (30, 8), (12, 8), (12, 40), (0, 40)])
    assert symmetries(as_region(foot), TOL).none
    assert symmetries(EMPTY, TOL).none
    assert not symmetries(as_region(box(0, 0, 2, 1)), TOL).none


@pytest.mark.parametrize(("tolerance", "turns"), [(0.65, (180.0,)), (0.35, ())])
def test_the_tolerance_decides_what_counts(tolerance, turns):
    """A nick 0.5 deep and 2 wide at one end of a strip.

    It moves the centroid to (400 · 20 - 1 · 0.25) / 399 = 20.049499, so that the turned strip
    stands 0.098997 to the right: the nick's floor is 0.5 - 0.098997 from the other's end.
    """
    nicked = box(0, 0, 40, 10).difference(box(-1, 4, 0.5, 6))
    region = as_region(nicked)
    assert rotation_misfit(region, 180) == pytest.approx(0.401003, abs=2e-4)
    assert symmetries(region, tolerance).turns == turns


@given(st.floats(0, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_moving_a_shape_moves_its_mirrors_and_keeps_its_turns(turn, x, y):
    shape = translate(rotate(regular(3).buffer(1), turn, origin=(0, 0)), x, y)
    found = symmetries(as_region(shape), 0.02)
    assert found.turns == pytest.approx([120, 240], abs=0.01)
    wanted = np.sort(np.array([0, 60, 120]) + turn) % 60
    off = (np.array(found.mirrors) % 60 - wanted + 30) % 60 - 30
    assert len(found.mirrors) == 3
    assert np.abs(off).max() < 0.01


def test_misfits_by_hand():
    """A square turned by 45°: its corner is at (√2 - 1) a from the side's middle, a = 10."""
    square = as_region(box(-10, -10, 10, 10))
    assert rotation_misfit(square, 90) < 1e-6
    assert rotation_misfit(square, 45) == pytest.approx(10 * 2**0.5 - 10, abs=2e-3)
    strip = as_region(box(0, 0, 30, 10))
    assert mirror_misfit(strip, 0) < 1e-6
    assert mirror_misfit(strip, 90) < 1e-6
    # In its diagonal's direction a strip lies crosswise.
    assert mirror_misfit(strip, 45) == pytest.approx(rotation_misfit(strip, 90), abs=1e-3)


def test_empty_regions_have_no_misfit():
    with pytest.raises(ValueError, match="no outline"):
        rotation_misfit(EMPTY, 180)


@pytest.mark.parametrize(
    ("letter", "turns", "mirrors"),
    [("I", 1, 2), ("H", 0, 1), ("N", 1, 0), ("T", 0, 1), ("S", 0, 0), ("E", 0, 0), ("R", 0, 0)],
)
def test_letters_of_a_sans_serif(letter, turns, mirrors):
    """Archivo Black at 50 mm, within 0.35: its H has the bar above the middle."""
    spec = LetteringSpec(letter, "archivo-black", Size("cap_height", 50))
    font = FontShelf().load("archivo-black")
    found = symmetries(set_lettering(spec, font, DEFAULT_TOLERANCES).region, 0.35)
    assert len(found.turns) == turns
    assert len(found.mirrors) == mirrors
