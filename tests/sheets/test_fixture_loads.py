"""Blanks on their fixture: places, loads, marks."""

from __future__ import annotations

import pytest
import shapely

from letterply.sheets.fixture_loads import blank_sheets
from letterply.stacks.model import Fixture, Layer, Part

BED = (600.0, 400.0)
DISC = Part("disc", "disc", shapely.Point(20, 20).buffer(20), ready_made=True)
FIXTURE = Fixture("disc-fixture", 3, 2, (50.0, 52.0), (32.0, 40.0), (164.0, 122.0), 1.0, (20.0, 20))
LAYER = Layer("disc", "brass", 1.0, 0.0, (DISC,), fixture=FIXTURE)


@pytest.mark.parametrize(
    ("copies", "loads"),
    [(1, [(1, 1)]), (6, [(6, 1)]), (7, [(6, 1), (1, 1)]), (20, [(6, 3), (2, 1)])],
)
def test_full_loads_are_one_sheet_and_the_rest_another(
    copies: int, loads: list[tuple[int, int]]
) -> None:
    sheets = blank_sheets(LAYER, copies, 4, BED)
    assert [(len(s.parts), s.runs) for s in sheets] == loads
    assert [s.number for s in sheets] == list(range(4, 4 + len(loads)))
    marks = [p.mark for s in sheets for p in s.parts]
    assert len(set(marks)) == len(marks)
    assert sum(len(s.parts) * s.runs for s in sheets) == copies
    assert all(s.of_blanks and s.fixture == "disc-fixture" for s in sheets)


def test_blanks_lie_in_the_middle_of_their_pockets() -> None:
    (sheet,) = blank_sheets(LAYER, 6, 1, BED)
    at = [p.part.outline.centroid for p in sheet.parts]
    middles = sorted((round(p.x, 6), round(p.y, 6)) for p in at)
    wanted = sorted((32.0 + 50 * c, 40.0 + 52 * r) for c in range(3) for r in range(2))
    assert middles == [pytest.approx(w) for w in wanted]
    assert sheet.zero_mm == (32.0, 40.0)


def test_a_layer_that_is_cut_from_stock_has_no_blanks() -> None:
    with pytest.raises(ValueError, match="no blanks"):
        blank_sheets(Layer("disc", "brass", 1.0, 0.0, (DISC,)), 1, 1, BED)
