"""Stencil bridges: nothing drops out, and what holds it is as wide as asked."""

import math

import pytest
import shapely
from shapely import Point, box

from letterply.catalogue.loading import load_catalogue
from letterply.checks.thin.zones import thin_zones
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import EMPTY, as_region, digest, normalise, polygons
from letterply.stacks.repairs.bridging import bridge_islands, bridge_width, islands_of
from stacks.glyphs import ink, plate_round, turned

CASES = [
    ("archivo-black", "ABDOPQRabdeg04689&@%®©"),
    ("playfair-display", "Qabegpq9@®"),
    ("zilla-slab-bold", "Rg4"),
    ("nunito", "БДЮЯбджфы"),
    ("oswald", "АВОФ"),
    ("greek", "ΑΒΔΘΦαβδθσφ"),
]
"""Latin, digits and symbols; Cyrillic; Greek."""


def held_by(cut, solid):
    return normalise(shapely.difference(solid, cut))


def check(cut, solid, width, **wish):
    """Assert what must hold of every bridged stencil; return the rest of the cut, the bridges."""
    left, bridges = bridge_islands(cut, solid, width, **wish)
    held = held_by(left, solid)
    outer = len(polygons(shapely.difference(solid, cut))) - len(
        islands_of(polygons(shapely.difference(solid, cut)))
    )
    assert len(held.geoms) == outer
    put_in = shapely.union_all([b.region for b in bridges])
    assert cut.area - left.area == pytest.approx(put_in.area, abs=1e-3)
    assert shapely.difference(put_in, cut).area < 1e-3
    if bridges:
        inside = shapely.buffer(put_in, -0.01)
        axis = medial_axis(held).peel(60)
        necks = [z for z in thin_zones(axis, width, 0.005) if z.exits >= 2]
        assert [z for z in necks if inside.intersects(Point(z.at))] == []
    return left, bridges


@pytest.mark.parametrize(("font", "letters"), CASES)
@pytest.mark.parametrize(("cap_height", "width"), [(14, 2.0), (40, 3.0)])
def test_no_letter_loses_a_piece(font, letters, cap_height, width):
    for letter in letters:
        cut = ink(letter, font, cap_height)
        _, bridges = check(cut, plate_round(cut), width)
        assert bridges or not islands_of(polygons(shapely.difference(plate_round(cut), cut)))


@pytest.mark.parametrize("word", [("Sanderling", "great-vibes"), ("Whimbrel", "lobster")])
def test_no_word_of_a_script_loses_a_piece(word):
    cut = ink(*word, 30)
    _, bridges = check(cut, plate_round(cut), 2.0)
    assert bridges


def ring(size, stroke):
    inner = size - stroke
    return shapely.difference(box(-size, -size, size, size), box(-inner, -inner, inner, inner))


def test_an_island_within_an_island_is_held_too():
    """Three nested square rings, as in ◎ or 回: two bridges for each of the larger islands."""
    cut = as_region(shapely.union_all([ring(40, 5), ring(25, 5), ring(10, 4)]))
    _, bridges = check(cut, plate_round(cut), 3.0)
    assert len(bridges) >= 5


def test_counters_that_hold_each_other_are_held_by_the_rim_as_well():
    for count in (1, 2):
        cut = ink("8", "archivo-black", 40)
        check(cut, plate_round(cut), 3.0, count=count)


def test_a_round_counter_gets_a_pair_on_one_upright_line_through_its_middle():
    cut = ink("O", "archivo-black", 40)
    _, (first, second) = check(cut, plate_round(cut), 3.0)
    counter = polygons(shapely.difference(plate_round(cut), cut))[1]
    middle = (counter.bounds[0] + counter.bounds[2]) / 2
    for bridge in (first, second):
        assert [x for x, _ in bridge.line.coords] == pytest.approx([middle, middle], abs=0.01)
    lengths = sorted((first.length_mm, second.length_mm))
    assert lengths[1] == pytest.approx(lengths[0], rel=0.02)


def test_bridges_of_an_even_ring_are_no_longer_than_the_ring_is_wide():
    cut = as_region(Point(0, 0).buffer(20, quad_segs=64) - Point(0, 0).buffer(14, quad_segs=64))
    _, bridges = check(cut, plate_round(cut), 3.0)
    assert [b.length_mm for b in bridges] == pytest.approx([6, 6], abs=0.02)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_as_many_bridges_as_asked_where_there_is_room(count):
    cut = ink("O", "archivo-black", 60)
    _, bridges = check(cut, plate_round(cut), 3.0, count=count)
    assert len(bridges) == count


@pytest.mark.parametrize("angle", [0, 30, 90, 135])
def test_bridges_run_as_asked_where_there_is_a_way(angle):
    cut = ink("O", "archivo-black", 60)
    _, bridges = check(cut, plate_round(cut), 3.0, angle_deg=angle)
    for bridge in bridges:
        (x0, y0), (x1, y1) = bridge.line.coords
        assert math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180 == pytest.approx(angle, abs=1e-6)


def test_small_counters_get_one_bridge_and_large_ones_two():
    for cap_height, count in ((10, 1), (60, 2)):
        cut = ink("O", "archivo-black", cap_height)
        assert len(check(cut, plate_round(cut), 3.0)[1]) == count


def test_what_loses_nothing_stays_as_it_is():
    cut = ink("H", "archivo-black", 40)
    left, bridges = bridge_islands(cut, plate_round(cut), 3.0)
    assert bridges == ()
    assert digest(left) == digest(cut)
    assert bridge_islands(EMPTY, plate_round(cut), 3.0) == (EMPTY, ())


def test_bridging_again_changes_nothing_and_twice_comes_out_alike():
    cut = ink("B", "zilla-slab-bold", 40)
    left, bridges = bridge_islands(cut, plate_round(cut), 3.0)
    again, more = bridge_islands(left, plate_round(cut), 3.0)
    assert more == ()
    assert digest(again) == digest(left)
    twin, _ = bridge_islands(cut, plate_round(cut), 3.0)
    assert digest(twin) == digest(left)
    assert len(bridges) == 3


@pytest.mark.parametrize("letter", "OB®")
def test_turned_lettering_gets_the_same_bridges_turned(letter):
    cut = ink(letter, "archivo-black", 40)
    solid = plate_round(cut)
    left, bridges = bridge_islands(cut, solid, 3.0)
    there, moved = bridge_islands(turned(cut, 37), turned(solid, 37), 3.0, upright_deg=127)
    assert len(moved) == len(bridges)
    assert shapely.symmetric_difference(turned(left, 37), there).area < 0.05


def test_a_letter_that_runs_off_the_plate_still_keeps_its_counter():
    cut = ink("O", "archivo-black", 40)
    left, low, _, high = cut.bounds
    solid = as_region(box(left - 10, low - 10, left + 28, high + 10))
    check(cut, solid, 3.0)


def test_dust_goes_with_the_cut():
    dust = box(-0.04, -0.04, 0.04, 0.04)
    cut = as_region(box(-10, -10, 10, 10) - dust)
    left, bridges = bridge_islands(cut, plate_round(cut), 2.0)
    assert bridges == ()
    assert left.area == pytest.approx(400)


def test_islands_narrower_than_the_bridge_are_held():
    cut = as_region(box(0, 0, 20, 12) - box(4, 5.7, 16, 6.3))
    check(cut, plate_round(cut), 3.0)


def test_width_follows_material_and_thickness():
    """Common practice: 2 mm in wood, 3 mm in acrylic, about the thickness beyond, less in metal."""
    catalogue = load_catalogue()

    def width(key, thickness):
        return bridge_width(catalogue.material(key), thickness)

    assert width("acrylic-cast", 2) == 3
    assert width("acrylic-cast", 5) == 5
    assert width("birch-plywood", 1.5) == 2
    assert width("birch-plywood", 6.5) == 6.5
    assert width("brass", 1) == 1
    assert width("brass", 3) < 3
    for material in catalogue.materials.values():
        for thickness in material.thicknesses_mm:
            assert bridge_width(material, thickness) >= material.min_web(thickness)


def test_what_was_loose_before_the_cut_is_none_of_its_business():
    cut = ink("O", "archivo-black", 40)
    solid = plate_round(cut)
    left, low, _, _ = solid.bounds
    loose = box(left + 2, low + 2, left + 4, low + 4)
    solid = as_region(shapely.difference(solid, loose.buffer(1)).union(loose))
    left_over, bridges = bridge_islands(cut, solid, 3.0)
    assert len(bridges) == 2
    assert len(held_by(left_over, solid).geoms) == 2
