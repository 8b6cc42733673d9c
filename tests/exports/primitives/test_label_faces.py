"""Labels in any script: what the label face lacks comes from the fonts at hand, shaped."""

import io

import numpy as np
import pypdfium2
import pytest
import shapely

from letterply.exports.papers.labels import Label, labels_pdf
from letterply.exports.papers.pdf_page import Document
from letterply.exports.primitives.label_faces import LabelFaces
from letterply.exports.primitives.outlined_text import text_path, text_width
from letterply.lettering.fonts.library import FontLibrary, shipped_faces
from letterply.lettering.setting.shaping import shape_line

CYRILLIC, GREEK, ARABIC, HINDI = "Кулик", "Βαρβαρα Σ", "نورس", "बगुला"


@pytest.fixture(scope="module")
def faces():
    return LabelFaces()


def ink(rings):
    """Return the area that is filled by winding, in square ems."""
    return sum(shapely.Polygon(r).area for r in rings if len(r) > 2)


def test_what_the_label_face_has_stays_text(faces):
    assert faces.line("Avocet, Möwe № 1".replace("№", "Nr.")) is None


@pytest.mark.parametrize("text", [CYRILLIC, ARABIC, HINDI, f"Knot {CYRILLIC} 7"])
def test_other_scripts_are_drawn(faces, text):
    line = faces.line(text)
    assert line.width_em > 0.2 * len(text)
    assert ink(line.rings_em) > 0.02 * len(text)


def test_letters_are_shaped_not_lined_up(faces):
    """Arabic letters join: together they are narrower than apart, and other glyphs."""
    together = faces.line(ARABIC).width_em
    assert together < 0.9 * sum(faces.line(c).width_em for c in ARABIC)
    library = FontLibrary()
    font = library.load("noto-sans-arabic")
    alone = shape_line(font, ARABIC)
    assert together == pytest.approx(alone.advance / font.units_per_em, rel=1e-6)


def test_latin_beside_another_script_keeps_the_label_face(faces):
    label = FontLibrary().load("atkinson-hyperlegible")
    latin = shape_line(label, "Knot ").advance / label.units_per_em
    whole, alone = faces.line(f"Knot {CYRILLIC}"), faces.line(CYRILLIC)
    assert whole.width_em == pytest.approx(latin + alone.width_em, rel=1e-6)


def test_what_no_font_has_is_a_box(faces):
    """Two characters of a private area: nobody draws them."""
    line = faces.line("a\ue123b\ue124")
    assert len(line.rings_em) >= 4
    assert line.width_em > 1.2


def test_an_own_font_helps_out(tmp_path):
    path = next(e.path for e in shipped_faces().values() if e.key == "noto-sans-khmer")
    own = LabelFaces(FontLibrary({"own-khmer": str(path)}))
    assert ink(own.line("\u1780\u1781").rings_em) > 0.05


def test_right_and_middle_are_measured(faces):
    """A line that ends at an edge leaves no ink beyond it, one in the middle the same each side."""
    for place, left, right in (("right", 0, 60), ("centre", 30, 90)):
        document = Document("x", size_mm=(120, 20), margin_mm=5)
        document.page(foot=False)
        document.text(CYRILLIC, 60, 12, 8, align=place)
        page = pypdfium2.PdfDocument(io.BytesIO(document.finish()))[0]
        columns = np.asarray(page.render(scale=72 / 25.4).to_pil().convert("L")) < 128
        (dark,) = np.nonzero(columns.any(axis=0))
        px = columns.shape[1] / 120
        assert left * px <= dark.min()
        assert dark.max() <= right * px
        if place == "centre":
            assert (dark.min() + dark.max()) / 2 == pytest.approx(60 * px, abs=0.5 * px)


def test_labels_of_many_scripts_are_the_same_bytes_again():
    labels = [Label(n, t, "", 1, ("1.1.0.face",)) for n, t in enumerate((CYRILLIC, ARABIC), 1)]
    assert labels_pdf("Имена", [], labels) == labels_pdf("Имена", [], labels)


def test_pictures_draw_them_too():
    assert text_path(CYRILLIC, 4.0).count("M") >= 5
    assert text_width(CYRILLIC, 4.0) > 8
