"""Lines on blanks share a fixture, load by load; frames come once a line."""

import pytest
import shapely

from letterply.orders.pipeline.layer_file import layer_from
from orders.intake.ordering import read
from orders.pipeline.small import DISC, PLAIN, document_of, made, rows_of, sheets_of

FRAMED = {**PLAIN, "align": {"kind": "frame", "material": "mdf", "thickness": "6 mm"}}


def discs(*lines, **more):
    return read({"recipe": "disc", "recipes": {"disc": DISC}, "lines": list(lines), **more})


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    order = discs("Knot", {"text": "Ruff", "quantity": 5}, "Sora")
    return made(order, tmp_path_factory.mktemp("vault"))


def test_blanks_of_all_lines_fill_loads_of_one_fixture(run):
    manifest, vault = run
    document = document_of(manifest, vault)
    assert document["ready"], document["summary"]
    board, *loads = document["sheets"]
    assert board["marks"] == ["0.1.1.disc-fixture"]
    assert not board["of_blanks"]
    assert all(s["of_blanks"] and s["fixture"] == "0.1.1.disc-fixture" for s in loads)
    found = [(s["runs"], s["marks"]) for s in loads]
    assert found == [
        (2, ["2.1.0.disc", "2.3.0.disc", "2.2.0.disc", "2.4.0.disc"]),
        (1, ["1.1.0.disc", "2.5.0.disc"]),
        (1, ["3.1.0.disc"]),
    ]
    assert document["totals"]["parts"] == 8
    assert "3 loads of blanks" in document["summary"]


def test_every_blank_lies_in_a_pocket_with_the_words_of_its_line(run):
    manifest, vault = run
    layout = sheets_of(manifest, vault)
    board = layer_from(vault.read(layout[0]["parts"][0]["file"])).parts[0]
    pockets = [p.region for p in board.pockets if p.purpose == "blank"]
    inks = {}
    for sheet in layout[1:]:
        places = [tuple(p["placement"]) for p in sheet["parts"]]
        for told in sheet["parts"]:
            part = layer_from(vault.read(told["file"])).parts[0]
            angle, x, y = told["placement"]
            moved = part.moved(angle_deg=angle, x_mm=x, y_mm=y)
            inside = [pocket.buffer(1e-3).covers(moved.outline) for pocket in pockets]
            assert inside.count(True) == 1
            ink = shapely.union_all([line for s in part.scribes for line in s.lines])
            inks.setdefault(told["mark"].split(".")[0], []).append(ink.length)
        assert len(places) == len(set(places))
    assert {len(set(map(round, lengths))) for lengths in inks.values()} == {1}
    assert len({round(lengths[0], 3) for lengths in inks.values()}) == 3


def test_the_table_says_in_which_load_each_copy_is(run):
    manifest, vault = run
    rows = rows_of(manifest, vault)
    assert rows["2.1.0.disc"]["sheet"] == rows["2.4.0.disc"]["sheet"]
    assert rows["2.5.0.disc"]["sheet"] == rows["1.1.0.disc"]["sheet"]
    assert all(r["sheet"] for r in rows.values())
    assert rows["0.1.1.disc-fixture"]["line"] == "0"


def test_blanks_are_not_waste_and_runs_take_their_time(run):
    manifest, vault = run
    document = document_of(manifest, vault)
    twice, once = document["sheets"][1], document["sheets"][2]
    work, again = (s["time_s"] - s["changes_s"] for s in (once, twice))
    assert again > 1.5 * work
    assert twice["changes_s"] == once["changes_s"]
    area = sum(s["stock"]["width_mm"] * s["stock"]["height_mm"] for s in document["sheets"][:1])
    assert document["quote"]["wasted_area_mm2"] < area


def test_a_lost_line_leaves_the_loads_as_they_were(tmp_path):
    order = discs("Knot", "Ruff", "Sora", "Avocet")
    first, vault = made(order, tmp_path, lost=lambda t: t.about.get("text") == "Ruff")
    assert document_of(first, vault)["lost"]["lines"] == [2]
    before = sheets_of(first, vault)
    log = []
    second, _ = made(order, tmp_path, earlier=before, log=log)
    now = sheets_of(second, vault)
    assert document_of(second, vault)["ready"]
    assert all(sheet in now for sheet in before)
    assert [stage for stage, _ in log].count("sheets") == len(now) - len(before) == 1


def test_a_blank_without_a_fixture_is_a_load_of_its_own(tmp_path):
    bare = {**DISC, "layers": [{**DISC["layers"][0]}]}
    bare["layers"][0]["outline"] = {**DISC["layers"][0]["outline"], "fixture": None}
    lines = ["Knot", {"text": "Ruff", "quantity": 3}]
    order = read({"recipe": "disc", "recipes": {"disc": bare}, "lines": lines})
    manifest, vault = made(order, tmp_path)
    document = document_of(manifest, vault)
    assert document["ready"], document["summary"]
    assert [(s["runs"], s["fixture"]) for s in document["sheets"]] == [(1, ""), (3, "")]


def test_a_frame_comes_once_a_line(tmp_path):
    lines = [{"text": "Knot", "quantity": 2}, "Ruff"]
    order = read({"recipe": "tag", "recipes": {"tag": FRAMED}, "lines": lines})
    manifest, vault = made(order, tmp_path)
    document = document_of(manifest, vault)
    assert document["totals"]["unplaced"] == 0
    assert document["proved"]
    frames = [m for m in rows_of(manifest, vault) if m.endswith("top-frame")]
    assert frames == ["1.1.0.top-frame", "2.1.0.top-frame"]
