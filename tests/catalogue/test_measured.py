"""Figures that a shop has measured: read, refused where they cannot be, and asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from letterply.catalogue import CutterRack, Measured, Work, load_catalogue, read_shop, resolve_shop
from letterply.errors import InputError
from letterply.requests import hatch_gap
from letterply.sources import Source

FIT = {"kind": "inlay", "into": "mdf", "of": "birch-plywood", "clearance": 0.08}
DOWEL = {"kind": "dowel", "into": "mdf", "diameter": "1/4 in", "clearance": 0.05}
THICK = {"material": "mdf", "thickness": 6, "measured": 6.2}


def fields_of(shop: dict[str, object]) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        read_shop(shop)
    error = caught.value
    told = error.data.get("mistakes") or [{"field": error.field, "code": error.code}]
    return {m["field"]: m["code"] for m in told}


def test_every_mistake_of_measured_figures_comes_at_once():
    shop = {
        "fits": [
            {**FIT, "into": "slate"},
            {**FIT, "of": None},
            {**DOWEL, "diameter": None},
            {**FIT, "clearance": 12},
        ],
        "thicknesses": [{**THICK, "measured": 62}, {**THICK, "material": "slate"}],
        "feeds_in": {"mdf": {"nail": {"feed": 800}}, "slate": {}},
    }
    assert fields_of(shop) == {
        "fits.0.into": "unknown-material",
        "fits.1": "missing-field",
        "fits.2": "missing-field",
        "fits.3.clearance": "out-of-range",
        "thicknesses.0.measured": "out-of-range",
        "thicknesses.1.material": "unknown-material",
        "feeds_in.mdf.nail": "unknown-cutter",
        "feeds_in.slate": "unknown-material",
    }


def test_a_shop_with_measured_figures_stays_as_it_is_when_it_is_read_again():
    document = read_shop({"fits": [FIT, DOWEL], "thicknesses": [THICK]})
    again = read_shop(document.normal())
    assert again == document
    assert [f.diameter_mm for f in again.fits] == [None, 6.35]


def test_the_last_fit_of_a_pair_counts_and_no_other_pair_has_it():
    shop = read_shop({"fits": [FIT, DOWEL, {**FIT, "clearance": 0.12}]})
    measured = Measured.of(shop.fits, (), ())
    fit = measured.inlay("birch-plywood", "mdf")
    assert fit is not None
    assert fit.clearance_mm == 0.12
    assert measured.inlay("mdf", "birch-plywood") is None
    assert measured.dowel(6.35, "mdf") is not None
    assert measured.dowel(6.0, "mdf") is None


def test_a_beam_has_the_power_of_a_sheet_by_what_it_measures_too():
    power = {"material": "birch-plywood", "thickness": 6.5, "cut": 60}
    true = {"material": "birch-plywood", "thickness": 6.5, "measured": 6.1}
    wish = {"machine": "bench-beam", "power": [power], "thicknesses": [true]}
    shop = resolve_shop(wish, load_catalogue())
    assert [p.thickness_mm for p in shop.power] == [6.5, 6.1]


def test_a_v_bit_that_was_measured_answers_to_the_angle_it_was_sold_by():
    catalogue = load_catalogue()
    bit = catalogue.cutters["vbit-60"]
    found = {"included_angle_deg": Source("measured on 2026-11-29", "measured")}
    measured = replace(bit, included_angle_deg=61.3, sources={**bit.sources, **found})
    other = replace(bit, included_angle_deg=61.3)
    material = catalogue.material("birch-plywood")
    for cutter, answers in ((measured, True), (other, False)):
        rack = CutterRack((cutter,), material)
        assert bool(rack.able(Work.GROOVE, angle_deg=60.0)) is answers
        assert not rack.able(Work.GROOVE, angle_deg=90.0)


def test_hatching_lies_as_close_as_the_lines_of_a_measured_point_are_wide():
    # A flat of 0.1 mm and 90 degrees draw 0.1 + 2 x 0.15 = 0.4 mm wide, 0.15 mm deep.
    assert hatch_gap(0.15, (0.1, 90.0)) == pytest.approx(0.8 * 0.4)
