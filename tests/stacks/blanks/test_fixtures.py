"""Boards that hold blanks, frames that help to glue up: measured on what must fit into them."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from shapely.affinity import translate

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.errors import InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer, Stack

SQUARE = {"shape": "rectangle", "width": 30, "height": 20}


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


def stack_of(
    catalogue: Catalogue, fixture: Any, outline: dict[str, Any] = SQUARE, thickness: Any = 1
) -> Stack:
    raw = {
        "title": "Tags",
        "lettering": {"text": "AB", "font": "zilla-slab-bold", "size": {"fit_blank": True}},
        "layers": [
            {
                "name": "tag",
                "material": "brass",
                "thickness": thickness,
                "outline": {"kind": "blank", **outline, "fixture": fixture},
                "features": [{"kind": "scribe_lettering"}],
            }
        ],
    }
    return build_stack(parse_recipe(raw), catalogue, FontLibrary())


def board_of(stack: Stack) -> Layer:
    (board,) = stack.fixtures
    return board


def test_a_pocket_a_blank_with_its_clearance_and_as_deep_as_the_blank(catalogue: Catalogue) -> None:
    stack = stack_of(catalogue, {"columns": 3, "rows": 2, "gap": 8, "clearance": 0.15})
    board = board_of(stack)
    fixture = stack.layers[0].fixture
    assert fixture is not None
    (part,) = board.parts
    pockets = [p for p in part.pockets if p.purpose == "blank"]
    assert len(pockets) == 6
    assert {p.depth_mm for p in pockets} == {1.0}
    blank = stack.layers[0].parts[0].outline
    for number, pocket in enumerate(pockets):
        column, row = number % 3, number // 3
        x = fixture.first_mm[0] + column * fixture.pitch_mm[0] - fixture.middle_mm[0]
        y = fixture.first_mm[1] + row * fixture.pitch_mm[1] - fixture.middle_mm[1]
        lying = translate(blank, x, y)
        assert pocket.region.contains(lying.buffer(0.14, join_style="mitre"))
        # 0.15 mm all round, and in its four corners three quarters of a disc of 1.7 mm.
        assert pocket.region.area == pytest.approx(30.3 * 20.3 + 4 * 0.75 * 9.08, rel=0.01)
        assert part.outline.contains(pocket.region)


def test_a_cutter_of_an_eighth_of_an_inch_makes_room_for_sharp_corners(
    catalogue: Catalogue,
) -> None:
    (part,) = board_of(stack_of(catalogue, {})).parts
    pocket = next(p for p in part.pockets if p.purpose == "blank")
    reached = pocket.region.buffer(-1.6).buffer(1.6)
    for x in (-15, 15):
        for y in (-10, 10):
            fixture = stack_of(catalogue, {}).layers[0].fixture
            assert fixture is not None
            corner = shapely.Point(fixture.first_mm[0] + x, fixture.first_mm[1] + y)
            assert reached.buffer(0.01).contains(corner)


def test_finger_holes_are_deeper_and_reach_under_the_edge(catalogue: Catalogue) -> None:
    (part,) = board_of(stack_of(catalogue, {"columns": 2})).parts
    fingers = [p for p in part.pockets if p.purpose == "finger"]
    pockets = [p for p in part.pockets if p.purpose == "blank"]
    assert len(fingers) == 2
    for finger, pocket in zip(fingers, pockets, strict=True):
        assert finger.depth_mm == 4.0
        assert shapely.intersection(finger.region, pocket.region).area / finger.region.area > 0.3
        assert part.outline.contains(finger.region)
    (plain,) = board_of(stack_of(catalogue, {"finger_holes": False})).parts
    assert [p.purpose for p in plain.pockets] == ["blank"]


def test_a_thin_disc_lies_in_a_pocket_of_its_thickness(catalogue: Catalogue) -> None:
    """A disc of 0.04 in lies in a pocket of 0.04 in: common practice, no source."""
    disc = {"shape": "circle", "diameter": 25.4}
    stack = stack_of(catalogue, {}, disc | {"safe_margin": 2}, thickness="0.04 in")
    (part,) = board_of(stack).parts
    assert part.pockets[0].depth_mm == pytest.approx(1.016)


def test_without_a_fixture_there_is_no_board(catalogue: Catalogue) -> None:
    stack = stack_of(catalogue, None)
    assert stack.fixtures == ()
    assert stack.layers[0].fixture is not None
    assert stack.layers[0].fixture.first_mm == (15.0, 10.0)


def glued(margin: float, **align: Any) -> dict[str, Any]:
    return {
        "title": "Knot",
        "lettering": {"text": "Knot", "font": "archivo-black", "size": {"cap_height": 30}},
        "layers": [
            {"name": "board", "material": "birch-plywood", "thickness": 9,
             "outline": {"kind": "plate", "shape": "arch", "margin": margin}},
            {"name": "face", "material": "acrylic-cast", "thickness": 3,
             "outline": {"kind": "lettering"}},
        ],
        "align": {"kind": "frame", **align},
    }  # fmt: skip


def test_a_frame_lies_flush_with_the_board_and_takes_every_letter(catalogue: Catalogue) -> None:
    stack = build_stack(parse_recipe(glued(14, clearance=0.25)), catalogue, FontLibrary())
    (frame,) = stack.fixtures
    (part,) = frame.parts
    board, face = stack.layers
    assert (frame.name, frame.material, frame.thickness_mm) == ("face-frame", "mdf", 3.0)
    left, low, _, _ = board.region.bounds
    laid = translate(part.outline, left, low)
    assert shapely.Polygon(laid.exterior).symmetric_difference(board.region).area < 1e-3
    for letter in face.parts:
        assert laid.distance(letter.outline) >= 0.24
        assert laid.distance(letter.outline) < 0.26
    assert stack.findings == ()


def test_a_frame_for_a_narrow_board_is_lined_up_by_eye(catalogue: Catalogue) -> None:
    stack = build_stack(parse_recipe(glued(3)), catalogue, FontLibrary())
    (finding,) = stack.findings
    assert finding.code == "align"
    assert "by eye" in finding.why
    assert len(stack.fixtures) == 1


def test_a_layer_may_not_take_the_name_of_a_fixture(catalogue: Catalogue) -> None:
    raw = glued(14)
    raw["layers"][0]["name"] = "Face-Frame"
    with pytest.raises(InputError) as caught:
        build_stack(parse_recipe(raw), catalogue, FontLibrary())
    assert caught.value.code == "duplicate-layer"
