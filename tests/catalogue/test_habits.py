"""Habits of a machine of one's own: what is taken, and what is refused at its field."""

from __future__ import annotations

from typing import Any

import pytest

from letterply.catalogue import read_shop, resolve_shop
from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.requests import CatalogueFile

GOOD: dict[str, Any] = {
    "zero_xy": "pin", "pin": ["-1/2 in", "2 in"], "blank_zero": "floor",
    "blank_zero_xy": "fixture", "arc_form": "radius", "dwell": "milliseconds",
    "comments": "semicolon", "line_number_step": 10, "coolant_on": ["M7"], "coolant_off": ["M9"],
    "coolant_for": ["metal", "acrylic"], "extraction_on": ["M64 P2"], "extraction_off": ["M65 P2"],
    "park": ["0 in", "15 in"], "park_from": "machine", "tool_change": "automatic",
    "length_offsets": True, "extension": "tap", "start_words": ["G64", "M70 (light)"],
}  # fmt: skip


def shop_with(**habits: Any) -> dict[str, Any]:
    machine = {"like": "bench-router", **habits}
    return {"machine": "mine", "catalogue": {"machines": {"mine": machine}}}


def test_a_shop_says_every_habit() -> None:
    document = read_shop(shop_with(**GOOD))
    file = CatalogueFile.model_validate(document.catalogue_file(), by_name=False)
    machine = resolve_shop(document, load_catalogue(file)).machine
    assert machine.pin_mm == (-12.7, 50.8)
    assert machine.park_mm == (0.0, 381.0)
    assert (machine.dwell, machine.line_number_step, machine.extension) == (
        "milliseconds",
        10,
        "tap",
    )
    assert machine.sources["park_mm"].status == "own"
    assert machine.sources["dwell"].status == "from memory"


def test_a_habit_that_comes_from_memory_says_so() -> None:
    for machine in load_catalogue().machines.values():
        for name in ("dwell", "comments", "arc_form"):
            assert machine.sources[name].status == "from memory", (machine.key, name)


@pytest.mark.parametrize(
    ("habits", "field"),
    [
        ({"zero_xy": "south"}, "zero_xy"),
        ({"zero_xy": "pin"}, "pin"),
        ({"zero_xy": "pin", "pin": [1]}, "pin"),
        ({"zero_xy": "pin", "pin": ["5 m", 0]}, "pin"),
        ({"blank_zero": "hole"}, "blank_zero"),
        ({"blank_zero_xy": "last"}, "blank_zero_xy"),
        ({"arc_form": "spiral"}, "arc_form"),
        ({"dwell": "hours"}, "dwell"),
        ({"comments": "hash"}, "comments"),
        ({"line_number_step": -1}, "line_number_step"),
        ({"line_number_step": 2.5}, "line_number_step"),
        ({"coolant_on": ["M7"]}, "coolant_off"),
        ({"coolant_on": ["G0 Z-9"], "coolant_off": ["M9"]}, "coolant_on"),
        ({"coolant_on": ["M3"], "coolant_off": ["M9"]}, "coolant_on"),
        ({"coolant_for": ["cheese"]}, "coolant_for.0"),
        ({"extraction_off": ["M9"]}, "extraction_on"),
        ({"extraction_on": ["M8"], "extraction_off": ["M8"]}, "extraction_off"),
        ({"extraction_on": ["M30"], "extraction_off": ["M9"]}, "extraction_on"),
        ({"park": [0, 0, 5]}, "park"),
        ({"park_from": "moon"}, "park_from"),
        ({"length_offsets": True}, "length_offsets"),
        ({"length_offsets": "yes"}, "length_offsets"),
        ({"extension": "exe"}, "extension"),
        ({"extension": "svg"}, "extension"),
        ({"start_words": ["G64\nG0 Z-9"]}, "start_words.0"),
        ({"end_words": ["home please"]}, "end_words.0"),
    ],
)
def test_a_bad_habit_is_refused_at_its_field(habits: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        read_shop(shop_with(**habits))
    assert caught.value.field == f"catalogue.machines.mine.{field}", caught.value.message
    assert caught.value.expected
