"""The sheet for the wall of the shop."""

from dataclasses import replace
from xml.etree import ElementTree

from exports.scene import HOSTILE, letter_sheet, plan
from letterply.exports.pictures.sheet import sheet_picture
from letterply.exports.pictures.stack import png
from letterply.exports.primitives.palette import FINDING_COLOUR
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


def test_cautions_stand_under_a_picture_that_stands_alone():
    told = replace(plan(), cautions=("Stop the spindle before you reach in.",))
    alone, on_page = (sheet_picture(letter_sheet(), told, alone=alone) for alone in (True, False))
    assert on_page == sheet_picture(letter_sheet(), plan(), alone=False)
    bare = sheet_picture(letter_sheet(), plan())
    high = [float(ElementTree.fromstring(svg).get("height")[:-2]) for svg in (alone, bare)]
    assert high[0] > high[1]
    assert alone.count(FINDING_COLOUR) == bare.count(FINDING_COLOUR) + 1
