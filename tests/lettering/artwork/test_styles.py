"""Style sheets: selectors and the cascade, by Selectors 4 and CSS Cascade 4; areas by hand."""

import pytest

from lettering.artwork.drawings import area, read, told
from letterply.lettering.artwork.model import ArtworkError
from letterply.lettering.artwork.parser import read_artwork

BODY = (
    '<g class="c d"><circle class="a" r="0"/><rect id="x" class="a b" width="10" height="10"/>'
    '<rect x="20" width="10" height="20" data-kind="knot-small"/></g><rect x="40" width="10" '
    'height="40"/>'
)
ALL = 100 + 200 + 400


@pytest.mark.parametrize(
    ("selector", "gone"),
    [
        ("rect", ALL),
        ("*", ALL),
        ("#x", 100),
        ("rect.a.b", 100),
        (".b, circle", 100),
        ("g rect", 300),
        ("svg > rect", 400),
        ("svg > g > rect", 300),
        ("circle + rect", 100),
        ("circle ~ rect", 300),
        ("g + rect", 400),
        ("[data-kind]", 200),
        ("[data-kind|=knot]", 200),
        ("[data-kind^='knot']", 200),
        ("[class~=b]", 100),
        ("[CLASS~=b]", 0),
        ("RECT", 0),
        ("rect:last-child", 200),
        ("rect:nth-child(odd)", 600),
        ("rect:first-of-type", 500),
        ("rect:nth-last-of-type(2)", 100),
        ("rect:only-of-type", 400),
        ("rect:not(.a, #y)", 600),
        (":is(.b, .z) ", 100),
        ("g:root rect", 0),
        ("svg:root > rect", 400),
        ("rect:hover", 0),
        ("*|rect", ALL),
    ],
)
def test_a_selector_means_what_it_says(selector, gone):
    spot = '<path d="M90 90h1v1h-1z" style="display: inline !important"/>'
    sheet = f"<style>{selector} {{fill: none}} path, svg, g {{fill: black !important}}</style>"
    drawing = sheet + BODY + spot
    assert area(drawing) == pytest.approx(1 + ALL - gone)
    assert told(read(drawing)) == {}


@pytest.mark.parametrize(
    "rules",
    [
        "rect {fill: none} .b {fill: red} .b {fill: none}",
        "#x {fill: none} rect.a.b {fill: red}",
        "g > .b {fill: none} .b {fill: red}",
        "rect.b {fill: none !important} #x {fill: red}",
        ":where(#x) {fill: red} rect {fill: none}",
        "rect {fill: red} rect {fill: nonsense} rect {fill: none; fill: nonsense}",
        "@media all {#x {fill: none}} @media print {#x {fill: red !important}}",
    ],
)
def test_the_strongest_rule_wins(rules):
    sheet = f"<style>{rules} rect:not(.b) {{fill: blue}}</style>"
    assert area(sheet + BODY) == pytest.approx(ALL - 100)


def test_style_sheets_set_sizes_places_and_paths():
    assert area('<rect style="width: 30px; height: 1em"/>') == pytest.approx(480)
    assert area("<style>path {d: path('M0 0H9V9z')}</style><path/>") == pytest.approx(40.5)


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ("<style>g:has(rect) {fill: none}</style>", {"style rule": 1}),
        ("<style>rect::before {fill: none}</style>", {"style rule": 1}),
        ("<style>@supports (x: y) {rect {fill: none}}</style>", {"style sheet": 1}),
        ("<style>@font-face {font-family: Knot}</style>", {}),
        ('<rect width="1" height="1" style="fill: var(--x)"/>', {"style property": 1}),
        ('<rect width="1" height="1" style="translate: 5px"/>', {"style property": 1}),
        ('<rect width="1" height="1" style="-knot-note: 5px; font: 12px serif"/>', {}),
    ],
)
def test_what_of_styles_is_not_taken_is_listed(body, what):
    assert told(read(BODY + body)) == what


@pytest.mark.parametrize(
    "style",
    [
        "fill:none;stroke : red;stroke-width:4",
        " FILL: none; ; stroke: red; stroke-width: 4; stroke-width: 4 apples; nonsense",
        "fill: none; stroke: red; font: 10px serif; stroke-width: .4em;",
    ],
)
def test_a_style_is_read_alike_with_and_without_what_needs_care(style):
    for more in ("", "; /* care */ cursor: url(x.cur)"):
        shape = read(f'<rect width="9" height="9" style="{style}{more}"/>').shapes[0]
        assert (shape.fill, shape.stroke_colour, shape.stroke.width) == (None, "#ff0000", 4)


def test_a_linked_sheet_is_never_fetched_and_listed():
    data = b'<?xml-stylesheet href="a.css"?><svg xmlns="http://www.w3.org/2000/svg" width="9" '
    artwork = read_artwork("x", data + b'height="9"><rect width="5" height="5"/></svg>')
    assert told(artwork) == {"external reference": 1}


@pytest.mark.parametrize(
    "sheet",
    [
        "q " + "* " * 6 + "z {fill: none}",
        "q ~ " + "rect ~ " * 6 + "z {fill: none}",
        "rect {fill: red}" * 2001,
    ],
    ids=["descendants", "siblings", "many"],
)
def test_rules_that_take_too_long_are_refused(sheet):
    depth = '<rect width="1" height="1"/><g>' * 45
    inner = '<rect width="1" height="1"/>' * 300 + "<z/>" * 300
    with pytest.raises(ArtworkError) as caught:
        read(f"<style>{sheet}</style>{depth}{inner}{'</g>' * 45}")
    assert caught.value.code == "artwork-too-complex"
