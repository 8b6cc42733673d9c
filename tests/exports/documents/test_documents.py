"""Documents: complete, rounded, in JSON that reads back the same; figures by hand."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from exports.scene import (
    HOSTILE,
    SQUARE_PATH_MM,
    catalogue,
    findings,
    letter_sheet,
    plan,
    proof,
    rack_sign,
    square_path,
)
from letterply.cutting.toolpath import Toolpath
from letterply.exports.documents.documents import (
    findings_document,
    plan_document,
    proof_document,
    stack_document,
    to_json,
)
from letterply.exports.documents.plan import time_words
from letterply.exports.documents.values import plain
from letterply.sheets.model import Nesting, Sheet, Unplaced


def documents() -> dict[str, dict]:
    other = Sheet(2, letter_sheet().stock, letter_sheet().parts[:1])
    lost = Unplaced("2.face.K", "oak", 3.0, "There is no stock of oak on the rack.")
    return {
        "stack": stack_document(rack_sign(), catalogue()),
        "findings": findings_document(findings()),
        "plan": plan_document([plan()], Nesting((plan().sheet, other), (lost,), 5.0)),
        "proof": proof_document([proof(), proof(passed=False)]),
    }


@pytest.mark.parametrize("name", ["stack", "findings", "plan", "proof"])
def test_a_document_reads_back_from_json_as_it_was(name):
    document = documents()[name]
    assert json.loads(to_json(document)) == document
    assert to_json(document) == to_json(documents()[name])


@pytest.mark.parametrize("name", ["stack", "findings", "plan", "proof"])
def test_a_document_starts_with_a_sentence(name):
    document = documents()[name]
    assert next(iter(document)) == "summary"
    assert document["summary"].endswith(".")
    assert len(document["summary"]) > 15


def test_geometry_in_a_stack_document_is_that_of_the_parts():
    stack = rack_sign()
    document = stack_document(stack, catalogue())
    for layer, told in zip(stack.layers, document["layers"], strict=True):
        assert told["name"] == layer.name
        assert len(told["parts"]) == len(layer.parts)
        for part, said in zip(layer.parts, told["parts"], strict=True):
            outer, *holes = said["outline_mm"]
            read = Polygon(outer, holes)
            assert read.symmetric_difference(part.outline).area < 0.01
            assert read.exterior.is_ccw
            assert not any(Polygon(h).exterior.is_ccw for h in holes)
            assert outer[0] != outer[-1]


def test_figures_of_a_stack_are_right_by_hand():
    document = stack_document(rack_sign(), catalogue())
    assert document["width_mm"] == 200
    assert document["height_mm"] == 90
    assert document["total_thickness_mm"] == 15
    ring = document["layers"][1]["parts"][0]
    area = math.pi * (64 - 16)
    assert ring["area_mm2"] == pytest.approx(area, rel=1e-3)
    assert ring["mass_g"] == pytest.approx(area * 6 * 750 * 1e-6, rel=1e-3, abs=0.005)
    holes = document["layers"][0]["parts"][0]["holes"]
    assert [(h["through"], h["depth_mm"]) for h in holes] == [(True, 9), (True, 9), (False, 4)]
    assert document["layers"][0]["cautions"]


def test_findings_are_numbered_worst_first():
    document = findings_document(findings())
    assert [f["number"] for f in document["findings"]] == [1, 2, 3, 4]
    assert [f["code"] for f in document["findings"]] == ["neck", "corner", "web", "movement"]
    assert document["counts"] == {"blocker": 1, "caution": 1, "note": 2}
    corner = document["findings"][1]
    assert corner["measured"] == 0.621
    assert corner["where"] == {"kind": "point", "points_mm": [[36.0, 42.0]]}
    assert corner["remedies"][0]["action"] == "swap_cutter"
    assert corner["data"] == {"interior_angle_deg": 60.0}


def test_a_plan_document_sums_up_and_lists():
    document = documents()["plan"]
    totals = document["totals"]
    assert totals["sheets"] == 2
    assert totals["parts"] == 5
    assert totals["tabs"] == 12
    assert totals["price"] == 23.0
    assert totals["time"] == {
        "cutting_s": 100.0,
        "travel_s": 20.0,
        "plunging_s": 10.0,
        "changes_s": 30.0,
        "quick_s": 0.0,
        "slow_s": 0.0,
        "total_s": 160.0,
    }
    assert "2 min 40 s" in document["summary"]
    assert "1 part found no space on a sheet" in document["summary"]
    planned, bare = document["sheets"]
    assert planned["planned"]
    assert not bare["planned"]
    assert "operations" not in bare
    operation = planned["operations"][0]
    assert operation["path_length_mm"] == pytest.approx(SQUARE_PATH_MM, abs=0.01)
    assert operation["moves"] == 5
    assert operation["feeds"]["reasons"][0]["source"] == "a table"
    assert planned["programs"][0]["file"] == "sheet-1-flat-3.nc"
    assert planned["programs"][0]["lines"] == 3


def test_a_placement_in_a_plan_document_moves_the_part_to_where_it_lies():
    sheet = letter_sheet()
    document = plan_document([], Nesting((sheet,), (), 5.0))
    for placed, said in zip(sheet.parts, document["sheets"][0]["parts"], strict=True):
        a, b, c, d, e, f = said["matrix"]
        points = np.asarray(placed.source.outline.exterior.coords)
        moved = points @ np.array([[a, c], [b, d]]) + (e, f)
        expected = placed.part.outline.bounds
        assert (*moved.min(axis=0), *moved.max(axis=0)) == pytest.approx(expected, abs=1e-3)
        assert said["bounds_mm"] == pytest.approx(expected, abs=1e-3)


def test_a_proof_document_says_which_sheet_failed():
    document = documents()["proof"]
    assert not document["passed"]
    assert "did not pass" in document["summary"]
    assert [s["passed"] for s in document["sheets"]] == [True, False]
    assert document["sheets"][1]["faults"][0]["line"] == 7
    assert document["sheets"][1]["faults"][0]["where_mm"] == [14.0, 33.0]
    assert proof_document([proof()])["passed"]
    assert not proof_document([])["passed"]


def test_a_full_circle_has_its_whole_length():
    circle = Toolpath(
        start=np.array([10.0, 0.0, 0.0]),
        ends=np.array([[10.0, 0.0, -1.0]]),
        centres=np.array([[0.0, 0.0]]),
        senses=np.array([-1], dtype=np.int8),
        rates=np.zeros(1, dtype=np.int8),
    )
    assert circle.length_mm == pytest.approx(math.hypot(20 * math.pi, 1))


def test_the_sense_of_an_arc_decides_its_length():
    path = square_path(0, 0, 10, -3.2)
    assert path.length_mm == pytest.approx(SQUARE_PATH_MM)
    quarter = Toolpath(
        start=np.array([10.0, 0.0, 0.0]),
        ends=np.array([[0.0, 10.0, 0.0]]),
        centres=np.array([[0.0, 0.0]]),
        senses=np.array([1], dtype=np.int8),
        rates=np.zeros(1, dtype=np.int8),
    )
    assert quarter.length_mm == pytest.approx(5 * math.pi)
    clockwise = Toolpath(
        quarter.start, quarter.ends, quarter.centres, -quarter.senses, quarter.rates
    )
    assert clockwise.length_mm == pytest.approx(15 * math.pi)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (59.6, "1 min"), (61, "1 min 1 s"), (3599.6, "1 h"), (3661, "1 h 1 min")],
)
def test_times_in_words(seconds, words):
    assert time_words(seconds) == words


def test_hostile_titles_go_through_json_unharmed():
    document = stack_document(rack_sign(title=HOSTILE), catalogue())
    read = json.loads(to_json(document))
    assert read["title"] == HOSTILE.replace("\ud800", "?")


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_json_refuses_what_it_cannot_say_and_plain_drops_it(bad):
    with pytest.raises(ValueError, match="JSON"):
        to_json({"x": bad})
    assert plain(bad) is None


def test_plain_values_are_plain():
    value = {"a": np.float64(1 / 3), "b": (np.int64(2), True, None), "c": {"d": "é"}}
    assert plain(value) == {"a": 0.3333, "b": [2, True, None], "c": {"d": "é"}}
    assert plain(np.bool_(True)) is True


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.floats(-5, 5) | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text(max_size=4), JSON, max_size=4))
def test_any_document_reads_back(document):
    assert json.loads(to_json(document)) == json.loads(json.dumps(document))
