"""An order from lines to papers: all parts placed, marked once, proved; little is done twice."""

import json

import pytest
import shapely

from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.part_table import parts_csv
from letterply.sheets.verifying import least_gap
from orders.pipeline.small import (
    document_of,
    file_of,
    made,
    part_row,
    plain_order,
    rows_of,
    sheets_of,
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give the place of the order that most of these tests look at."""
    return tmp_path_factory.mktemp("vault")


@pytest.fixture(scope="module")
def run(folder):
    order = plain_order("Knot", {"text": "Ruff", "quantity": 2}, "Knot", marks="scribed")
    log = []
    manifest, vault = made(order, folder, log=log)
    return order, manifest, vault, log


def test_lines_of_one_design_are_made_once(run):
    _, _, _, log = run
    assert [stage for stage, _ in log].count("lines") == 2


def test_every_part_is_on_a_sheet_and_every_sheet_proved(run):
    _, manifest, vault, _ = run
    document = document_of(manifest, vault)
    assert document["ready"], document["summary"]
    assert document["totals"]["parts"] == 8
    marks = [m for s in document["sheets"] for m in s["marks"]]
    assert len(marks) == len(set(marks)) == 8
    assert {"1.1.0.base", "1.1.Knot.top", "2.2.Ruff.top", "3.1.Knot.top"} <= set(marks)
    assert all(s["passed"] for s in document["sheets"])


def test_bases_bear_their_mark_where_the_top_hides_it(run):
    _, manifest, vault, _ = run
    document = document_of(manifest, vault)
    scribed = {m for s in document["sheets"] for m in s["scribed"]}
    assert {"1.1.0.base", "2.1.0.base", "2.2.0.base"} <= scribed
    assert not any(m.endswith(".top") for m in scribed)


def test_each_sheet_is_planned_for_the_parts_that_lie_on_it(run):
    """Parts of different lines have the same name in their stacks, and other outlines."""
    _, manifest, vault, _ = run
    for sheet in sheets_of(manifest, vault):
        plan = json.loads(file_of(manifest, vault, f"plans/sheet-{sheet['number']}.json"))["plan"]
        drawn = {p["mark"]: p for p in plan["sheets"][0]["parts"]}
        for told in sheet["parts"]:
            layer = layer_from(vault.read(told["file"]))
            part = layer.parts[told["index"]].cut_view(from_back=layer.from_back)
            angle, x, y = told["placement"]
            outline = part.moved(angle_deg=angle, x_mm=x, y_mm=y).outline
            assert drawn[told["mark"]]["bounds_mm"] == pytest.approx(outline.bounds, abs=1e-3)


def test_the_table_of_parts_has_a_row_a_part(run):
    _, manifest, vault, _ = run
    rows = rows_of(manifest, vault)
    assert list(rows)[:3] == ["1.1.0.base", "1.1.Knot.top", "2.1.0.base"]
    assert all(r["sheet"] for r in rows.values())


def test_the_table_of_parts_says_where_the_lower_left_corner_of_each_part_lies(run):
    _, manifest, vault, _ = run
    rows = rows_of(manifest, vault)
    for sheet in sheets_of(manifest, vault):
        plan = json.loads(file_of(manifest, vault, f"plans/sheet-{sheet['number']}.json"))["plan"]
        for drawn in plan["sheets"][0]["parts"]:
            row = rows.pop(drawn["mark"])
            told = float(row["x_mm"]), float(row["y_mm"]), float(row["turn_deg"])
            left, low, _, _ = drawn["bounds_mm"]
            assert told == pytest.approx((left, low, drawn["angle_deg"]), abs=2e-3)
            assert min(told[:2]) >= sheet["stock"]["margin_mm"] - 1e-3
    assert not rows


def test_places_keep_distance_and_margin_on_the_true_outlines(run):
    _, manifest, vault, _ = run
    for sheet in sheets_of(manifest, vault):
        stock, outlines = sheet["stock"], []
        for told in sheet["parts"]:
            layer = layer_from(vault.read(told["file"]))
            angle, x, y = told["placement"]
            part = layer.parts[told["index"]].cut_view(from_back=layer.from_back)
            outlines.append(part.moved(angle_deg=angle, x_mm=x, y_mm=y).outline)
        assert least_gap(outlines, up_to_mm=sheet["spacing_mm"]) >= sheet["spacing_mm"] - 1e-4
        inner = shapely.box(
            stock["margin_mm"] - 1e-4,
            stock["margin_mm"] - 1e-4,
            stock["width_mm"] - stock["margin_mm"] + 1e-4,
            stock["height_mm"] - stock["margin_mm"] + 1e-4,
        )
        assert all(inner.covers(o) for o in outlines)


def test_the_same_order_again_computes_nothing(run, folder):
    order, manifest, _, _ = run
    again = []
    found, _ = made(order, folder, log=again)
    assert again == []
    assert found == manifest


def test_one_changed_line_touches_its_sheets_only(tmp_path):
    names = ["Avocet", "Curlew", "Dunlin", "Godwit", "Knot", "Ruff"]
    shop = rack_of_small_sheets()
    before = plain_order(*({"text": n, "size": 30} for n in names), shop=shop)
    first, vault = made(before, tmp_path)
    sheets = sheets_of(first, vault)
    changed = ["Avocet", "Curlew", "Dunlin", "Godwit", "Knot", "Sora"]
    after = plain_order(*({"text": n, "size": 30} for n in changed), shop=shop)
    log = []
    second, _ = made(after, tmp_path, earlier=sheets, log=log)
    stages = [stage for stage, _ in log]
    assert stages.count("lines") == 1
    touched = [s for s in sheets if any(p["mark"].startswith("6.") for p in s["parts"])]
    assert 0 < len(touched) < len(sheets)
    assert stages.count("sheets") == len(touched)
    kept = {json.dumps(s["parts"]) for s in sheets} & {
        json.dumps(s["parts"]) for s in sheets_of(second, vault)
    }
    assert len(kept) == len(sheets) - len(touched)


def test_a_line_that_fails_is_reported_and_the_rest_goes_on(tmp_path):
    order = plain_order("Knot", "千鳥")
    manifest, vault = made(order, tmp_path)
    document = document_of(manifest, vault)
    assert [line["state"] for line in document["lines"]] == ["made", "failed"]
    assert document["lines"][1]["problem"]["code"] == "glyph-missing"
    assert document["totals"]["parts"] == 2
    assert not document["ready"]


def test_what_finds_no_room_is_named_with_the_reason(tmp_path):
    stock = [
        {"key": f"s{t}", "material": "mdf", "thickness_mm": t, "width_mm": 120, "height_mm": 70}
        for t in (3, 6)
    ]
    order = plain_order({"text": "Knot", "quantity": 5}, shop={"stock": stock})
    manifest, vault = made(order, tmp_path)
    document = document_of(manifest, vault)
    assert document["totals"]["unplaced"] == len(document["unplaced"]) > 0
    assert all("rack holds 1 sheet" in u["why"] for u in document["unplaced"])
    assert not document["ready"]


def rack_of_small_sheets():
    stock = [
        {"key": f"s{t}", "material": "mdf", "thickness_mm": t, "width_mm": 260, "height_mm": 170,
         "count": 20}
        for t in (3, 6)
    ]  # fmt: skip
    return {"stock": stock, "hold_down": "tape"}


def test_a_lost_line_is_made_again_beside_the_sheets_that_were_made(tmp_path):
    names = ["Avocet", "Curlew", "Dunlin", "Godwit", "Knot", "Ruff"]
    lines = [{"text": n, "size": 30} for n in names]
    order = plain_order(*lines, shop=rack_of_small_sheets())
    first, vault = made(order, tmp_path, lost=lambda t: t.about.get("text") == "Dunlin")
    document = document_of(first, vault)
    assert document["lost"] == {"lines": [3], "sheets": [], "materials": []}
    assert not document["ready"]
    sheets = sheets_of(first, vault)
    log = []
    second, _ = made(order, tmp_path, earlier=sheets, log=log)
    found = document_of(second, vault)
    assert found["ready"], found["summary"]
    now = sheets_of(second, vault)
    assert all(sheet in now for sheet in sheets)  # as they were, number and all
    stages = [stage for stage, _ in log]
    assert stages.count("lines") == 1
    assert stages.count("sheets") == len(now) - len(sheets) > 0


def test_a_lost_sheet_is_planned_again_and_no_other(tmp_path):
    order = plain_order("Knot", "Ruff", shop=rack_of_small_sheets())
    first, vault = made(order, tmp_path, lost=lambda t: t.about.get("sheet") == 2)
    document = document_of(first, vault)
    assert document["lost"]["sheets"] == [2]
    assert not document["ready"]
    sheets = sheets_of(first, vault)
    log = []
    second, _ = made(order, tmp_path, earlier=sheets, log=log)
    assert document_of(second, vault)["ready"]
    assert [stage for stage, _ in log if stage in ("lines", "sheets")] == ["sheets"]


def test_a_material_that_was_not_laid_is_told_and_laid_again(tmp_path):
    order = plain_order("Knot")
    first, vault = made(order, tmp_path, lost=lambda t: t.kind == "pool")
    document = document_of(first, vault)
    assert document["lost"]["materials"] == ["mdf"]
    assert document["totals"]["unplaced"] == document["totals"]["parts"] == 2
    assert {u["why"] for u in document["unplaced"]} == {"It took too long."}
    second, _ = made(order, tmp_path)
    assert document_of(second, vault)["ready"]


def test_no_cell_of_the_table_turns_its_row_around():
    """Bidi controls in a text would show another row than the one that is there (UAX #9)."""
    row = part_row(reference="7\u202e8", text="\u2066=Knot\u2069")
    cells = parts_csv([row]).decode("utf-8-sig").splitlines()[1]
    assert cells.startswith("1.1.A.face,1,1,78,'=Knot,A,face,")
