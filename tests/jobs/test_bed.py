"""Sheets, blanks and parts that are longer than the bed: checks, layouts and proofs agree."""

from __future__ import annotations

from typing import Any

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.checks.parts.whole import find_room
from letterply.findings import Finding
from letterply.jobs.plans import Made, make_plans
from letterply.lettering.fonts.library import FontLibrary
from letterply.orders.intake.measuring import measure_designs
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

CATALOGUE = load_catalogue()
INCH = "plain-router-inch"
"""Its bed is 609.6 x 406.4 mm."""


def stock(width: float, height: float, material: str = "mdf") -> dict[str, Any]:
    return {"material": material, "thickness_mm": 6, "width_mm": width, "height_mm": height}


def shop_of(machine: str, *sheets: dict[str, Any]) -> dict[str, Any]:
    return {"machine": machine, "stock": list(sheets), "cutters": ["flat-3175", "vbit-60"]}


def board(width: float, height: float, material: str = "mdf") -> dict[str, Any]:
    return {
        "title": "Knot",
        "lettering": {"text": "I", "font": "oswald", "size": {"cap_height": 12}},
        "layers": [
            {
                "name": "board",
                "material": material,
                "thickness": 6,
                "outline": {"kind": "plate", "shape": "rectangle", "width": width,
                            "height": height},
                "features": [{"kind": "groove_lettering", "floor_at": 1}],
            }
        ],
    }  # fmt: skip


def made(recipe: dict[str, Any], shop_wish: dict[str, Any]) -> tuple[Made, list[Finding]]:
    shop = resolve_shop(shop_wish, CATALOGUE)
    stack = build_stack(parse_recipe(recipe), CATALOGUE, FontLibrary({}))
    return make_plans(stack, shop, CATALOGUE), list(find_room(stack, shop, CATALOGUE))


@pytest.mark.parametrize("size", [(300, 480), (480, 300)])
def test_a_sheet_is_used_whichever_way_round_it_is_entered(size: tuple[float, float]) -> None:
    found, room = made(board(270, 440), shop_of(INCH, stock(*size)))
    assert room == []
    assert found.ready, [f.why for f in found.findings]
    (sheet,) = found.nesting.sheets
    assert (sheet.stock.width_mm, sheet.stock.height_mm) == (480, 300)
    told = "turn the sheet" in found.plans[0].programs[0].text
    assert told is (size == (300, 480))


def test_grain_stays_with_the_sheet_when_it_is_turned() -> None:
    recipe = board(270, 440, "ponderosa-pine")
    found, room = made(recipe, shop_of(INCH, stock(300, 480, "ponderosa-pine")))
    assert room == []
    assert found.ready, [f.why for f in found.findings]
    (sheet,) = found.nesting.sheets
    # The part's width lies along the grain, which runs along y once the sheet is turned.
    assert sheet.parts[0].placement.angle_deg in (90, 270)
    across, blocked = made(recipe, shop_of(INCH, stock(480, 300, "ponderosa-pine")))
    assert across.nesting.unplaced
    assert [f.code for f in blocked] == ["room"]


def test_of_a_sheet_that_fits_neither_way_is_used_what_the_machine_reaches() -> None:
    found, room = made(board(585, 380), shop_of(INCH, stock(1220, 2440)))
    assert room == []
    assert found.ready, [f.why for f in found.findings]
    assert "the machine reaches" in found.plans[0].programs[0].text


def test_a_part_that_fits_the_stock_but_not_the_bed_gets_that_reason() -> None:
    shop = shop_of("bench-router", stock(1220, 610))
    found, (room,) = made(board(900, 60), shop)
    (lost,) = found.nesting.unplaced
    (unplaced,) = [f for f in found.findings if f.code == "unplaced"]
    for why in (room.why, lost.why, unplaced.why):
        assert "the machine reaches only" in why
    for finding in (room, unplaced):
        assert "sheet on the rack" not in finding.remedies[0].text
    (measured,) = measure_designs([board(900, 60)], shop, (), {})
    assert measured.code == "larger-than-any-sheet"
    assert "the machine reaches only" in measured.message


def test_checks_and_layouts_lay_a_long_bar_across() -> None:
    shop = shop_of("bench-router", stock(500, 400))
    found, room = made(board(520, 20), shop)
    assert room == []
    assert not found.nesting.unplaced
    (measured,) = measure_designs([board(520, 20)], shop, (), {})
    assert not measured.code


def test_a_blank_that_is_longer_than_the_bed_that_way_is_worked_turned() -> None:
    recipe = board(100, 100)
    recipe["layers"][0]["outline"] = {
        "kind": "blank", "shape": "rectangle", "width": 200, "height": 500, "fixture": None,
    }  # fmt: skip
    recipe["lettering"] = {"text": "I I", "font": "oswald", "size": {"cap_height": 40},
                           "baseline": {"kind": "vertical"}}  # fmt: skip
    recipe["layers"][0]["features"][0]["lettering"] = {
        "text": "IIIIIIIIIIII", "font": "oswald", "size": {"cap_height": 30},
        "baseline": {"kind": "vertical"},
    }  # fmt: skip
    found, room = made(recipe, shop_of("bench-router", stock(600, 400)))
    assert room == []
    (sheet,) = found.nesting.sheets
    assert (sheet.stock.width_mm, sheet.stock.height_mm) == (500, 200)
    assert sheet.parts[0].placement.angle_deg == 90
    assert all(p.passed for p in found.proofs), [f.why for f in found.findings]
