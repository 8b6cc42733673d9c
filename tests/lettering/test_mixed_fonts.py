"""Fallback fonts, collections, instances, colour fonts, directions and languages."""

import io

import pytest
from fontTools.colorLib.builder import buildCOLR
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTCollection, TTFont

from lettering.words import LIBRARY, lettering
from letterply.errors import FontError, GlyphMissing, InputError
from letterply.lettering.fonts.library import shipped_faces
from letterply.lettering.fonts.loading import load_font
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES


def data_of(key):
    return shipped_faces()[key].path.read_bytes()


# --- fallback


def test_letters_that_a_font_lacks_come_from_the_next():
    found = lettering("Avocet אבג", "lobster", fallback=["frank-ruhl-libre"])
    own = lettering("Avocet", "lobster")
    theirs = lettering("אבג", "frank-ruhl-libre")
    latin = sum(x.region.area for x in found.letters if x.text.isascii())
    hebrew = sum(x.region.area for x in found.letters if not x.text.isascii())
    assert latin == pytest.approx(sum(x.region.area for x in own.letters), rel=1e-6)
    assert hebrew == pytest.approx(sum(x.region.area for x in theirs.letters), rel=1e-6)


def test_a_letter_and_its_mark_stay_in_one_font():
    # Lobster has x but no plus sign below: both come from the fallback.
    text = "x\u031f"
    found = lettering(text, "lobster", fallback=["noto-sans"])
    assert [x.text for x in found.letters] == [text]
    assert found.region.area == pytest.approx(lettering(text, "noto-sans").region.area, rel=1e-6)


def test_what_no_font_on_offer_has_is_named_with_its_place():
    with pytest.raises(GlyphMissing) as caught:
        lettering("Knot 漢", "lobster", fallback=["frank-ruhl-libre"])
    assert caught.value.data["character"] == "漢"
    assert caught.value.data["position"] == 5


# --- collections


@pytest.fixture(scope="module")
def collection():
    both = TTCollection()
    both.fonts = [TTFont(io.BytesIO(data_of(k))) for k in ("oswald", "lobster")]
    out = io.BytesIO()
    both.save(out)
    return out.getvalue()


@pytest.mark.parametrize(("face", "key"), [(None, "oswald"), (0, "oswald"), (1, "lobster"),
                                           ("1", "lobster")])  # fmt: skip
def test_a_face_of_a_collection_is_picked_by_its_place(collection, face, key):
    font = load_font("both", collection, face=face)
    assert font.facts.family == LIBRARY.load(key).facts.family
    assert len(font.faces) == 2
    glyph = font.harfbuzz.get_nominal_glyph(ord("g"))
    (found, _), *_ = font.outline(glyph)
    other = LIBRARY.load(key)
    (expected, _), *_ = other.outline(other.harfbuzz.get_nominal_glyph(ord("g")))
    assert found.tolist() == expected.tolist()


def test_a_face_is_picked_by_its_name(collection):
    names = load_font("both", collection).faces
    assert load_font("both", collection, face=names[1].upper()).facts.family == "Lobster"


def test_a_face_that_is_not_there_lists_those_that_are(collection):
    with pytest.raises(InputError) as caught:
        load_font("both", collection, face="Pacifico", field="recipe.lettering.font")
    assert caught.value.code == "unknown-face"
    assert caught.value.field == "recipe.lettering.face"
    assert len(caught.value.data["faces"]) == 2


@pytest.mark.parametrize("count", [0, 65, 2**31])
def test_a_collection_of_absurd_size_is_refused(count):
    with pytest.raises(FontError) as caught:
        load_font("x", b"ttcf\0\1\0\0" + count.to_bytes(4, "big") + bytes(64))
    assert caught.value.code == "font-unreadable"


# --- named instances


def test_a_named_instance_is_its_place_in_the_design_space():
    font = LIBRARY.load("nunito")
    place = font.instance("BLACK")
    assert place == {"wght": 900.0}
    with pytest.raises(InputError) as caught:
        font.instance("Huge")
    assert caught.value.code == "unknown-instance"
    assert "Black" in caught.value.data["known"]


# --- colour fonts


def square(left, low, side):
    pen = TTGlyphPen(None)
    corners = [(left, low), (left, low + side), (left + side, low + side), (left + side, low)]
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()
    return pen.glyph()


def colour_font(**layers):
    """Return a font whose A is drawn by colour layers alone."""
    empty = TTGlyphPen(None).glyph()
    glyphs = {".notdef": empty, "A": empty, "low": square(0, 0, 400), "high": square(300, 300, 400)}
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({ord("A"): "A", ord("B"): "low"})
    builder.setupGlyf(glyphs)
    metrics = dict.fromkeys(glyphs, (800, 0)) | {"high": (800, 300)}
    builder.setupHorizontalMetrics(metrics)
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Layers", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800, sCapHeight=700, sxHeight=500)
    builder.setupPost()
    builder.font["COLR"] = buildCOLR(layers, version=0 if layers.get("A") else 1)
    builder.setupCPAL([[(0, 0, 0, 1), (1, 0, 0, 1)]])
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def test_the_layers_of_a_colour_glyph_are_cut_as_one():
    font = load_font("layers", colour_font(A=[("low", 0), ("high", 1)]))
    assert font.facts.colour == ("COLR",)
    spec = LetteringSpec("A", "layers", Size("em", 100))
    found = set_lettering(spec, font, DEFAULT_TOLERANCES)
    # Two squares of 40 mm that share one of 10.
    assert found.region.area == pytest.approx(2 * 1600 - 100)


def test_a_glyph_that_is_only_a_picture_is_refused_by_name():
    data = TTFont(io.BytesIO(colour_font(A=[("low", 0)])))
    data["COLR"] = buildCOLR(
        {"A": {"Format": 10, "Paint": {"Format": 2, "PaletteIndex": 0, "Alpha": 1.0},
               "Glyph": "low"}}, version=1
    )  # fmt: skip
    out = io.BytesIO()
    data.save(out)
    font = load_font("layers", out.getvalue())
    with pytest.raises(FontError) as caught:
        set_lettering(LetteringSpec("A", "layers", Size("em", 100)), font, DEFAULT_TOLERANCES)
    assert caught.value.code == "font-without-outlines"
    assert caught.value.data["glyph"] == "A"


# --- directions and languages


def test_lines_of_both_directions_are_read_in_their_order():
    found = lettering("No. 7 אבג Knot", "noto-sans", fallback=["frank-ruhl-libre"])
    read = "".join(x.text for x in found.letters)
    assert read == "No.7אבגKnot"
    hebrew = [x.x_mm for x in found.letters if x.text in "אבג"]
    assert hebrew == sorted(hebrew, reverse=True)


def test_a_line_keeps_the_direction_it_is_given():
    right = lettering("אבג!", "frank-ruhl-libre", direction="rtl")
    left = lettering("אבג!", "frank-ruhl-libre", direction="ltr")
    mark = [next(x.x_mm for x in f.letters if x.text == "!") for f in (right, left)]
    letters = [[x.x_mm for x in f.letters if x.text != "!"] for f in (right, left)]
    assert mark[0] < min(letters[0])
    assert mark[1] > max(letters[1])


def test_arabic_letters_join_and_keep_their_letters():
    found = lettering("بحر", "noto-sans-arabic")
    assert [x.text for x in found.letters] == ["ب", "ح", "ر"]
    body = max(found.region.geoms, key=lambda p: p.area)
    assert len([x for x in found.letters if x.region.intersects(body)]) == 3


def test_a_language_changes_letters_that_differ_by_it():
    plain = lettering("бгд", "noto-sans")
    serbian = lettering("бгд", "noto-sans", language="sr")
    assert plain.region.symmetric_difference(serbian.region).area > 1


def test_features_are_switched_on_and_off():
    plain = lettering("Knot", "playfair-display")
    small = lettering("Knot", "playfair-display", features={"smcp": 1})
    assert small.region.symmetric_difference(plain.region).area > 5
    joined = lettering("fi", "playfair-display")
    parted = lettering("fi", "playfair-display", features={"liga": 0})
    assert (len(joined.letters), len(parted.letters)) == (1, 2)


def test_stylistic_sets_are_listed_with_their_names():
    facts = LIBRARY.load("frank-ruhl-libre").facts
    assert "ss01" in facts.features
    assert facts.feature_names["kern"]
    assert all(facts.feature_names.values())
