"""What a customer is told of a piece, in each language."""

from __future__ import annotations

from letterply.offers import LANGUAGES, Piece

PIECE = Piece(
    title="Knot tag",
    text="Knot",
    quantity=3,
    size_mm=(50.5, 30.0, 9.5),
    materials=("Cast acrylic, 3 mm", "Oak of my own, planed, 6.5 mm"),
    version="1a2b3c4d",
    picture="",
)


def test_materials_that_are_shipped_are_named_in_the_language_and_own_ones_stay():
    english, german = (words.facts_of(PIECE) for words in LANGUAGES)
    assert english == (
        "50.5 × 30 mm, 9.5 mm thick",
        "Cast acrylic, 3 mm; Oak of my own, planed, 6.5 mm",
        "3 pieces",
    )
    assert german == (
        "50,5 × 30 mm, 9,5 mm dick",
        "Acrylglas, gegossen, 3 mm; Oak of my own, planed, 6,5 mm",
        "3 Stück",
    )
