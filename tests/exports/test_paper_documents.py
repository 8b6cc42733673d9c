"""Job sheet, labels, templates: read back by another program (PDFium) and measured."""

import io
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import shapely
from PIL import Image

from letterply.exports.papers.job_sheet import (
    JobLine,
    JobProgram,
    JobSet,
    JobSheet,
    JobStock,
    Overview,
    glue_up_pdf,
    job_sheet_pdf,
)
from letterply.exports.papers.labels import Label, Pick, labels_pdf
from letterply.exports.papers.pdf_drawing import A4_MM, wrapped_text
from letterply.exports.papers.templates import Template, templates_pdf
from letterply.stacks.model import Layer, Part

PX_A_MM = 10


def picture(width=300, height=200):
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#0072B2").save(out, "PNG")
    return out.getvalue()


def pages(data):
    document = pypdfium2.PdfDocument(data)
    texts = [document[n].get_textpage().get_text_bounded() for n in range(len(document))]
    sizes = [
        tuple(round(v / 72 * 25.4, 1) for v in document[n].get_size()) for n in range(len(document))
    ]
    return texts, sizes


def pixels(data, page):
    document = pypdfium2.PdfDocument(data)
    image = document[page].render(scale=25.4 / 72 * PX_A_MM, grayscale=True).to_numpy()
    return np.asarray(image).reshape(image.shape[0], image.shape[1])


def overview(**more):
    facts = {
        "title": "Boat names",
        "summary": "2 lines.",
        "facts": (("lines", "2"),),
        "quote": (("quote", "12.00 EUR"),),
        "stock": (JobStock("MDF 6 mm", 1, 1000.0, 2000.0, 4.0),),
        "troubles": (),
        "thumbs": (("1 Knot", picture),),
        "bench": ("Sort them.",),
    }
    return Overview(**(facts | more))


def sheet(number, *, passed=True):
    return JobSheet(
        number=number,
        stock="MDF 6 mm",
        set_up=("Lay it down.",),
        programs=(JobProgram(f"sheet-{number}-1-flat.nc", "1/8 in end mill", "3 min"),),
        facts="3 min · 2 parts",
        proof="All is cut.",
        passed=passed,
        cautions=("Dust.",),
        picture=picture,
    )


def line(number, text="Knot", parts=1):
    rows = tuple((str(c), f"{number}.{c}.A.face", "face", "MDF", "1") for c in range(1, parts + 1))
    return JobLine(
        number, text, "rack 7", rows, ("Paint edges before glue.",), ("A neck.",), picture
    )


def test_the_job_sheet_has_a_page_a_sheet_and_a_page_a_line():
    data = job_sheet_pdf(overview(), [sheet(1), sheet(2)], ["Eyes."], [line(1), line(2, "Möwe")])
    texts, sizes = pages(data)
    assert len(texts) == 6
    assert set(sizes) == {A4_MM}
    assert "Boat names" in texts[0]
    assert "12.00 EUR" in texts[0]
    assert "Order of work" in texts[1]
    assert "sheet-2-1-flat.nc" in texts[3]
    assert "2.1.A.face" in texts[5]
    assert "Möwe" in texts[5]
    assert "Paint edges before glue." in texts[5]


def test_a_sheet_with_a_choice_of_cutters_has_a_page_that_compares_them():
    sets = (
        JobSet("grooves", "30 degree V-bit", "17 min", "up to 4 mm deep", False),
        JobSet("grooves", "90 degree V-bit", "6 min", "up to 4 mm deep", True),
    )
    with_sets = replace(sheet(1), compared=sets, sets_picture=picture)
    texts, sizes = pages(job_sheet_pdf(overview(), [with_sets, sheet(2)], [], []))
    _, without = pages(job_sheet_pdf(overview(), [sheet(1), sheet(2)], [], []))
    assert len(sizes) == len(without) + 1
    (compared,) = [t for t in texts if "cutters compared" in t]
    assert "Sheet 1" in compared
    for one in sets:
        assert one.cutters in compared
        assert one.time in compared


def test_a_proof_that_fails_cannot_be_overlooked():
    data = job_sheet_pdf(overview(troubles=("Sheet 1: no.",)), [sheet(1, passed=False)], ["Eyes."])
    texts, _ = pages(data)
    assert "To settle first" in texts[0]
    assert "DO NOT CUT" in texts[1]
    assert "do not cut" in texts[2]


def test_a_long_table_goes_on_over_pages_with_its_heading():
    texts, _ = pages(glue_up_pdf("Boat names", [line(3, parts=120)]))
    assert len(texts) > 2
    assert all("label" in t for t in texts[:-1])
    assert all(f"3.{c}.A.face" in "".join(texts) for c in (1, 60, 120))


def test_same_values_same_bytes():
    assert glue_up_pdf("x", [line(1)]) == glue_up_pdf("x", [line(1)])


def test_every_line_has_a_label_with_all_of_its_marks():
    many = tuple(f"2.{c}.Sanderling.face" for c in range(1, 60))
    labels = [Label(1, "Knot", "rack 1", 1, ("1.1.Knot.face",)), Label(2, "Ruff", "", 59, many)]
    texts, _ = pages(labels_pdf("Boat names", [Pick(1, "MDF", ("1.1.Knot.face",))], labels))
    assert "Pick list" in texts[0]
    printed = "".join(texts[1:])
    assert "× 59" in printed
    assert "labels" in texts[0]
    assert "labels" not in printed  # no foot: it would be on a label
    assert all(mark in printed.replace("\r\n", " ") for mark in (*many, "1.1.Knot.face"))


def template(width):
    base = Part("base", "base", shapely.box(0, 0, width, 60))
    top = Part("top", "top", shapely.box(10, 10, width - 10, 50))
    layers = (Layer("base", "mdf", 6, 0, (base,)), Layer("top", "mdf", 3, 6, (top,)))
    return Template("Knot", "line 1", lambda: layers, (("0",), ("Knot",)))


@pytest.mark.parametrize(
    ("width", "paper"), [(150, (210.0, 297.0)), (250, (297.0, 210.0)), (900, (1189.0, 841.0))]
)
def test_templates_are_in_real_size_on_paper_that_takes_them(width, paper):
    data = templates_pdf("Boat names", [template(width)])
    _, sizes = pages(data)
    assert sizes == [paper]
    dark = pixels(data, 0) < 120
    # The base is drawn as a full line: its upper edge is the longest dark run of its row.
    runs = dark.sum(axis=1)
    assert abs(int(runs.max()) / PX_A_MM - width) < 0.6


def test_the_rule_is_fifty_millimetres():
    data = templates_pdf("Boat names", [template(150)])
    page = pixels(data, 0) < 120
    foot = page[int((297 - 22) * PX_A_MM) : int((297 - 12) * PX_A_MM), : int(70 * PX_A_MM)]
    longest = max(
        int(np.diff(np.flatnonzero(np.diff(np.r_[0, row, 0]))).max(initial=0)) for row in foot
    )
    assert abs(longest / PX_A_MM - 50) < 0.4


def test_text_is_broken_between_words():
    assert wrapped_text("one two three", 4, 15) == ["one two", "three"]
    assert wrapped_text("", 4, 15) == []
