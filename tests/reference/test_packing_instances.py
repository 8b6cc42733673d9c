"""Public strip-packing instances, laid as an order lays parts; measured again on true outlines.

Data: ESICUP working group on cutting and packing (albano, jakobs1, shirts, swim), in the JSON form
kept with jagua-rs (repository JeroenGar/jagua-rs, folder assets). Each is scaled to a strip of
400 mm and laid with 1 mm between parts, its own turns allowed. The second opinions are boxes on
shelves and a strip packer (spyrrow). Densities are those of the quick, repeatable way, measured
here; the densities of the literature (0.76 to 0.90) are of long searches without a distance.
"""

import pytest

from bench.packings import (
    read_instance,
    remeasure,
    sheet_stock,
    shelf_length,
    strip_length,
    to_place,
)
from letterply.sheets.nesting import nest

SPACING_MM = 1.0
FLOORS = {"albano": 0.735, "jakobs1": 0.705, "shirts": 0.77, "swim": 0.59}
"""Share of the strip that parts cover: what is reached, less two hundredths."""


@pytest.fixture(params=sorted(FLOORS))
def laid(request):
    parts, turns, height = read_instance(request.param)
    grain = len(turns) == 2
    stock = sheet_stock(20_000, height + 0.02, 1, 0.0)
    nesting = nest(to_place(parts, grain=grain), [stock], spacing_mm=SPACING_MM)
    remeasure(nesting.sheets, SPACING_MM, grain=grain)
    (sheet,) = nesting.sheets
    assert len(sheet.parts) == len(parts)
    length = max(p.part.outline.bounds[2] for p in sheet.parts)
    return request.param, parts, turns, height, length


def test_density_is_what_it_was(laid):
    name, parts, _, height, length = laid
    density = sum(p.outline.area for p in parts) / (height * length)
    assert FLOORS[name] <= density < 1


def test_boxes_on_shelves_need_more_where_shapes_are_odd(laid):
    name, parts, _, height, length = laid
    shelves = shelf_length([p.outline for p in parts], 1e9, height, SPACING_MM)
    most = {"albano": 0.84, "jakobs1": 0.76, "shirts": 0.92, "swim": 0.75}[name]
    assert length / shelves < most


def test_a_strip_packer_given_seconds_is_not_far_ahead(laid):
    _, parts, turns, height, length = laid
    best = strip_length([p.outline for p in parts], height, SPACING_MM, turns, 1)
    assert length / best < 1.2
