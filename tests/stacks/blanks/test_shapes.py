"""Blanks: lettering as large as their safe area takes, work that stays in it, nothing cut."""

from __future__ import annotations

import copy
from typing import Any

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.errors import GeometryError, InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.blanks import BlankOutline
from letterply.requests.recipe import parse_recipe
from letterply.shapes.tolerances import DEFAULT_TOLERANCES
from letterply.stacks.blanks.shapes import blank_region, place_blank, safe_area
from letterply.stacks.build import build_stack
from letterply.stacks.model import Stack


def disc(**changes: Any) -> dict[str, Any]:
    """Return a round brass key disc of 40 mm with the number of a locker."""
    recipe: dict[str, Any] = {
        "title": "Key disc",
        "lettering": {"text": "27", "font": "zilla-slab-bold", "size": {"fit_blank": True}},
        "layers": [
            {
                "name": "disc",
                "material": "brass",
                "thickness": "1 mm",
                "outline": {"kind": "blank", "shape": "circle", "diameter": 40},
                "features": [{"kind": "scribe_lettering"}],
            }
        ],
    }
    made = copy.deepcopy(recipe)
    layer = made["layers"][0]
    layer["outline"] |= changes.pop("outline", {})
    layer |= changes.pop("layer", {})
    made["lettering"] |= changes.pop("lettering", {})
    return made | changes


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


def built(raw: dict[str, Any], catalogue: Catalogue) -> Stack:
    return build_stack(parse_recipe(raw), catalogue, FontLibrary())


def ink(stack: Stack) -> shapely.MultiLineString:
    (part,) = stack.layers[0].parts
    return shapely.MultiLineString([line for s in part.scribes for line in s.lines])


def test_on_a_disc_lettering_reaches_from_edge_to_edge_of_the_safe_area(
    catalogue: Catalogue,
) -> None:
    stack = built(disc(outline={"safe_margin": 2.5}), catalogue)
    (part,) = stack.layers[0].parts
    middle = part.outline.centroid
    reach = shapely.hausdorff_distance(ink(stack), middle)
    assert 17.4 < reach <= 17.51
    assert part.ready_made
    assert part.outline.area == pytest.approx(3.14159 * 20**2, rel=1e-3)


@pytest.mark.parametrize("shape", ["rectangle", "rounded", "oval", "arch", "tag"])
def test_no_larger_lettering_would_fit(shape: str, catalogue: Catalogue) -> None:
    outline = {"shape": shape, "diameter": None, "width": 70, "height": 30, "safe_margin": 3}
    stack = built(disc(outline=outline), catalogue)
    (part,) = stack.layers[0].parts
    drawn = ink(stack)
    spec = BlankOutline(kind="blank", shape=shape, width=70, height=30)  # type: ignore[arg-type]
    safe = safe_area(spec, DEFAULT_TOLERANCES)
    left, low, right, high = part.outline.bounds
    here = shapely.affinity.translate(safe, (left + right) / 2, (low + high) / 2)
    assert here.buffer(0.02).contains(drawn)
    # Two percent larger it has no place, wherever its middle goes.
    x0, y0 = drawn.centroid.coords[0]
    larger = shapely.affinity.scale(drawn, 1.02, 1.02, origin=(x0, y0))
    for dx in range(-20, 21):
        for dy in range(-10, 11):
            assert not here.contains(shapely.affinity.translate(larger, dx / 2, dy / 2))


def test_lettering_keeps_away_from_the_hole(catalogue: Catalogue) -> None:
    hole = {"diameter": 6, "inset": 3}
    outline = {"shape": "rectangle", "diameter": None, "width": 30, "height": 40, "hole": hole}
    stack = built(disc(outline=outline), catalogue)
    (part,) = stack.layers[0].parts
    (ring,) = part.outline.interiors
    assert shapely.Polygon(ring).area == pytest.approx(3.14159 * 9, rel=1e-2)
    assert ink(stack).distance(shapely.Polygon(ring)) >= 2.98


def test_tracking_and_curved_lettering_are_fitted_too(catalogue: Catalogue) -> None:
    words = {"text": "ROWING", "tracking": "2 mm", "baseline": {"kind": "arc", "radius": 14}}
    stack = built(disc(lettering=words), catalogue)
    reach = shapely.hausdorff_distance(ink(stack), stack.layers[0].parts[0].outline.centroid)
    assert 15 < reach <= 17.02


def test_a_blank_lies_so_that_the_lettering_has_its_place() -> None:
    spec = BlankOutline(kind="blank", width=60, height=20, safe_margin=2)
    tall = shapely.MultiPolygon([shapely.box(100, 50, 140, 64)])
    x, y = place_blank(spec, tall, DEFAULT_TOLERANCES, field="f")
    assert (x, y) == pytest.approx((120, 57))
    with pytest.raises(GeometryError) as caught:
        place_blank(spec, shapely.MultiPolygon([shapely.box(0, 0, 40, 17)]), DEFAULT_TOLERANCES,
                    field="f")  # fmt: skip
    assert caught.value.code == "blank-too-small"


def test_a_hole_that_takes_all_the_room_leaves_no_safe_area() -> None:
    spec = BlankOutline(kind="blank", shape="circle", diameter=10, safe_margin=5)
    assert safe_area(spec, DEFAULT_TOLERANCES).is_empty
    assert blank_region(spec, DEFAULT_TOLERANCES).area == pytest.approx(78.5, abs=0.1)


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"outline": {"width": 30}}, "bad-blank", "recipe.layers.0.outline"),
        ({"outline": {"diameter": None}}, "bad-blank", "recipe.layers.0.outline"),
        ({"outline": {"safe_margin": 25}}, "blank-too-small", "recipe.lettering.size.fit_blank"),
        (
            {"layer": {"features": [{"kind": "through_lettering"}]}},
            "blank-not-cut",
            "recipe.layers.0.features.0",
        ),
        (
            {"layer": {"features": [{"kind": "holes", "diameter": 4, "at": "centre"}]}},
            "blank-not-cut",
            "recipe.layers.0.features.0",
        ),
        (
            {"layer": {"features": [
                {"kind": "holes", "diameter": 4, "depth": 0.4, "at": [[2, 20]]}]}},
            "outside-safe-area",
            "recipe.layers.0.features.0",
        ),
        (
            {"lettering": {"size": {"cap_height": 40}}},
            "blank-too-small",
            "recipe.layers.0.outline",
        ),
        (
            {"layer": {"outline": {"kind": "plate", "shape": "circle", "diameter": 40}}},
            "no-blank",
            "recipe.lettering.size.fit_blank",
        ),
        ({"outline": {"fixture": {"thickness": 2.5}}}, "too-deep",
         "recipe.layers.0.outline.fixture.thickness"),
        ({"outline": {"fixture": {"depth": 1.5}}}, "too-deep",
         "recipe.layers.0.outline.fixture.depth"),
        ({"outline": {"fixture": {"material": "gold"}}}, "unknown-material",
         "recipe.layers.0.outline.fixture.material"),
    ],
)  # fmt: skip
def test_mistakes_name_their_field(
    changes: dict[str, Any], code: str, field: str, catalogue: Catalogue
) -> None:
    with pytest.raises(InputError) as caught:
        built(disc(**changes), catalogue)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_dowels_do_not_go_through_a_blank(catalogue: Catalogue) -> None:
    raw = disc(align={"kind": "dowels"}, lettering={"size": {"cap_height": 10}})
    raw["layers"].append(
        {"name": "face", "material": "acrylic-cast", "thickness": 3,
         "outline": {"kind": "lettering"}}
    )  # fmt: skip
    with pytest.raises(InputError, match="not cut") as caught:
        built(raw, catalogue)
    assert caught.value.field == "recipe.align"
