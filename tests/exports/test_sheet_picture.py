"""The sheet for the wall of the shop."""

from xml.etree import ElementTree

from exports.scene import HOSTILE, letter_sheet, plan
from letterply.exports.picture import png
from letterply.exports.sheet_picture import sheet_picture
from letterply.sheets.model import PlacedPart, Sheet

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
