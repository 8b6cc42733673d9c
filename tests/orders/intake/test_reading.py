"""Orders as spreadsheets and programs write them: read alike, whatever the wrapping."""

import json

import pytest

from boathouse import one_layer
from letterply.orders.codec import plain, value_of
from letterply.orders.intake.charset import decode_text
from letterply.orders.intake.measuring import measure_designs
from letterply.orders.intake.reading import Order, add_measures
from letterply.orders.intake.recipes import shipped_recipes
from orders.intake.ordering import in_the_library, read, refusal

PLAIN = 'text,quantity,size\nAvocet,2,30 mm\n"Grey\nPlover",1,28\n'
WRAPPINGS = {
    "plain": PLAIN.encode(),
    "byte order mark": PLAIN.encode("utf-8-sig"),
    "UTF-16 with mark": PLAIN.encode("utf-16"),
    "UTF-16 without mark": PLAIN.encode("utf-16-le"),
    "big-endian without mark": PLAIN.encode("utf-16-be"),
    "semicolons": b'text;quantity;size\nAvocet;2;30 mm\n"Grey\nPlover";1;28\n',
    "tabs": b'text\tquantity\tsize\nAvocet\t2\t30 mm\n"Grey\nPlover"\t1\t28\n',
    "hint": b'sep=;\r\ntext;quantity;size\r\nAvocet;2;30 mm\r\n"Grey\r\nPlover";1;28\r\n',
    "single returns": PLAIN.replace("\n", "\r").encode(),
    "decimal comma": b'text;quantity;size\nAvocet;2;30,0 mm\n"Grey\nPlover";1;28,00\n',
    "empty rows and columns": (
        b'text,quantity,size,,\n,,,,\nAvocet,2,30 mm,,\n\n"Grey\nPlover",1,28\n'
    ),
    "other order, capitals": b'Size,TEXT, Quantity \n30 mm,Avocet,2\n28,"Grey\nPlover",1\n',
}


@pytest.mark.parametrize("wrapping", WRAPPINGS)
def test_wrappings_of_one_order_read_alike(wrapping):
    assert read(table=WRAPPINGS[wrapping]) == read(table=PLAIN)
    json_lines = [
        {"text": "Avocet", "quantity": 2, "size": 30},
        {"text": "Grey\nPlover", "size": "28 mm"},
    ]
    assert read({"recipe": "rack-sign", "lines": json_lines}) == read(table=PLAIN)


def test_rows_are_those_of_the_file_after_quoted_line_ends():
    table = 'sep=,\ntext,size\n"Grey\nPlover",30\n"a\nb\nc",30\nKnot,big\n'
    (found,) = refusal(table=table).data["mistakes"]
    assert (found["line"], found["row"]) == (3, 8)


def test_declared_encoding_is_heeded():
    data = "text\nGroße Möwe\n".encode("cp1252")
    assert read(table=data, charset="windows-1252").lines[0].text == "Große Möwe"


def test_an_encoding_that_cannot_be_told_is_refused_with_its_row():
    data = "text\nKnot\nMöwe\n".encode("cp1252")
    error = refusal(table=data)
    assert (error.code, error.data["row"]) == ("unknown-encoding", 3)


@pytest.mark.parametrize("name", ["rot13", "base64", "idna", "unicode_escape", "no-such", "x" * 99])
def test_codecs_that_are_no_encodings_of_text_are_refused(name):
    assert refusal(table=b"text\nKnot\n", charset=name).code == "unknown-encoding"


def test_bytes_that_break_their_own_encoding_are_refused():
    assert refusal(table=b"\xef\xbb\xbftext\nKn\xffot\n").code == "bad-encoding"
    assert decode_text(b"text", "UTF8") == "text"


def test_a_line_changes_its_recipe():
    line = {
        "text": "Ruff",
        "font": "lobster",
        "size": "20 mm",
        "material": "board: mdf, face: mdf",
        "recipe": "rack-sign",
    }
    shop = {
        "stock": [
            {"key": str(t), "material": "mdf", "thickness_mm": t, "width_mm": 600, "height_mm": 400}
            for t in (3, 6, 9)
        ]
    }
    (made,) = read({"lines": [line], "shop": shop}).lines
    lettering = made.recipe["lettering"]
    assert (lettering["text"], lettering["font"]) == ("Ruff", "lobster")
    assert lettering["size"]["cap_height"] == 20
    assert lettering["features"] == {}
    assert [la["material"] for la in made.recipe["layers"]] == ["mdf"] * 3
    assert made.recipe["title"] == "Ruff rack sign"


def test_bare_material_means_the_top_layer():
    shop = {"stock": ["birch-9-half", "mdf-6", "mdf-3"]}
    (line,) = read({"recipe": "rack-sign", "shop": shop,
                    "lines": [{"text": "Knot", "material": "mdf"}]}).lines  # fmt: skip
    assert line.recipe["layers"][-1]["material"] == "mdf"


def test_an_order_survives_the_way_through_json():
    order = read(table=PLAIN)
    assert value_of(Order, json.loads(json.dumps(plain(order)))) == order


def test_shipped_recipes_hold_and_can_be_measured():
    for name in shipped_recipes():
        order = read({"recipe": name, "lines": ["Dunlin"]})
        assert order.lines[0].recipe["finishing"], name
        measures = measure_designs([order.lines[0].recipe], None, (), {})
        add_measures(order, measures)
        for layer in measures[0].layers:
            assert layer.width_mm > 10
            assert layer.cut_mm > layer.width_mm


def test_what_only_fonts_can_tell_is_told_by_line():
    order = read({"recipe": "rack-sign", "lines": ["Knot", "Кулик", {"text": "Sanderling",
                  "size": "300 mm"}]})  # fmt: skip
    with pytest.raises(Exception, match="not accepted") as caught:
        add_measures(order, measure_designs([la.recipe for la in order.lines], None, (), {}))
    found = [(m["line"], m["code"], m["column"]) for m in caught.value.data["mistakes"]]
    assert found == [(2, "glyph-missing", "text"), (3, "larger-than-any-sheet", "size")]


def test_the_measure_is_that_of_the_lettering_as_it_is_set():
    from letterply.lettering.fonts.library import FontLibrary
    from letterply.requests.recipe import parse_recipe
    from letterply.shapes.tolerances import DEFAULT_TOLERANCES
    from letterply.stacks.outlines.lettering import measure_recipe_lettering, set_recipe_lettering

    assert in_the_library("lobster")
    library = FontLibrary()
    recipe = parse_recipe(
        dict(read({"recipe": "stacked-letters", "lines": ["Godwit"]}).lines[0].recipe)
    )
    width, height = measure_recipe_lettering(recipe.lettering, library, "x")
    region = set_recipe_lettering(recipe.lettering, library, DEFAULT_TOLERANCES, "x").region
    left, low, right, high = region.bounds
    assert abs(width - (right - left)) < 0.05
    assert abs(height - (high - low)) < 0.05


def plain_board(**more):
    holes = {"kind": "holes", "diameter": 5}
    outline = {"kind": "plate", "width": 100, "height": 60}
    title = "Boathouse board"
    made = one_layer(None, outline, holes, material="birch-plywood", thickness=9, title=title)
    return made | more


def test_a_line_of_a_recipe_without_lettering_needs_no_text():
    request = {"recipes": {"plain": plain_board()}, "recipe": "plain", "lines": [{"quantity": 2}]}
    (line,) = read(request).lines
    assert (line.text, line.quantity) == ("Boathouse board", 2)
    assert line.recipe["lettering"] is None
    (measured,) = measure_designs([line.recipe], None, (), {})
    assert measured.code == ""
    assert (measured.layers[0].width_mm, measured.layers[0].height_mm) == (100, 60)


def test_a_title_with_a_place_for_the_text_asks_for_one():
    recipes = {"plain": plain_board(title="{text} board")}
    error = refusal({"recipes": recipes, "recipe": "plain", "lines": [{"quantity": 2}]})
    assert "empty-text" in str(error.data)
    (line,) = read({"recipes": recipes, "recipe": "plain", "lines": ["Dunlin"]}).lines
    assert line.recipe["title"] == "Dunlin board"


@pytest.mark.parametrize("cell", [{"font": "oswald"}, {"size": "20 mm"}])
def test_a_line_cannot_set_the_font_of_a_recipe_without_lettering(cell):
    recipes = {"plain": plain_board()}
    error = refusal({"recipes": recipes, "recipe": "plain", "lines": [{"text": "Knot", **cell}]})
    assert "no-lettering" in str(error.data)
    assert f"'{next(iter(cell))}'" in str(error.data)
