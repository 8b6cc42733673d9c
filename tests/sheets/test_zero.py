"""Where the work zero is: by the machine's habits, and never where it cannot be reached."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Stock
from letterply.sheets import PlacedPart, Placement, Sheet, work_zero
from letterply.stacks import Part


def machine(key: str = "bench-router", **habits: Any) -> Machine:
    return dataclasses.replace(load_catalogue().machines[key], **habits)


def sheet(width: float = 300.0, height: float = 200.0, **changes: Any) -> Sheet:
    part = Part("face.Knot", "face", shapely.box(40, 20, 100, 60))
    placed = PlacedPart.at("1.face.Knot", 1, part, Placement(0, 0, 0))
    return Sheet(1, Stock("ply", "birch-plywood", 6.0, width, height, 1, **changes), (placed,))


def blanks(fixture: str = "disc-fixture") -> Sheet:
    part = Part("disc.Knot", "disc", shapely.Point(40, 40).buffer(20), ready_made=True)
    placed = PlacedPart.at("1.disc", 1, part, Placement(0, 0, 0))
    stock = Stock("blanks-disc", "brass", 2.0, 120.0, 80.0, 1)
    depth = 1.5 if fixture else 0.0
    return Sheet(1, stock, (placed,), zero_mm=(40.0, 40.0), fixture=fixture, pocket_mm=depth)


@pytest.mark.parametrize(
    ("habit", "place", "words"),
    [
        ("lower-left", (0, 0), "the lower left corner of the sheet"),
        ("lower-right", (300, 0), "the lower right corner of the sheet"),
        ("upper-left", (0, 200), "the upper left corner of the sheet"),
        ("upper-right", (300, 200), "the upper right corner of the sheet"),
        ("centre", (150, 100), "the middle of the sheet, 150 mm right of and 100 mm above"),
        ("parts", (70, 40), "the middle of all parts, 70 mm right of and 40 mm above"),
        ("pin", (-5, 12), "the pin of the machine, 5 mm left of and 12 mm above"),
    ],
)
def test_zero_lies_where_the_habit_says(habit: str, place: tuple[float, float], words: str) -> None:
    zero = work_zero(sheet(), machine(zero_xy=habit, pin_mm=(-5.0, 12.0)))
    assert (zero.x_mm, zero.y_mm) == place
    assert zero.at.startswith(words)
    assert (zero.lift_mm, zero.face, zero.why) == (0.0, "its top", "")


def test_a_corner_beyond_the_reach_is_not_taken() -> None:
    zero = work_zero(sheet(900, reach_mm=(580.0, 380.0)), machine(zero_xy="upper-right"))
    assert (zero.x_mm, zero.y_mm) == (0, 0)
    assert zero.why == "the machine does not reach its upper right corner"


@pytest.mark.parametrize(("width", "lift"), [(300.0, 6.0), (590.0, 6.0), (609.6, 0.0)])
def test_a_bed_that_the_sheet_covers_is_not_taken(width: float, lift: float) -> None:
    zero = work_zero(sheet(width, 406.4), machine("plain-router-inch"))
    assert zero.lift_mm == lift
    assert (zero.why == "the sheet covers the bed") is (lift == 0)


@pytest.mark.parametrize(
    ("habits", "lift", "face"),
    [
        ({}, 0.0, "the top of a blank"),
        ({"zero": "bed"}, 0.5, "the face of the fixture, beside its pockets"),
        ({"blank_zero": "fixture"}, 0.5, "the face of the fixture, beside its pockets"),
        # The floor is covered when the next cutter is set by hand.
        ({"blank_zero": "floor"}, 0.5, "the face of the fixture, beside its pockets"),
        ({"blank_zero": "floor", "tool_change": "automatic"}, 2.0,
         "the floor of a pocket, before its blank goes in"),
    ],
)  # fmt: skip
def test_zero_of_blanks_in_height(habits: dict[str, Any], lift: float, face: str) -> None:
    zero = work_zero(blanks(), machine(**habits))
    assert (zero.lift_mm, zero.face) == (lift, face)
    assert bool(zero.why) is (habits == {"blank_zero": "floor"})


def test_zero_of_blanks_in_the_plane() -> None:
    first = work_zero(blanks(), machine())
    assert (first.x_mm, first.y_mm) == (40, 40)
    corner = work_zero(blanks(), machine(blank_zero_xy="fixture", zero_xy="lower-right"))
    assert (corner.x_mm, corner.y_mm) == (120, 0)
    assert corner.at == "the lower right corner of the fixture disc-fixture"
    alone = work_zero(blanks(""), machine(blank_zero_xy="fixture", zero="bed"))
    assert (alone.x_mm, alone.at) == (40, "the middle of the blank")
    assert (alone.lift_mm, alone.face) == (2.0, "the bed that the blank lies on")
