"""Pictures of fonts and drawings: drawn from their own outlines, and sound as SVG."""

import re
from xml.etree import ElementTree

import pytest

from letterply.exports.pictures.artwork import artwork_picture
from letterply.exports.pictures.font import font_picture
from letterply.exports.pictures.stack import png_within
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.library import FontLibrary

SVG = "{http://www.w3.org/2000/svg}"
FRAME = (
    '<svg width="200" height="100"><title>A &lt;frame&gt;</title><path d="M0 0H200V100H0zM10 10V90'
    'H190V10z"/><rect id="letters" x="20" y="20" width="160" height="60"/><text>x</text></svg>'
)


@pytest.mark.parametrize("key", ["lobster", "oswald", "noto-sans-arabic", "frank-ruhl-libre"])
def test_a_font_shows_its_name_and_letters(key):
    font = FontLibrary().load(key)
    root = ElementTree.fromstring(font_picture(font))
    assert font.facts.family in root.find(f"{SVG}title").text
    rows = [p for p in root.iter(f"{SVG}path") if p.get("fill-rule") == "evenodd"]
    assert len(rows) >= 3
    assert all(p.get("d").count("Z") >= 5 for p in rows[1:])
    assert font_picture(font) == font_picture(FontLibrary().load(key))


def test_a_drawing_shows_what_would_be_cut_and_its_room():
    picture = artwork_picture(read_artwork("art-x", FRAME.encode()))
    root = ElementTree.fromstring(picture)
    assert root.find(f"{SVG}title").text == "A <frame>"
    assert "text left out" in root.find(f"{SVG}desc").text
    (shape,) = (p for p in root.iter(f"{SVG}path") if p.get("fill-rule") == "evenodd")
    numbers = [float(n) for n in re.findall(r"[\d.]+", shape.get("d"))]
    assert shape.get("d").count("Z") == 2
    assert max(numbers[::2]) - min(numbers[::2]) == pytest.approx(200, abs=0.05)
    assert max(numbers[1::2]) - min(numbers[1::2]) == pytest.approx(100, abs=0.05)
    (room,) = (r for r in root.iter(f"{SVG}rect") if r.get("stroke-dasharray"))
    assert float(room.get("width")) == pytest.approx(160, abs=0.05)
    assert png_within(picture, 600).startswith(b"\x89PNG")
