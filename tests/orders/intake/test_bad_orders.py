"""Forty and more kinds of broken orders: each refused with a code, a line and a column."""

import pytest

from boathouse import one_layer
from orders.intake.ordering import read, refusal

# text of the table, code, line, row, column, column number
BAD_TABLES = {
    "no heading at all": ("Avocet\nCurlew\n", "no-heading", 0, 1, "", 0),
    "nothing": ("", "no-heading", 0, 1, "", 0),
    "white space only": (" \n\t\n", "no-heading", 0, 1, "", 0),
    "heading alone": ("text,quantity\n", "no-lines", 0, 0, "", 0),
    "no text column": ("quantity,size\n1,30\n", "no-heading", 0, 1, "", 0),
    "unknown column": ("text,colour\nKnot,red\n", "unknown-column", 0, 1, "colour", 2),
    "column twice": ("text,size,Text\nKnot,30,Knot\n", "duplicate-column", 0, 1, "Text", 3),
    "value without a heading": ("text,\nKnot,red\n", "unnamed-column", 0, 2, "", 2),
    "quote never closed": ('text,size\nKnot,30\n"Ruff,30\n', "bad-table", 0, 3, "", 0),
    "text after a quote": ('text,size\n"Knot"s,30\n', "bad-table", 0, 2, "", 0),
    "zero byte": ("text\nKn\0ot\n", "bad-table", 0, 2, "", 0),
    "cell without end": ('text\n"' + "x" * 5000 + '"\n', "bad-table", 0, 2, "", 0),
    "text missing": ("text,size\n,30\n", "empty-text", 1, 2, "text", 1),
    "quantity nought": ("text,quantity\nKnot,0\n", "bad-quantity", 1, 2, "quantity", 2),
    "quantity below nought": ("text,quantity\nKnot,-3\n", "bad-quantity", 1, 2, "quantity", 2),
    "quantity a fraction": ("text,quantity\nKnot,1.5\n", "bad-quantity", 1, 2, "quantity", 2),
    "quantity a word": ("text,quantity\nKnot,two\n", "bad-quantity", 1, 2, "quantity", 2),
    "quantity too large": ("text,quantity\nKnot,1001\n", "bad-quantity", 1, 2, "quantity", 2),
    "size no length": ("text,size\nKnot,big\n", "bad-length", 1, 2, "size", 2),
    "size unknown unit": ("text,size\nKnot,3 spans\n", "unknown-unit", 1, 2, "size", 2),
    "size nought": ("text,size\nKnot,0 mm\n", "out-of-range", 1, 2, "size", 2),
    "size below nought": ("text,size\nKnot,-30\n", "out-of-range", 1, 2, "size", 2),
    "unknown font": ("text,font\nKnot,goose-quill\n", "unknown-font", 1, 2, "font", 2),
    "unknown recipe": ("text,recipe\nKnot,weather-vane\n", "unknown-recipe", 1, 2, "recipe", 2),
    "unknown material": ("text,material\nKnot,slate\n", "unknown-material", 1, 2, "material", 2),
    "unknown layer": ("text,material\nKnot,keel: mdf\n", "unknown-layer", 1, 2, "material", 2),
    "two bare materials": ('text,material\nKnot,"mdf,mdf"\n', "bad-material", 1, 2, "material", 2),
    "no such sheet": ("text,material\nKnot,brass\n", "no-stock", 1, 2, "material", 2),
    "formula": ("text,size\nKnot,30\n=A1&B1,30\n", "formula-cell", 2, 3, "text", 1),
    "formula with sign": ("text\n@SUM(1)\n", "formula-cell", 1, 2, "text", 1),
    "error word": ("text\n#REF!\n", "formula-cell", 1, 2, "text", 1),
    "formula as reference": (
        'text,reference\nKnot,"=HYPERLINK(""x"")"\n', "formula-cell", 1, 2, "reference", 2,
    ),
    "path up": ("text,reference\nKnot,../../etc/x\n", "bad-reference", 1, 2, "reference", 2),
    "path from the root": ("text,reference\nKnot,/etc/x\n", "bad-reference", 1, 2, "reference", 2),
    "path of a drive": ("text,reference\nKnot,C:x\n", "bad-reference", 1, 2, "reference", 2),
    "backslashes": ("text,reference\nKnot,a\\b\n", "bad-reference", 1, 2, "reference", 2),
    "reference twice": (
        "text,reference\nKnot,A7\nRuff,a7\n", "duplicate-reference", 2, 3, "reference", 2,
    ),
    "reference too long": (
        f"text,reference\nKnot,{'x' * 81}\n", "too-long", 1, 2, "reference", 2,
    ),
    "control character": ("text\nKn\x07ot\n", "control-character", 1, 2, "text", 1),
    "damaged letter": ("text\nKn\ufffdot\n", "damaged-text", 1, 2, "text", 1),
    "text too long": (f"text\n{'x' * 2001}\n", "too-long", 1, 2, "text", 1),
    "1,001 lines": ("text\n" + "Knot\n" * 1001, "too-many-lines", 1001, 1002, "", 0),
}  # fmt: skip


@pytest.mark.parametrize("kind", BAD_TABLES)
def test_table_is_refused_with_its_place(kind):
    text, code, line, row, column, number = BAD_TABLES[kind]
    error = refusal(table=text)
    assert error.code == "order-not-accepted"
    found = [m for m in error.data["mistakes"] if m["code"] == code]
    assert found, error.data
    first = found[0]
    assert first["line"] == line
    assert first.get("row", 0) == row
    assert first.get("column", "") == column
    assert first.get("column_number", 0) == number
    assert first["message"].endswith(".")
    assert code in ("bad-table",) or first["expected"]


LINES = {
    "no lines": ({}, "no-lines", "lines"),
    "lines no list": ({"lines": {"text": "Knot"}}, "no-lines", "lines"),
    "lines empty": ({"lines": []}, "no-lines", "lines"),
    "unknown field": ({"lines": ["Knot"], "colour": 1}, "unknown-field", "colour"),
    "shop no object": ({"lines": ["Knot"], "shop": 3}, "bad-shop", "shop"),
    "machine unknown": ({"lines": ["Knot"], "shop": {"machine": "x"}}, "unknown-machine", None),
    "usual recipe unknown": ({"lines": ["Knot"], "recipe": "x"}, "unknown-recipe", "recipe"),
    "recipe no object": ({"lines": ["Knot"], "recipes": {"x": 1}}, "bad-recipe", "recipes.x"),
    "marks unknown": ({"lines": ["Knot"], "marks": "burnt"}, "unknown-choice", "marks"),
    "search too long": ({"lines": ["Knot"], "search_s": 9999}, "out-of-range", "search_s"),
    "price unknown": ({"lines": ["Knot"], "prices": {"tip": 1}}, "unknown-field", "prices.tip"),
    "price infinite": (
        {"lines": ["Knot"], "prices": {"machine_hour": float("inf")}},
        "out-of-range",
        "prices.machine_hour",
    ),
    "title a formula": ({"lines": ["Knot"], "title": "=A1+1"}, "formula-cell", "title"),
    "revises no id": ({"lines": ["Knot"], "revises": "../x"}, "bad-value", "revises"),
}


@pytest.mark.parametrize("kind", LINES)
def test_request_is_refused_with_its_field(kind):
    request, code, field = LINES[kind]
    error = refusal({"recipe": "rack-sign", **request})
    assert error.code == code
    assert field is None or error.field == field


LAYER = {"name": "a", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
JSON_LINES = {
    "line no object": (7, "bad-value", ""),
    "unknown field": ({"text": "Knot", "colour": "red"}, "unknown-field", "colour"),
    "text a list": ({"text": ["Knot"]}, "bad-value", "text"),
    "own recipe broken": (
        {"text": "Knot", "recipe": {"title": "x", "layers": [LAYER]}},
        "missing-lettering", "recipe.lettering",
    ),
    "own recipe, wrong layer": (
        {
            "text": "Knot",
            "recipe": one_layer("Knot", {"kind": "lettering"}, material="slate", thickness=3),
        },
        "unknown-material", "recipe.layers.0.material",
    ),
    "quantity true": ({"text": "Knot", "quantity": True}, "bad-quantity", "quantity"),
    "material a number": ({"text": "Knot", "material": {"face": 3}}, "bad-material", "material"),
    "recipe a number": ({"text": "Knot", "recipe": 3}, "bad-value", "recipe"),
}  # fmt: skip


@pytest.mark.parametrize("kind", JSON_LINES)
def test_line_of_json_is_refused_with_its_field(kind):
    line, code, column = JSON_LINES[kind]
    error = refusal({"recipe": "rack-sign", "lines": [{"text": "Ruff"}, line]})
    (found,) = error.data["mistakes"]
    assert (found["line"], found["code"], found.get("column", "")) == (2, code, column)


def test_every_mistake_is_told_at_once():
    table = "text,quantity,size\nKnot,0,big\nRuff,1,30\n,2,-1\n"
    found = refusal(table=table).data
    places = [(m["line"], m["column"]) for m in found["mistakes"]]
    assert places == [(1, "quantity"), (1, "size"), (3, "text"), (3, "size")]
    assert found["mistake_count"] == 4


def test_copies_of_all_lines_are_limited():
    table = "text,quantity\n" + "Knot,1000\n" * 6
    (found,) = refusal(table=table).data["mistakes"]
    assert (found["code"], found["line"]) == ("too-many-copies", 0)


def test_a_rack_without_sheets_is_told_a_line():
    shop = {"stock": [{"material": "mdf", "thickness_mm": 3, "width_mm": 300, "height_mm": 200}]}
    error = refusal({"recipe": "rack-sign", "shop": shop, "lines": ["Knot"]})
    assert {m["code"] for m in error.data["mistakes"]} == {"no-stock"}
    assert len(error.data["mistakes"]) == 3


def test_an_order_of_a_thousand_lines_is_read():
    order = read(table="text\n" + "Knot\n" * 1000)
    assert len(order.lines) == 1000
