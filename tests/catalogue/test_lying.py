"""How sheets lie on a machine: turned where more is reached so, and no farther than it reaches."""

from __future__ import annotations

from dataclasses import replace

import pytest

from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.lying import beside_mm, lie_on_bed
from letterply.catalogue.model import Stock
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError

BED = (600.0, 400.0)


def sheet(width: float, height: float, margin: float = 8.0) -> Stock:
    return Stock("s", "mdf", 6.0, width, height, 1, margin)


def test_a_sheet_that_fits_lies_as_it_stands_on_the_rack() -> None:
    stock = sheet(600, 400)
    lying = lie_on_bed(stock, BED, 5.0)
    assert lying == replace(stock, beside_mm=5.0)
    assert lying.room_mm == (574, 374)


def test_a_sheet_that_is_longer_than_the_bed_one_way_is_turned() -> None:
    lying = lie_on_bed(sheet(300, 480), BED, 5.0)
    assert lying.turned
    assert lying.reach_mm is None
    assert lying.room_mm == (274, 454)
    as_it_lies = lying.as_it_lies()
    assert (as_it_lies.width_mm, as_it_lies.height_mm) == (480, 300)
    assert as_it_lies.room_mm == (454, 274)


def test_a_sheet_that_is_larger_either_way_is_used_as_far_as_the_cutter_gets() -> None:
    lying = lie_on_bed(sheet(1220, 2440), BED, 5.0)
    assert lying.turned is False
    assert lying.reach_mm == (595, 395)
    assert lying.room_mm == (582, 382)


def test_a_narrow_strip_longer_than_the_bed_is_used_along_its_longer_way() -> None:
    lying = lie_on_bed(sheet(200, 900), BED, 5.0)
    assert lying.turned
    assert lying.room_mm == (174, 582)
    assert lying.as_it_lies().reach_mm == (595, 395)


def test_without_a_margin_the_way_of_the_cutter_counts_on_either_side() -> None:
    lying = lie_on_bed(sheet(600, 390, margin=0.0), BED, 5.0)
    assert lying.room_mm == (590, 380)


def test_a_cutter_beside_a_part_has_its_room() -> None:
    catalogue = load_catalogue()
    shop = resolve_shop({"cutters": ["flat-6"]}, catalogue)
    around = beside_mm(shop.machine, shop.cutters, [(catalogue.material("mdf"), 6.0)])
    assert around >= 6.0


def test_what_follows_from_the_machine_is_not_given_in_a_table() -> None:
    catalogue = load_catalogue()
    table = {
        "material": "mdf", "thickness_mm": 6, "width_mm": 600, "height_mm": 400, "turned": True,
    }  # fmt: skip
    with pytest.raises(InputError) as caught:
        resolve_shop({"stock": [table]}, catalogue)
    assert caught.value.code == "unknown-field"


def test_what_is_kept_clear_turns_with_the_sheet() -> None:
    places = (KeptClear("clamp", 10, 20, 30, 5), KeptClear("screw", 50, 60, diameter_mm=8))
    lying = lie_on_bed(replace(sheet(300, 480), keep_clear=places), BED, 5.0).as_it_lies()
    clamp, screw = lying.keep_clear
    assert clamp == KeptClear("clamp", 480 - 25, 10, 5, 30)
    assert screw == KeptClear("screw", 480 - 60, 50, diameter_mm=8)
