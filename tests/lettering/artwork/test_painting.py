"""Paints: what of them is seen, by SVG 2, chapters 13 and 14; colours by CSS Color 4."""

import pytest

from lettering.artwork.drawings import area, read, told
from letterply.lettering.artwork.colours import Colour, luminance, read_colour

SPOT = '<rect x="90" y="90" width="1" height="1"/>'
BARE = '<linearGradient id="g"><stop stop-opacity="0"/><stop offset="1" stop-opacity="0"/>'
FULL = '<linearGradient id="g"><stop/><stop offset="1"/>'


def colours(body: str) -> list[str]:
    return [s.fill_colour for s in read(SPOT + body).shapes[1:] if s.fill]


@pytest.mark.parametrize(
    ("fill", "expected"),
    [
        ("red", ["#ff0000"]),
        ("none", []),
        ("transparent", []),
        ("rgb(0 0 0 / 0)", []),
        ("hsl(120deg 100% 50%)", ["#00ff00"]),
        ("currentColor", ["#0000ff"]),
        # What is invalid is ignored: the fill is that of the group.
        ("no colour", ["#008000"]),
        ("#12345", ["#008000"]),
        ("inherit", ["#008000"]),
        ("initial", ["#000000"]),
        ("url(#nobody)", []),
        ("url(#nobody) red", ["#ff0000"]),
        ("context-fill", []),
    ],
)
def test_a_fill_is_what_its_text_says(fill, expected):
    body = f'<g fill="green" color="blue"><rect width="9" height="9" fill="{fill}"/></g>'
    assert colours(body) == expected


@pytest.mark.parametrize(
    ("server", "expected"),
    [
        (FULL + "</linearGradient>", [""]),
        (BARE + "</linearGradient>", []),
        ('<linearGradient id="g"><stop stop-color="red"/></linearGradient>', ["#ff0000"]),
        ('<linearGradient id="g"/>', []),
        ('<linearGradient id="g" href="#t"/>' + FULL.replace('"g"', '"t"') + "</linearGradient>",
         [""]),
        ('<radialGradient id="g" r="0"><stop/><stop offset="1" stop-color="red"/></radialGradient>',
         ["#ff0000"]),
        ('<pattern id="g" width=".5" height=".5"><rect width="9" height="9"/></pattern>', [""]),
        ('<pattern id="g" width="0" height=".5"><rect width="9" height="9"/></pattern>', []),
        ('<pattern id="g" width=".5" height=".5"/>', []),
    ],
)  # fmt: skip
def test_a_server_paints_where_it_has_opacity(server, expected):
    assert colours(server + '<rect width="9" height="9" fill="url( #g )"/>') == expected


@pytest.mark.parametrize(("instead", "expected"), [("", 0), (" none", 0), (" red", 80 * 4)])
def test_a_gradient_that_has_no_box_to_fit_is_ignored(instead, expected):
    line = f'<line x1="5" x2="85" y1="50" y2="50" stroke-width="4" stroke="url(#g){instead}"/>'
    assert area(SPOT + FULL + "</linearGradient>" + line) == pytest.approx(1 + expected)


def test_context_paints_are_those_of_the_use():
    body = '<defs><rect id="a" width="9" height="9" fill="context-stroke"/></defs>'
    assert colours(body + '<use href="#a" stroke="red" fill="none"/>') == ["#ff0000"]
    assert colours(body + '<use href="#a"/>') == []


@pytest.mark.parametrize(
    ("style", "width"),
    [("stroke-miterlimit='3px'", 4), ("stroke-miterlimit='0.5'", 4), ("stroke-miterlimit='2'", 2)],
)
def test_a_mitre_limit_is_a_plain_number_of_at_least_one(style, width):
    shape = read(f"<path d='M0 0H9V9' stroke='red' {style}/>").shapes[0]
    assert shape.stroke.miter_limit == width


def test_white_under_a_line_that_is_painted_first():
    body = '<rect x="20" y="20" width="40" height="40" fill="white" stroke="black" '
    body += 'stroke-width="8" {}/>'
    assert area(body.format("")) == pytest.approx(48**2 - 32**2)
    assert area(body.format('paint-order="stroke"')) == pytest.approx(48**2 - 40**2)


@pytest.mark.parametrize("paint", ['fill="rgb(0 0 0 / 50%)"', 'fill-opacity=".5"', 'opacity="50%"'])
def test_what_is_half_transparent_is_listed(paint):
    assert told(read(f'<rect width="9" height="9" {paint}/>')) == {"transparency": 1}


def test_colours_of_printers_are_passed_over_and_luminance_is_linear():
    assert read_colour("#CD853F icc-color(x, 0.1)") == Colour("#cd853f", 1.0)
    assert read_colour("ButtonText") == Colour("", 1.0)
    assert luminance("#ffffff") == pytest.approx(1)
    assert luminance("#00ff00") == pytest.approx(0.7152)
