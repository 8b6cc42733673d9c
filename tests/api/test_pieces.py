"""Test pieces over HTTP: made like a plan, measured, and kept by the shop."""

from __future__ import annotations

import io

import pypdfium2
import pytest

from api.conftest import result_of

STUFF = {"material": "birch-plywood", "thickness": 6.5}
SHED = {"hold_down": "tape", "cutters": ["flat-3175", "vbit-60"]}
SQUARES = {"kind": "diameter", "cutter": "flat-3175", **STUFF}


def piece_of(api, body):
    """Return a test piece, or the problem that it is."""
    return result_of(api, "/v1/test-pieces", body)


@pytest.fixture
def shed(api):
    assert api.put("/v1/shops/shed", json=SHED).status_code == 201
    yield "shed"
    api.delete("/v1/shops/shed")


@pytest.fixture
def squares(api, shed):
    return piece_of(api, {**SQUARES, "shop": shed})


def readings(wider: float = 0.0) -> dict[str, float]:
    outside, inside = 30.025 - wider, 29.975 + wider
    return {"outside_x": outside, "outside_y": outside, "inside_x": inside, "inside_y": inside}


def take(api, piece, values, **more):
    body = {"piece": piece["id"], "readings": values, **more}
    return api.post("/v1/shops/shed/measured", json=body)


def test_a_piece_has_drawing_program_proof_and_a_sheet_to_write_on(api, squares):
    assert squares["ready"]
    assert squares["proved"]
    here = squares["links"]["self"]
    assert api.get(f"{here}.svg").text.startswith("<?xml")
    assert api.get(f"{here}.png").content[:4] == b"\x89PNG"
    paper = pypdfium2.PdfDocument(io.BytesIO(api.get(f"{here}.pdf").content))
    text = "".join(page.get_textpage().get_text_bounded() for page in paper)
    for words in ("outside_x", "inside_y", "step of the caliper", "sheet-1-1-flat-3175.nc"):
        assert words in text
    assert "Wear eye and ear protection" in text
    assert api.get(f"{here}/files/programs/sheet-1-1-flat-3175.nc").status_code == 200
    assert api.get(f"{here}/files/proof.json").json()["passed"]
    listed = api.get("/v1/test-pieces").json()["items"]
    assert squares["id"] in [i["id"] for i in listed]


def test_what_was_measured_is_shown_kept_and_used(api, squares):
    shown = take(api, squares, readings(0.1), keep=False).json()
    assert (shown["kept"], shown["changes"][0]["old"]) == (False, 3.175)
    assert "measured" not in api.get("/v1/shops/shed").json()["shop"]
    kept = take(api, squares, readings(0.1)).json()
    assert kept["changes"][0]["new"] == pytest.approx(3.275, abs=0.0002)
    assert kept["changes"][0]["uncertainty"] == pytest.approx(0.01 / 3**0.5, abs=0.0002)
    shop = api.get("/v1/shops/shed").json()
    assert shop["version"] == kept["version"]
    (entry,) = shop["shop"]["measured"]
    assert (entry["old"], entry["new"]) == (3.175, kept["changes"][0]["new"])
    cutters = api.get("/v1/cutters", params={"shop": "shed"}).json()["items"]
    assert next(c for c in cutters if c["key"] == "flat-3175")["diameter_mm"] == entry["new"]
    plate = {"kind": "plate", "shape": "rectangle", "width": 50, "height": 30}
    recipe = {"title": "Knot", "layers": [{"name": "board", **STUFF, "outline": plate}]}
    plan = api.post("/v1/plans", json={"recipe": recipe, "shop": "shed"}).json()
    (said,) = plan["sheets"][0]["measured"]
    assert said.startswith("diameter of the 1/8 in end mill, 1 flute: 3.275 mm, measured on ")


def test_a_second_measurement_replaces_the_first_and_both_are_history(api, squares):
    take(api, squares, readings(0.1))
    take(api, squares, readings(-0.05))
    shop = api.get("/v1/shops/shed").json()["shop"]
    assert shop["catalogue"]["cutters"]["flat-3175"]["diameter_mm"] == pytest.approx(3.125, 1e-4)
    assert [round(e["old"], 2) for e in shop["measured"]] == [3.17, 3.27]


def test_numbers_that_cannot_be_are_refused_all_at_once(api, squares):
    wrong = {**readings(), "outside_x": 300, "inside_x": "thick", "inside_q": 3}
    wrong.pop("inside_y")
    told = take(api, squares, wrong, resolution=3).json()
    assert {m["field"]: m["code"] for m in told["mistakes"]} == {
        "readings.outside_x": "out-of-range",
        "readings.inside_x": "bad-length",
        "readings.inside_q": "unknown-field",
        "readings.inside_y": "missing-field",
        "resolution": "out-of-range",
    }
    assert "measured" not in api.get("/v1/shops/shed").json()["shop"]


def test_inches_are_read_as_inches_and_mistaken_for_nothing_else(api, squares):
    inches = {k: round(v / 25.4, 4) for k, v in readings(0.1).items()}
    assert take(api, squares, inches).status_code == 422
    told = take(api, squares, inches, units="inch", resolution="0.0005 in", keep=False).json()
    assert told["changes"][0]["new"] == pytest.approx(3.275, abs=0.003)


@pytest.mark.parametrize(
    ("asked", "fields"),
    [
        ({"kind": "diameter", **STUFF}, {"cutter"}),
        ({"kind": "angle", "cutter": "flat-3175", **STUFF}, {"cutter"}),
        ({"kind": "diameter", "cutter": "nail", "material": "slate", "thickness": 6.5, "dowel": 6},
         {"cutter", "material", "dowel"}),
        ({"kind": "fit", **STUFF, "dowel": 6, "of": "mdf"}, {"of"}),
        ({"kind": "line", "cutter": "drag-120", **STUFF, "shop": {"cutters": ["flat-6"]}},
         {"kind"}),
        ({"kind": "weight", "thickness": 0}, {"kind", "material", "thickness"}),
    ],
)  # fmt: skip
def test_pieces_that_cannot_be_made_are_refused_with_every_mistake(api, asked, fields):
    told = piece_of(api, asked)
    assert told["status"] == 422
    mistakes = told.get("mistakes") or [told]
    assert {m["field"] for m in mistakes} == fields


def test_a_beam_gives_no_program_without_its_own_power_and_none_for_what_it_must_not_cut(api):
    beam = {"machine": "bench-beam"}
    asked = {"kind": "diameter", "cutter": "beam-015", **STUFF, "shop": beam}
    made = piece_of(api, asked)
    assert not made["ready"]
    assert made["findings"][0]["code"] == "power"
    assert not [f for f in made["files"] if f["path"].startswith("programs/")]
    assert "Do not cut" in "".join(
        page.get_textpage().get_text_bounded()
        for page in pypdfium2.PdfDocument(
            io.BytesIO(api.get(f"{made['links']['self']}.pdf").content)
        )
    )
    refused = piece_of(api, {**asked, "material": "pvc-sheet", "thickness": 3})
    assert not [f for f in refused.get("files", ()) if f["path"].startswith("programs/")]
    codes = [refused.get("code"), *(f["code"] for f in refused.get("findings", ()))]
    assert {"beam-refused", "refused"} & set(codes)
    api.put("/v1/shops/shed", json=SHED)
    told = api.post(
        "/v1/shops/shed/measured", json={"piece": made["id"], "readings": readings()}
    ).json()
    assert (told["code"], told["field"]) == ("bad-value", "piece")
    api.delete("/v1/shops/shed")


def test_readings_of_nothing_are_not_found(api, shed):
    assert take(api, {"id": "0" * 32}, readings()).json()["code"] == "job-not-found"
    body = {"piece": "0" * 32, "readings": readings()}
    assert api.post("/v1/shops/none/measured", json=body).json()["code"] == "shop-not-found"
