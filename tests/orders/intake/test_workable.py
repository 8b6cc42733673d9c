"""What the rack says no to is a mistake of the order, with line, column and reason."""

import json

import pytest

from boathouse import one_layer
from letterply.orders.codec import plain
from orders.intake.ordering import read, refusal

SHEETS = [
    {"material": m, "thickness_mm": t, "width_mm": 500, "height_mm": 400, "count": 4}
    for m, t in (("pvc-sheet", 3), ("acrylic-cast", 3), ("mdf", 12), ("mdf", 3))
]
POWERS = [
    {"material": m, "thickness": t, "cut": 60, "scribe": 10}
    for m, t in (("acrylic-cast", 3), ("mdf", 12), ("mdf", 3))
]
BEAM = {"machine": "bench-beam", "stock": SHEETS, "power": POWERS}


def recipe(*, material="acrylic-cast", thickness=3, features=(), outline=None, **more):
    made = one_layer(
        "{text}",
        outline or {"kind": "plate", "margin": 10},
        *features,
        material=material,
        thickness=thickness,
        size={"cap_height": 30},
    )
    return {**made, **more}


def mistakes(made, shop, table="text\nKnot\n"):
    error = refusal({"recipe": "own", "recipes": {"own": made}, "shop": shop}, table)
    assert error.code == "order-not-accepted"
    return error.data["mistakes"]


def test_pvc_under_a_beam_is_refused_for_every_line_with_the_reason():
    found = mistakes(recipe(material="pvc-sheet"), BEAM, "text\nKnot\nRuff\n")
    assert [(m["line"], m["row"], m["code"]) for m in found] == [
        (1, 2, "beam-refused"), (2, 3, "beam-refused"),
    ]  # fmt: skip
    for mistake in found:
        assert mistake["column"] == "recipe.layers.0.material"
        assert all(w in mistake["message"] for w in ("hydrogen chloride", "toxic", "corrosive"))
        assert "router" in mistake["expected"]


def test_a_material_named_in_its_column_is_told_there():
    found = mistakes(recipe(), BEAM, "text,material\nKnot,\nRuff,pvc-sheet\n")
    (mistake,) = found
    assert (mistake["line"], mistake["column"], mistake["column_number"]) == (2, "material", 2)


def test_the_same_recipe_is_accepted_for_a_router():
    read(
        {"recipe": "own", "recipes": {"own": recipe(material="pvc-sheet")},
         "shop": {"stock": SHEETS}},
        "text\nKnot\n",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("made", "field", "says"),
    [
        (recipe(material="mdf", thickness=12), "recipe.layers.0.thickness", "12 mm"),
        (recipe(features=[{"kind": "groove_lettering"}]), "recipe.layers.0.features.0", "groove"),
        (
            recipe(features=[{"kind": "holes", "diameter": 4}, {"kind": "recess", "depth": 1}]),
            "recipe.layers.0.features.1",
            "a pocket 1 mm deep",
        ),
        (
            recipe(outline={"kind": "blank", "shape": "circle", "diameter": 60}),
            "recipe.layers.0.outline",
            "work on a blank",
        ),
    ],
)
def test_what_a_beam_machine_does_not_do_names_the_field(made, field, says):
    (mistake,) = mistakes(made, BEAM)
    assert (mistake["code"], mistake["column"]) == ("no-cutter", field)
    assert says in mistake["message"]


@pytest.mark.parametrize(
    ("cutters", "made", "field", "says"),
    [
        (["flat-1"], recipe(material="mdf", thickness=12), "recipe.layers.0.thickness", "12.2 mm"),
        (
            ["flat-3175"],
            recipe(features=[{"kind": "scribe_lettering"}]),
            "recipe.layers.0.features.0",
            "drag point",
        ),
        (
            ["flat-3175", "vbit-60"],
            recipe(features=[{"kind": "groove_lettering", "angle": 90}]),
            "recipe.layers.0.features.0",
            "90 degree V-bit",
        ),
        (
            ["flat-6"],
            recipe(features=[{"kind": "holes", "diameter": 4}]),
            "recipe.layers.0.features.0",
            "4 mm drill",
        ),
        (
            ["drag-120", "flat-2"],
            recipe(
                outline={"kind": "blank", "shape": "circle", "diameter": 60},
                features=[{"kind": "scribe_lettering"}],
            ),
            "recipe.layers.0.outline.fixture.thickness",
            "12.2 mm",
        ),
    ],
)
def test_what_nothing_in_the_rack_does_names_the_field(cutters, made, field, says):
    (mistake,) = mistakes(made, {"cutters": cutters, "stock": SHEETS})
    assert (mistake["code"], mistake["column"]) == ("no-cutter", field)
    assert says in mistake["message"]


def test_a_blank_asks_for_no_cutter_that_goes_through_it():
    """A bought board of 19 mm, held by the maker's own means, carved with a V-bit."""
    blank = {"kind": "blank", "width": 200, "height": 90, "fixture": None}
    made = recipe(material="black-walnut", thickness="19.05 mm", outline=blank,
                  features=[{"kind": "groove_lettering", "floor_at": 4}])  # fmt: skip
    shop = {"cutters": ["vbit-60", "flat-2"]}
    order = read({"recipe": "own", "recipes": {"own": made}, "shop": shop}, "text\nKnot\n")
    assert json.dumps(plain(order))
