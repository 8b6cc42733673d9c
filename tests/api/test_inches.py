"""At every door a shop in inches is spoken to in inches, before anything of it is read too.

Each request is refused for a length; what is said of it is held against millimetres.
"""

import io
import re

import httpx
import pytest
from PIL import Image, ImageDraw

from boathouse import one_layer
from read_units import SPOKEN, STRAY, strings_of

SHOP = "inch-shed"
PLATE = one_layer("Tern", {"kind": "plate", "width": "300 in", "height": "2 in"})
LETTERS = one_layer("Tern", {"kind": "lettering"}, size={"cap_height": "wide"})
WIDE = one_layer("Tern", {"kind": "lettering"}, size={"cap_height": "190 in"})
LINES = [{"text": "Tern", "recipe": "plate"}]
PIECE = {"kind": "fit", "material": "mdf", "thickness": "13 in"}
DOORS = [
    ("/v1/stacks", {"recipe": PLATE}, "at most 196.85 in"),
    ("/v1/stacks", {"recipe": LETTERS}, "text like '1 1/8 in'"),
    ("/v1/stacks", {"recipe": WIDE}, "in"),
    ("/v1/checks", {"recipe": PLATE}, "at most 196.85 in"),
    ("/v1/plans", {"recipe": PLATE}, "at most 196.85 in"),
    ("/v1/previews", {"recipe": PLATE}, "at most 196.85 in"),
    ("/v1/previews", {"recipe": WIDE}, "in"),
    ("/v1/sizes", {"recipe": PLATE, "smallest": True}, "at most 196.85 in"),
    ("/v1/surveys", {"font": "oswald", "text": "T", "thickness": "5 in"}, "at most 3.937 in"),
    ("/v1/test-pieces", PIECE, "at most 11.811 in"),
    ("/v1/orders", {"title": "Terns", "recipes": {"plate": PLATE}, "lines": LINES}, "in"),
]


@pytest.fixture(scope="module")
def shed(service_url):
    with httpx.Client(base_url=service_url, timeout=120) as api:
        assert api.put(f"/v1/shops/{SHOP}", json={"units": "inch"}).is_success
        yield api
        api.delete(f"/v1/shops/{SHOP}")


def said(document):
    """Return what is read, but for the list of units that may be written."""
    return [re.sub(r"; units: .*", "", text) for text in strings_of(document)]


@pytest.mark.parametrize(("door", "request_", "words"), DOORS)
def test_a_length_is_refused_in_inches(shed, door, request_, words):
    answer = shed.post(door, json={**request_, "shop": SHOP})
    assert 400 <= answer.status_code < 500, answer.text
    problem = answer.json()
    mistakes = problem.get("mistakes") or [problem]
    texts = [*said(problem), *(str(m.get("expected")).partition("; units")[0] for m in mistakes)]
    assert not [text for text in texts if STRAY["inch"].search(text)]
    assert any(words in text for text in texts), texts
    assert any(SPOKEN["inch"].search(text) for text in texts), texts


def test_a_shop_that_is_no_good_is_told_in_its_own_units(shed):
    sheet = {"material": "mdf", "thickness": "20 in", "width": "250 in", "height": "1 in"}
    for units, words in (("inch", "196.85 in"), ("mm", "5000 mm")):
        answer = shed.put("/v1/shops/attic", json={"units": units, "stock": [sheet]})
        assert words in answer.text


def test_a_drawing_is_told_in_the_units_of_the_shop_whoever_took_it(shed):
    picture = Image.new("L", (150, 150), 255)
    ImageDraw.Draw(picture).rectangle((25, 25, 125, 125), fill=0)
    file = io.BytesIO()
    picture.save(file, "PNG", dpi=(100, 100))
    png = {"content-type": "image/png"}
    in_mm = shed.post("/v1/artworks", content=file.getvalue(), headers=png).json()
    assert "mm" in in_mm["summary"]
    assert any("100 mm high" in doubt for doubt in in_mm["traced"]["doubts"])
    path = f"/v1/artworks/{in_mm['key']}"
    (listed,) = (
        a for a in shed.get(f"/v1/artworks?shop={SHOP}").json()["items"]
        if a["key"] == in_mm["key"]
    )  # fmt: skip
    again = shed.post(f"/v1/artworks?shop={SHOP}", content=file.getvalue(), headers=png).json()
    for told in (listed, again, shed.get(f"{path}?shop={SHOP}").json()):
        assert not [text for text in said(told) if STRAY["inch"].search(text)]
        assert "in at its natural size" in told["summary"]
        assert told["ink"] == in_mm["ink"]
    drawn = shed.get(f"{path}.svg?shop={SHOP}").text
    assert " in at its natural size" in drawn
    assert " mm" not in drawn
    shed.delete(path)
