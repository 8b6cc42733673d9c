"""A recess and its plug fit each other after round cutters have been at both."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from shapely import MultiPolygon, Polygon

from boathouse import rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.errors import GeometryError, InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.shapes.tolerances import DEFAULT_TOLERANCES
from letterply.stacks.build import build_stack
from letterply.stacks.features.inlays import inlay_shape

STAR = Polygon([(0, 0), (30, 0), (30, 30), (18, 30), (18, 12), (12, 12), (12, 30), (0, 30)])


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


@pytest.mark.parametrize("radius", [0.5, 0.79375, 1.5875])
def test_the_plug_as_cut_goes_into_the_recess_as_cut(radius: float) -> None:
    """As cut: the plug keeps rounds in its inside corners, the recess in its own."""
    plug = inlay_shape(MultiPolygon([STAR]), radius, DEFAULT_TOLERANCES, field="f")
    recess = plug.buffer(0.1, quad_segs=64)
    cleared = recess.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)
    left_round = plug.buffer(radius, quad_segs=64).buffer(-radius, quad_segs=64)
    assert cleared.buffer(-0.08).contains(left_round)
    # Neither cutter leaves anything: both come out as drawn, within the flattening.
    assert plug.buffer(0.01).contains(left_round)
    assert cleared.buffer(0.01).contains(recess)


def test_without_round_corners_it_would_not() -> None:
    cleared = STAR.buffer(0.1, join_style="mitre").buffer(-1.5).buffer(1.5)
    assert not cleared.contains(STAR)


def test_what_is_narrower_than_the_cutter_is_refused() -> None:
    thin = MultiPolygon([shapely.union_all([STAR, shapely.box(30, 10, 50, 11)])])
    with pytest.raises(GeometryError) as caught:
        inlay_shape(thin, 1.0, DEFAULT_TOLERANCES, field="recipe.corner")
    assert caught.value.code == "inlay-too-fine"
    assert caught.value.field == "recipe.corner"


def inlaid(**recess: Any) -> dict[str, Any]:
    return {
        "title": "Knot inlay",
        "lettering": {"text": "Knot", "font": "archivo-black", "size": {"cap_height": 40}},
        "layers": [
            {"name": "board", "material": "black-walnut", "thickness": 9,
             "outline": {"kind": "plate", "margin": 12},
             "features": [{"kind": "recess", "depth": 3, "of": "plug", **recess}]},
            {"name": "plug", "material": "sugar-maple", "thickness": 12,
             "outline": {"kind": "lettering"}},
        ],
    }  # fmt: skip


def test_the_layer_that_goes_in_gets_the_corners_of_its_recess(catalogue: Catalogue) -> None:
    raw = inlaid(corner="1/16 in", clearance=0.15)
    board, plug = build_stack(parse_recipe(raw), catalogue, FontLibrary()).layers
    (pocket,) = board.parts[0].pockets
    assert pocket.purpose == "inlay"
    assert plug.z_mm == pytest.approx(6.0)
    for part in plug.parts:
        assert part.history[-1].startswith("corners of 1.5875 mm")
        gap = part.outline.exterior.distance(pocket.region.boundary)
        assert gap == pytest.approx(0.15, abs=0.01)
    plain = build_stack(parse_recipe(inlaid()), catalogue, FontLibrary()).layers[1]
    assert plain.region.area > plug.region.area


def test_grooves_start_on_a_floor(catalogue: Catalogue) -> None:
    raw = inlaid()
    del raw["layers"][1]
    own = {"text": "K", "font": "archivo-black", "size": {"cap_height": 8}}
    raw["layers"][0]["features"] = [
        {"kind": "recess", "depth": 3, "of": "lettering", "clearance": 6},
        {"kind": "groove_lettering", "from_depth": 3, "lettering": own,
         "place": {"anchor": "centre"}},
    ]  # fmt: skip
    (board,) = build_stack(parse_recipe(raw), catalogue, FontLibrary()).layers
    assert board.parts[0].grooves[0].start_mm == 3.0
    raw["layers"][0]["features"][1]["from_depth"] = 2
    with pytest.raises(InputError) as caught:
        build_stack(parse_recipe(raw), catalogue, FontLibrary())
    assert caught.value.code == "no-floor"


@pytest.mark.parametrize(("old", "new"), [("start_depth", "from_depth"), ("max_depth", "floor_at")])
def test_old_names_of_a_groove_are_refused_with_the_new_one(old, new):
    raw = rack_sign()
    raw["layers"][0]["features"].append({"kind": "groove_lettering", old: 2})
    with pytest.raises(InputError) as caught:
        parse_recipe(raw)
    error = caught.value
    assert (error.code, error.expected) == ("unknown-field", new)
    assert error.field.endswith(f".{old}")
