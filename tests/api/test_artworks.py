"""artworks: drawings over HTTP, from upload to a recipe; pictures of drawings and fonts."""

import io

import pytest
from PIL import Image, ImageDraw

from boathouse import one_layer

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="96" height="96"><title>Disc</title>'
    '<circle cx="48" cy="48" r="48"/><text>Knot</text></svg>'
)
TYPE = {"content-type": "image/svg+xml"}


@pytest.fixture
def drawing(api):
    answer = api.post("/v1/artworks", content=SVG, headers=TYPE)
    assert answer.status_code in (200, 201)
    return answer.json()


def test_a_drawing_is_taken_described_and_listed(api, drawing):
    again = api.post("/v1/artworks", files={"file": ("disc.svg", SVG.encode())})
    assert again.status_code == 200
    assert again.json() == drawing
    assert again.headers["location"] == f"/v1/artworks/{drawing['key']}"
    assert drawing["ink"]["width_mm"] == pytest.approx(25.4, abs=1e-3)
    assert [n["what"] for n in drawing["left_out"]] == ["text"]
    assert api.get(drawing["links"]["self"]).json() == drawing
    assert drawing["key"] in [a["key"] for a in api.get("/v1/artworks").json()["items"]]


def test_a_picture_is_traced_and_used_in_a_recipe(api):
    picture = Image.new("L", (220, 240), 255)
    ImageDraw.Draw(picture).ellipse((10, 20, 210, 220), fill=0)
    file = io.BytesIO()
    picture.save(file, "PNG", dpi=(254, 254))
    path, png = "/v1/artworks?smoothing_px=0.5", {"content-type": "image/png"}
    answer = api.post(path, content=file.getvalue(), headers=png)
    assert answer.status_code == 201, answer.text
    drawing = answer.json()
    assert drawing["traced"]["smoothing_px"] == 0.5
    assert drawing["traced"]["pixels_agree"] > 0.998
    assert drawing["ink"]["width_mm"] == pytest.approx(20.1, abs=0.03)
    assert "Traced from 220 x 240 pixels" in drawing["summary"]
    assert api.post(path, content=file.getvalue(), headers=png).status_code == 200
    wish = {"id": drawing["key"], "size": {"width": "80 mm"}}
    outline = {"kind": "artwork", "artwork": wish}
    recipe = one_layer("K", outline, material="birch-plywood", thickness=9, size={"em": 20})
    (layer,) = api.post("/v1/stacks", json={"recipe": recipe}).json()["layers"]
    assert layer["parts"][0]["height_mm"] == pytest.approx(80, abs=0.3)


def test_a_picture_that_cannot_be_traced_is_a_problem(api):
    answer = api.post("/v1/artworks?speck_px=-1&ink=blue", content=b"\x89PNG\r\n\x1a\n")
    assert answer.status_code in (415, 422)
    png = {"content-type": "image/png"}
    answer = api.post("/v1/artworks?speck_px=-1&ink=blue", content=b"x", headers=png)
    assert answer.status_code == 422
    assert {e["field"] for e in answer.json()["errors"]} == {"query.speck_px", "query.ink"}
    answer = api.post("/v1/artworks", content=b"\x89PNG\r\n\x1a\n", headers=png)
    assert (answer.status_code, answer.json()["code"]) == (422, "not-a-picture")


def test_a_drawing_is_used_in_a_recipe_by_its_id(api, drawing):
    outline = {
        "kind": "artwork",
        "artwork": {"id": drawing["key"], "size": {"width": "80 mm"}},
    }
    size = {"cap_height": 20}
    recipe = one_layer("K", outline, material="birch-plywood", thickness=9, size=size, title="Knot")
    answer = api.post("/v1/stacks", json={"recipe": recipe})
    assert answer.status_code == 201, answer.text
    (layer,) = answer.json()["layers"]
    assert layer["parts"][0]["width_mm"] == pytest.approx(80, abs=0.01)
    assert "artwork" in [f["code"] for f in answer.json()["findings"]]


@pytest.mark.parametrize("what", ["artwork", "own font", "shipped font"])
def test_pictures_are_drawn(api, drawing, what):
    path = {"artwork": f"/v1/artworks/{drawing['key']}", "shipped font": "/v1/fonts/lobster"}
    if what == "own font":
        from letterply.lettering.fonts.library import shipped_faces

        data = shipped_faces()["oswald"].path.read_bytes()
        key = api.post("/v1/fonts", content=data, headers={"content-type": "font/ttf"}).json()[
            "key"
        ]
        path[what] = f"/v1/fonts/{key}"
    svg = api.get(f"{path[what]}.svg")
    assert svg.headers["content-type"] == "image/svg+xml"
    assert "sandbox" in svg.headers["content-security-policy"]
    assert svg.text.count("<path") >= 2
    png = api.get(f"{path[what]}.png")
    assert png.content.startswith(b"\x89PNG")
    assert api.get(f"{path[what]}.gif").json()["code"] == "file-not-found"


@pytest.mark.parametrize(
    ("content", "headers", "status", "code"),
    [
        (b"", TYPE, 422, "not-svg"),
        (b"Knot", TYPE, 422, "not-svg"),
        (b"<svg/>", TYPE, 422, "artwork-empty"),
        (SVG.encode(), {"content-type": "text/csv"}, 415, "unsupported-media-type"),
        (b" " * 6_000_000, TYPE, 413, "body-too-large"),
    ],
)
def test_what_is_no_drawing_is_a_problem(api, content, headers, status, code):
    answer = api.post("/v1/artworks", content=content, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_a_drawing_that_is_not_there_is_not_found(api):
    for path in ("/v1/artworks/art-none", "/v1/artworks/art-none.png"):
        answer = api.get(path)
        assert (answer.status_code, answer.json()["code"]) == (404, "artwork-not-found")
