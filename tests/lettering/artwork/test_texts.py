"""Texts of drawings, set in a font that is named; against resvg with the same font."""

import io

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

from lettering.artwork.drawings import told
from letterply.catalogue.loading import load_catalogue
from letterply.errors import GlyphMissing, InputError
from letterply.lettering.artwork.drawing import draw
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.library import FontLibrary, shipped_faces
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

FONT = FontLibrary().load("zilla-slab")
FILE = str(shipped_faces()["zilla-slab"].path)
ZOOM = 3

CASES = {
    "start": '<text x="10" y="50" font-size="24">Avocet</text>',
    "middle": '<text x="100" y="50" font-size="24" text-anchor="middle">Avocet Knot</text>',
    "end": '<text x="190" y="50" font-size="24" style="text-anchor:end">Knot</text>',
    "lines": '<text font-size="20"><tspan x="10" y="30">One</tspan>\n'
    '<tspan x="10" y="60">Two</tspan></text>',
    "space": '<text x="10" y="50" font-size="20">  A   B \n C  </text>',
    "units": '<g font-size="10"><text x="1em" y="3em" font-size="2em">Curlew</text></g>',
    "sizes": '<text x="100" y="50" font-size="20" text-anchor="middle">Wh<tspan font-size="30">im'
    "</tspan>brel</text>",
    "turned": '<g transform="rotate(20)"><text x="20" y="30" font-size="20">Dunlin</text></g>',
    "outlined": '<g fill="none" stroke="#000" stroke-width="2"><text x="10" y="60" '
    'font-size="40">Dunlin</text></g>',
    "shifted": '<text x="10" y="30" font-size="20" dx="4" dy="8">Godwit</text>',
}


def drawing(body: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100" '
        f'font-family="Zilla Slab">{body}</svg>'
    )


@pytest.mark.parametrize("name", CASES)
def test_a_text_is_set_as_resvg_sets_it(name):
    svg = drawing(CASES[name])
    png = resvg_py.svg_to_bytes(
        svg_string=svg, zoom=ZOOM, dpi=96, skip_system_fonts=True, font_files=[FILE],
        shape_rendering="geometric_precision", text_rendering="geometric_precision",
    )  # fmt: skip
    theirs = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[:, :, 3] >= 128
    region = draw(read_artwork("x", svg.encode(), FONT), ZOOM, 0.002)
    rows, columns = theirs.shape
    x, y = np.meshgrid(np.arange(columns) + 0.5, -(np.arange(rows) + 0.5))
    differ = shapely.contains_xy(region, x, y) != theirs
    assert theirs.sum() > 1000
    far = shapely.distance(region.boundary, shapely.points(x[differ], y[differ]))
    assert far.max(initial=0.0) <= 0.3


def test_without_a_font_a_text_asks_for_one():
    artwork = read_artwork("x", drawing(f"<rect width='9' height='9'/>{CASES['start']}").encode())
    (note,) = artwork.left_out
    assert (note.what, note.where) == ("text", ("line 1: 'Avocet'",))
    assert "font" in note.remedy


@pytest.mark.parametrize(
    "text",
    [
        "<text x='11 2 3' y='40'>Knot</text>",
        "<text x='9' y='40' rotate='5'>Knot</text>",
        "<text x='9' y='40' letter-spacing='3'>Knot</text>",
        "<text x='9' y='40' xml:space='preserve'>Kn  ot</text>",
        "<text x='9' y='40' text-decoration='underline'>Knot</text>",
    ],
)
def test_what_of_a_text_is_not_taken_is_listed(text):
    assert told(read_artwork("x", drawing(text).encode(), FONT)) == {"text detail": 1}


def test_a_text_on_a_path_is_listed_with_its_words():
    text = "<text x='9' y='40'>Knot<textPath href='#p' id='t'>Teal</textPath></text>"
    (note,) = read_artwork("x", drawing(text).encode(), FONT).left_out
    assert (note.what, note.where) == ("text on a path", ("t: 'Teal'",))


def test_hidden_stretches_of_text_are_left_out():
    shown = drawing("<text y='20'>Kn<tspan display='none'>xx</tspan>ot</text>")
    plain = drawing("<text y='20'>Kn<tspan>ot</tspan></text>")
    areas = [draw(read_artwork("x", s.encode(), FONT), 1, 0.01).area for s in (shown, plain)]
    assert areas[0] == pytest.approx(areas[1])


def build(artwork):
    raw = {
        "title": "Knot",
        "lettering": {"text": "Knot", "font": "oswald", "size": {"cap_height": 20}},
        "layers": [
            {"name": "board", "material": "birch-plywood", "thickness": 9,
             "outline": {"kind": "plate", "margin": 40},
             "features": [{"kind": "artwork", "artwork": artwork, "place": {"anchor": "top"}}]}
        ],
    }  # fmt: skip
    return build_stack(parse_recipe(raw), load_catalogue(), FontLibrary())


def test_a_recipe_names_the_font_of_a_drawings_texts():
    stack = build({"svg": drawing(CASES["start"]), "font": "zilla-slab", "size": {"width": 40}})
    assert not [f for f in stack.findings if f.code == "artwork"]
    assert len(stack.layers[0].parts[0].scribes[0].lines) >= 6


@pytest.mark.parametrize(
    ("artwork", "error", "field"),
    [
        ({"svg": drawing(CASES["start"]), "font": "no-such"}, InputError, "font"),
        ({"svg": drawing("<text y='9'>漢</text>"), "font": "oswald"}, GlyphMissing, "font"),
        ({"svg": drawing(CASES["start"])}, InputError, "svg"),
    ],
)
def test_a_mistake_names_its_field(artwork, error, field):
    with pytest.raises(error) as caught:
        build(artwork)
    assert caught.value.field == f"recipe.layers.0.features.0.artwork.{field}"


def test_a_text_filled_with_a_gradient_is_painted():
    gradient = "<linearGradient id='g'><stop/><stop offset='1'/></linearGradient>"
    plain, filled = (
        draw(read_artwork("x", drawing(f"{gradient}<text y='40' {s}>Knot</text>").encode(), FONT),
             1, 0.01).area
        for s in ("", "fill='url(#g)'")
    )  # fmt: skip
    assert filled == pytest.approx(plain)
