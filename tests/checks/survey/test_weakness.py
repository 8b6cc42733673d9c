"""Weak spots by scale: against the checks of real outlines at that scale, and by hand."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box
from shapely.affinity import scale as scaled

from letterply.catalogue.loading import load_catalogue
from letterply.checks.survey.measures import measure_glyph, measure_piece
from letterply.checks.survey.sizing import blockers_of
from letterply.checks.survey.weakness import Judge, Terms
from letterply.lettering.fonts.library import FontLibrary
from letterply.shapes.flatten import circle
from letterply.shapes.regions import as_region, normalise

CATALOGUE = load_catalogue()


def terms(material="acrylic-cast", thickness=3.0, cutter="flat-1", supported=False):
    return Terms(
        CATALOGUE.material(material), thickness, (CATALOGUE.cutter(cutter),), supported=supported
    )


def measured(shape):
    return (measure_piece(normalise(as_region(shape)).geoms[0]),)


TERMS = (
    terms(supported=True),
    terms("mdf", 6.0, "flat-3175"),
    terms("sugar-maple", 9.0, "flat-3175"),
)


@pytest.mark.parametrize(
    ("font", "characters"),
    [("playfair-display", "ABHag"), ("dancing-script", "Wze"), ("great-vibes", "Kt"),
     ("oswald", "R8")],
)  # fmt: skip
def test_what_is_blocked_at_a_scale_is_what_the_checks_find_there(font, characters):
    """Both say at the same scales that there is a blocker inside, and how many counters close."""
    face = FontLibrary().load(font)
    seen = {True: 0, False: 0}
    for character in characters:
        measures = measure_glyph(face, face.harfbuzz.get_nominal_glyph(ord(character)))
        for piece in measures.pieces:
            for each in TERMS:
                for scale in (0.15, 0.27, 0.4, 0.6, 1.0, 1.5, 2.3, 3.4):
                    grown = scaled(piece.outline, scale, scale, origin=(0, 0))
                    found = [f.code for f in blockers_of(as_region(grown), each)]
                    told = [w.kind for w in Judge(each).blocked_at((piece,), scale)]
                    where = character, each.material.key, scale
                    assert told.count("counter") == found.count("slot"), where
                    thin = len(told) > told.count("counter")
                    assert thin == (len(found) > found.count("slot")), where
                    seen[thin] += 1
    assert min(seen.values()) > 5


def test_a_neck_is_strong_enough_from_the_scale_that_the_formula_says():
    """Blocks of 20 and 60 by a neck 2 wide, in acrylic 3 thick that breaks at 97 MPa.

    In the plane f t w² / (6 L) grows with the scale: to bear 2 N twice over,
    s = 2 · 2 · 6 · L / (97 · 3 · 2²). The limit of 3 mm is never met before.
    """
    shape = shapely.union_all([box(0, 0, 60, 20), box(60, 9, 64, 11), box(64, 0, 264, 20)])
    each = terms()
    (spot,) = Judge(each).weak_spots(measured(shape))
    lever = spot.reach_mm
    assert 62 < lever < 70
    expected = 4 * 6 * lever / (97 * 3 * 2**2)
    assert expected < 1.5
    assert spot.scale == pytest.approx(expected, rel=1e-3)
    assert spot.load_n(each, spot.scale) == pytest.approx(4, rel=1e-3)
    assert not Judge(each).blocked_at(measured(shape), spot.scale * 1.001)
    assert Judge(each).blocked_at(measured(shape), spot.scale * 0.999)


def test_what_breaks_out_of_the_plane_needs_the_full_limit():
    """Out of the plane f w t² / (6 L) does not grow: 2 wide, 0.5 thick, L 120 bears 0.07 N."""
    shape = shapely.union_all([box(0, 0, 120, 20), box(120, 9, 124, 11), box(124, 0, 400, 20)])
    each = terms(thickness=0.5)
    (spot,) = Judge(each).weak_spots(measured(shape))
    assert spot.scale == pytest.approx(each.limit_mm / 2, rel=1e-3)


def test_a_ring_is_held_from_both_sides_and_may_be_a_quarter_of_the_limit():
    ring = Polygon(circle(0, 0, 20, 0.002), [circle(0, 0, 18, 0.002)])
    each = terms()
    spots = Judge(each).weak_spots(measured(ring))
    thin = next(s for s in spots if s.kind != "counter")
    assert thin.scale == pytest.approx(each.limit_mm / 4 / 2, rel=0.01)
    assert thin.reach_mm is None


def test_a_counter_opens_when_it_is_as_wide_as_the_cutter():
    shape = Polygon(box(0, 0, 40, 40).exterior, [circle(20, 20, 2.5, 0.002)])
    spots = Judge(terms(cutter="flat-3175", thickness=6.0)).weak_spots(measured(shape))
    counter = next(s for s in spots if s.kind == "counter")
    assert counter.scale == pytest.approx(3.175 / 5, rel=0.002)
    assert counter.at == pytest.approx((20, 20), abs=0.05)


def test_without_a_cutter_no_counter_is_judged():
    shape = Polygon(box(0, 0, 40, 40).exterior, [circle(20, 20, 2.5, 0.002)])
    none = terms(cutter="flat-1", thickness=12.0)
    assert none.cutter is None
    assert all(s.kind != "counter" for s in Judge(none).weak_spots(measured(shape)))


def test_spots_come_worst_first():
    face = FontLibrary().load("playfair-display")
    measures = measure_glyph(face, face.harfbuzz.get_nominal_glyph(ord("%")))
    scales = [s.scale for s in Judge(terms()).weak_spots(measures.pieces)]
    assert scales == sorted(scales, reverse=True)
    assert np.isfinite(scales).all()
