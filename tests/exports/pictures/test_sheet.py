"""The sheet for the wall of the shop."""

from xml.etree import ElementTree

import pytest
from shapely import box

from exports.scene import HOSTILE, letter_sheet, plan
from letterply.exports.pictures.sheet import mark_label, sheet_picture
from letterply.exports.pictures.stack import png
from letterply.exports.primitives.views import Frame
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks.model import Part

NS = "{http://www.w3.org/2000/svg}"


def parts_in(svg: str) -> list[str]:
    found = [e.get("data-letterply-part") for e in ElementTree.fromstring(svg).iter(f"{NS}path")]
    return [p for p in found if p]


def test_every_part_is_there_with_its_mark():
    sheet = letter_sheet()
    assert parts_in(sheet_picture(sheet, plan())) == [p.mark for p in sheet.parts]


def test_the_picture_needs_no_plan_and_no_parts():
    empty = Sheet(1, letter_sheet().stock, ())
    assert png(sheet_picture(empty), 200).startswith(b"\x89PNG")


def test_a_sheet_cut_from_its_back_says_so():
    sheet = letter_sheet()
    back = Sheet(1, sheet.stock, sheet.parts, from_back=True)
    root = ElementTree.fromstring(sheet_picture(back))
    assert "from the back" in root.find(f"{NS}desc").text


def test_hostile_marks_are_harmless():
    sheet = letter_sheet()
    one = sheet.parts[0]
    renamed = PlacedPart.at(HOSTILE, 1, one.source, one.placement)
    assert parts_in(sheet_picture(Sheet(1, sheet.stock, (renamed,))))[0].startswith("<script>")


@pytest.mark.parametrize(
    ("angle", "read_at"), [(0, 0), (30, 30), (90, 90), (135, -45), (180, 0), (270, 90), (300, -60)]
)
def test_a_mark_lies_along_a_slender_part_and_is_never_upside_down(angle, read_at):
    bar = Part("face.Knot", "face", box(0, 0, 80, 12))
    placed = PlacedPart.at("1.face.Knot", 1, bar, Placement(angle, 100, 100))
    group = mark_label(placed, Frame(0, 0), 8.0)[0]
    turn = float(group.split("rotate(")[1].split()[0]) if "rotate" in group else 0.0
    assert turn == pytest.approx(-read_at, abs=0.01)  # y is down in SVG
