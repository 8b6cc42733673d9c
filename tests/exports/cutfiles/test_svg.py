"""SVG cut files: read by another program they show the regions, and nothing harms a reader."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from exports.pixels import rendered
from exports.scene import HOSTILE, letter_sheet, plan, rack_sign
from letterply.exports.cutfiles.svg import LAYER_PAD_MM, layer_svg, sheet_svg
from letterply.exports.primitives.palette import STYLES
from letterply.stacks.model import Layer, Part, Stack

NS = "{http://www.w3.org/2000/svg}"
PROFILES_BLACK = """
path, circle { display: none }
[data-letterply-operation=profile] path { display: inline; fill: black; stroke: none }
"""


def elements(svg: bytes, operation: str) -> list[ElementTree.Element]:
    root = ElementTree.fromstring(svg)
    return [
        e
        for e in root.iter()
        if e.tag != f"{NS}g" and e.get("data-letterply-operation") == operation
    ]


def rings(element: ElementTree.Element) -> list[np.ndarray]:
    """Return the closed rings of a path made of M, L and Z alone, y down as written."""
    data = element.get("d") or ""
    assert re.fullmatch(r"[MLZ0-9. -]+", data)
    return [
        np.array(re.findall(r"-?[\d.]+", piece), dtype=float).reshape(-1, 2)
        for piece in data.split("Z")
        if piece
    ]


def test_a_renderer_sees_the_region_within_a_quarter_pixel_of_its_outline():
    """Resvg with crisp edges agreed with polygon sampling within 0.024 px when measured."""
    per_mm = 20
    stack = Stack("Knot", (rack_sign().layer("face"),))
    layer = stack.layers[0]
    seen = rendered(layer_svg(layer, stack), per_mm, PROFILES_BLACK)[:, :, 0] < 128
    left, _, _, high = stack.bounds
    height, width = seen.shape
    x = (np.arange(width) + 0.5) / per_mm - LAYER_PAD_MM + left
    y = high + LAYER_PAD_MM - (np.arange(height) + 0.5) / per_mm
    region = layer.region
    shapely.prepare(region)
    xx, yy = np.meshgrid(x, y)
    expected = shapely.contains_xy(region, xx.ravel(), yy.ravel()).reshape(seen.shape)
    assert expected.sum() > 500_000
    off = seen != expected
    points = shapely.points(xx[off], yy[off])
    assert (shapely.distance(points, region.boundary) * per_mm <= 0.25).all()


def test_size_and_view_box_are_the_same_millimetres():
    root = ElementTree.fromstring(sheet_svg(letter_sheet()))
    assert root.get("width") == "260mm"
    assert root.get("height") == "120mm"
    assert root.get("viewBox") == "0 0 260 120"


def test_no_transform_stands_between_the_numbers_and_the_millimetres():
    assert b"transform" not in layer_svg(rack_sign().layer("board"), rack_sign())


def test_areas_written_are_the_areas_of_the_parts():
    sheet = letter_sheet()
    written = {e.get("data-letterply-part"): e for e in elements(sheet_svg(sheet), "profile")}
    assert sorted(written) == [p.mark for p in sheet.parts]
    for placed in sheet.parts:
        outer, *holes = rings(written[placed.mark])
        flipped = [np.column_stack((r[:, 0], 120 - r[:, 1])) for r in (outer, *holes)]
        read = Polygon(flipped[0], flipped[1:])
        assert read.symmetric_difference(placed.part.outline).area < 0.01


def test_outlines_and_their_holes_turn_opposite_ways_so_both_fill_rules_agree():
    for element in elements(sheet_svg(letter_sheet()), "profile"):
        senses = [Polygon(r).exterior.is_ccw for r in rings(element)]
        assert senses == [False] + [True] * (len(senses) - 1)  # y is down


def test_drilled_holes_are_circles_and_not_profiles_too():
    stack = rack_sign()
    svg = layer_svg(stack.layer("board"), stack)
    circles = elements(svg, "drill")
    assert [(c.tag, float(c.get("r"))) for c in circles] == [
        (f"{NS}circle", 2.5),
        (f"{NS}circle", 2.5),
        (f"{NS}circle", 3.0),
    ]
    assert [c.get("data-letterply-depth-mm") for c in circles] == ["9", "9", "4"]
    assert float(circles[0].get("cx")) == 12 + LAYER_PAD_MM
    assert float(circles[0].get("cy")) == 90 - 78 + LAYER_PAD_MM
    (profile,) = elements(svg, "profile")
    assert len(rings(profile)) == 1


def test_a_hole_of_another_size_than_was_asked_for_stays_a_profile():
    from letterply.stacks.work import Hole

    outline = box(0, 0, 50, 50) - shapely.Point(25, 25).buffer(10)
    part = Part("tag", "tag", outline, holes=(Hole(25, 25, 5.0),))
    stack = Stack("Tag", (Layer("tag", "mdf", 3.0, 0.0, (part,)),))
    (profile,) = elements(layer_svg(stack.layers[0], stack), "profile")
    assert len(rings(profile)) == 2


def test_every_operation_is_there_with_its_depth_colour_and_dash():
    stack = rack_sign()
    svg = layer_svg(stack.layer("board"), stack)
    depths = {
        key: sorted({e.get("data-letterply-depth-mm") for e in elements(svg, key)} - {None})
        for key in STYLES
    }
    assert depths == {
        "reference": [],
        "scribe": ["0.2"],
        "groove": ["1"],
        "pocket": ["3"],
        "drill": ["4", "9"],
        "profile": ["9"],
    }
    for group in ElementTree.fromstring(svg).iter(f"{NS}g"):
        style = STYLES[group.get("data-letterply-operation")]
        assert group.get("stroke") == style.colour
        assert group.get("fill") == "none"
        assert (group.get("stroke-dasharray") is None) == (style.dash_mm == ())


def test_open_scribed_lines_stay_open_and_closed_ones_close():
    stack = rack_sign()
    paths = [e.get("d") for e in elements(layer_svg(stack.layer("board"), stack), "scribe")]
    assert sorted(p.endswith("Z") for p in paths) == [False, True]


def test_a_layer_cut_from_its_back_is_mirrored_and_says_so():
    front, back = rack_sign(), rack_sign(back=True)
    svg = layer_svg(back.layer("board"), back)
    root = ElementTree.fromstring(svg)
    assert "mirrored" in root.find(f"{NS}desc").text
    there = [float(c.get("cx")) for c in elements(svg, "drill")]
    here = [float(c.get("cx")) for c in elements(layer_svg(front.layer("board"), front), "drill")]
    assert there == pytest.approx([200 + 2 * LAYER_PAD_MM - x for x in here])
    outer = rings(elements(svg, "profile")[0])[0]
    assert not Polygon(outer).exterior.is_ccw


def test_layers_of_a_stack_lie_on_one_another():
    stack = rack_sign()
    boxes = {ElementTree.fromstring(layer_svg(la, stack)).get("viewBox") for la in stack.layers}
    assert boxes == {"0 0 210 100"}


def test_a_plan_adds_depth_and_cutter():
    svg = sheet_svg(letter_sheet(), plan())
    found = elements(svg, "profile")
    assert {e.get("data-letterply-cutter") for e in found} == {"flat-3"}
    assert {e.get("data-letterply-depth-mm") for e in found} == {"3.2"}


def test_a_cut_file_holds_no_text_but_title_and_description():
    tags = {e.tag for e in ElementTree.fromstring(sheet_svg(letter_sheet(), plan())).iter()}
    assert tags <= {f"{NS}{t}" for t in ("svg", "title", "desc", "g", "path", "circle")}


def test_hostile_names_come_out_harmless():
    stack = rack_sign(title=HOSTILE)
    part = Part(HOSTILE, "board", stack.layers[0].parts[0].outline)
    layer = Layer("board", HOSTILE, 9.0, 0.0, (part,))
    svg = layer_svg(layer, Stack(HOSTILE, (layer,)))
    root = ElementTree.fromstring(svg)  # well-formed, or this raises
    assert not [e for e in root.iter() if "script" in e.tag.lower()]
    assert "<script>alert('&')</script> ]]>" in root.find(f"{NS}title").text
    assert "\x00" not in root.find(f"{NS}title").text
    (profile,) = elements(svg, "profile")
    assert profile.get("data-letterply-part").startswith("<script>")
    assert len(profile.attrib) == 5


def test_the_same_layer_gives_the_same_bytes():
    assert layer_svg(rack_sign().layer("face"), rack_sign()) == layer_svg(
        rack_sign().layer("face"), rack_sign()
    )
