"""Fonts: what comes with the service, what is taken from outside, what is refused."""

import io
import random

import pytest
from fontTools.ttLib import TTFont

from letterply.errors import FontError, UnknownName
from letterply.lettering.fonts.describing import describe
from letterply.lettering.fonts.library import FontLibrary, shipped_faces
from letterply.lettering.fonts.loading import load_font


def data_of(key):
    return shipped_faces()[key].path.read_bytes()


def test_eight_kinds_of_hand_are_in_the_library():
    kinds = {e.kind for e in shipped_faces().values()}
    assert {
        "upright sans",
        "serif",
        "slab",
        "connected script",
        "bold display",
        "rounded",
        "ornate",
        "stencil",
    } <= kinds


@pytest.mark.parametrize("flavor", ["woff", "woff2"])
def test_packed_web_fonts_give_the_same_outlines(flavor):
    plain = load_font("plain", data_of("varela-round"))
    packed = io.BytesIO()
    font = TTFont(io.BytesIO(data_of("varela-round")))
    font.flavor = flavor
    font.save(packed)
    unpacked = load_font("packed", packed.getvalue())
    for glyph in range(30):
        for (a, da), (b, db) in zip(plain.outline(glyph), unpacked.outline(glyph), strict=True):
            assert a.tolist() == b.tolist()
            assert da.tolist() == db.tolist()


def test_facts_of_a_variable_font():
    facts = describe(load_font("nunito", data_of("nunito")))
    assert facts["family"] == "Nunito"
    assert facts["axes"][0]["tag"] == "wght"
    assert facts["outlines"] == "TrueType"
    assert "liga" in facts["features"] or "kern" in facts["features"]
    assert facts["embedding"] == "installable embedding"
    assert "licence" in facts["licence_caution"]


@pytest.mark.parametrize(
    ("bits", "words"),
    [
        (0, "installable"),
        (2, "restricted"),
        (4, "preview"),
        (8, "editable"),
        (12, "editable"),
        (0x104, "no subsetting"),
        (0x208, "bitmaps only"),
    ],
)
def test_embedding_bits_in_words(bits, words):
    """OpenType specification, OS/2 fsType; old fonts set several bits, the least strict holds."""
    font = TTFont(io.BytesIO(data_of("varela-round")))
    font["OS/2"].fsType = bits
    out = io.BytesIO()
    font.save(out)
    assert words in load_font("x", out.getvalue()).facts.embedding


def test_unknown_font_says_what_is_there():
    with pytest.raises(UnknownName) as caught:
        FontLibrary().load("comic", field="recipe.lettering.font")
    assert caught.value.code == "unknown-font"
    assert "lobster" in caught.value.data["known"]


@pytest.mark.parametrize("data", [b"", b"hello", b"<svg/>", b"%PDF-1.7", b"ttcg" + bytes(100)])
def test_what_is_no_font_is_refused(data):
    with pytest.raises(FontError) as caught:
        load_font("x", data)
    assert caught.value.code == "not-a-font"


def test_a_font_without_outlines_is_refused():
    font = TTFont(io.BytesIO(data_of("varela-round")))
    del font["glyf"]
    del font["loca"]
    out = io.BytesIO()
    font.save(out)
    with pytest.raises(FontError) as caught:
        load_font("x", out.getvalue())
    assert caught.value.code in ("font-without-outlines", "font-unreadable")


@pytest.mark.parametrize("seed", range(40))
def test_a_damaged_font_is_used_or_refused_and_never_crashes(seed):
    """Random bytes of a whole font are overwritten, or its end is cut off."""
    rng = random.Random(seed)
    data = bytearray(data_of("varela-round"))
    if seed % 4 == 0:
        data = data[: rng.randrange(12, len(data))]
    for _ in range(rng.randrange(1, 400)):
        data[rng.randrange(4, len(data))] = rng.randrange(256)
    code = None
    try:
        font = load_font("x", bytes(data))
        for glyph in range(min(font.glyph_count, 50)):
            font.outline(glyph)
    except FontError as refused:
        code = refused.code
    assert code in (
        None,
        "font-unreadable",
        "bad-outline",
        "font-without-outlines",
        "font-too-complex",
    )
