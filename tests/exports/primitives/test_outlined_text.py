"""Text as outlines."""

import re

import pytest

from letterply.exports.primitives.outlined_text import text_path, text_width, wrapped


def xs(data: str) -> list[float]:
    """Return the x of all moves and lines; enough to see where a line of text lies."""
    return [float(x) for x in re.findall(r"[ML](-?[\d.]+)", data)]


def test_width_grows_with_size_and_text():
    assert text_width("Knot", 10) == pytest.approx(2 * text_width("Knot", 5))
    assert text_width("Knot Knot", 5) > 2 * text_width("Knot", 5)
    assert text_width("", 5) == 0


@pytest.mark.parametrize(
    ("anchor", "low", "high"), [("start", 100, 131), ("middle", 84, 116), ("end", 69, 100)]
)
def test_a_line_lies_where_its_anchor_says(anchor, low, high):
    assert text_width("Turnstone", 7) == pytest.approx(30.9, abs=1.5)
    found = xs(text_path("Turnstone", 7, x_mm=100, y_mm=50, anchor=anchor))
    assert low - 0.5 < min(found) < max(found) < high + 1.5


def test_letters_stand_on_the_baseline():
    data = text_path("H", 10, y_mm=50)
    ys = [float(y) for y in re.findall(r"(?:[ML]-?[\d.]+[ ,]|V)(-?[\d.]+)", data)]
    assert max(ys) == pytest.approx(50, abs=0.01)
    assert 42 < min(ys) < 44  # capitals are about two thirds of the em high


def test_text_is_broken_between_words_and_none_of_it_is_left_out():
    text = "Avocet Curlew Dunlin Godwit Knot Sanderling Turnstone Whimbrel"
    lines = wrapped(text, 5, 50)
    assert " ".join(lines) == text
    assert len(lines) > 2
    assert all(text_width(line, 5) <= 50 for line in lines)
    assert wrapped("", 5, 30) == [""]


@pytest.mark.parametrize("word", ["Turnstone" * 9, "Кулик" * 20])
def test_a_word_wider_than_the_line_is_broken(word):
    lines = wrapped(f"a {word} b", 5, 30)
    assert "".join(lines) == f"a{word}b"
    assert all(text_width(line, 5) <= 30 for line in lines)


def test_characters_without_a_glyph_are_shown_as_missing():
    assert text_width("\U0001f9ed", 5) > 0
    assert text_path("\U0001f9ed", 5) == text_path("\u4e00", 5)
