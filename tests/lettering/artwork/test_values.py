"""Numbers, lengths, transforms and boxes of SVG."""

import pytest

from letterply.lettering.artwork.values import length, numbers, transform, view_box, view_matrix


@pytest.mark.parametrize(
    ("text", "px"),
    [
        ("1in", 96.0),
        ("2.54cm", 96.0),
        ("25.4mm", 96.0),
        ("101.6q", 96.0),
        ("72pt", 96.0),
        ("6pc", 96.0),
        ("96px", 96.0),
        ("96", 96.0),
        ("48%", 96.0),
        ("6em", 96.0),
        ("12ex", 96.0),
        (" 9.6E1 ", 96.0),
    ],
)
def test_an_inch_is_96_pixels_in_every_unit(text, px):
    # CSS Values and Units, absolute lengths: 1 in = 2.54 cm = 96 px, 1 pt = 1/72 in, 1 pc = 12 pt.
    assert length(text, 200.0, 16.0) == pytest.approx(px, rel=1e-12)


@pytest.mark.parametrize("text", ["", "x", "1 2", "5 apples", "nan", "inf", "1e400", "--1", None])
def test_what_is_no_length_is_none(text):
    assert length(text, 100.0) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", []),
        ("1", [1.0]),
        ("1-2+3.5.5e1", [1.0, -2.0, 3.5, 5.0]),
        (" 1 , 2\n3 ", [1.0, 2.0, 3.0]),
        ("1,,2", None),
        ("1;2", None),
        ("1e999", None),
    ],
)
def test_lists_of_numbers(text, expected):
    assert numbers(text) == expected


# W3C bug 29751, a viewport of 21 by 10 and a viewBox of 11 13 3 2.
@pytest.mark.parametrize(
    ("aspect", "matrix"),
    [
        ("none", (7, 0, 0, 5, -77, -65)),
        ("xMinYMin meet", (5, 0, 0, 5, -55, -65)),
        ("xMidYMid meet", (5, 0, 0, 5, -52, -65)),
        ("xMaxYMax meet", (5, 0, 0, 5, -49, -65)),
        ("xMinYMin slice", (7, 0, 0, 7, -77, -91)),
        ("xMidYMid slice", (7, 0, 0, 7, -77, -93)),
        ("xMaxYMax slice", (7, 0, 0, 7, -77, -95)),
        ("", (5, 0, 0, 5, -52, -65)),
        ("nonsense", (5, 0, 0, 5, -52, -65)),
    ],
)
def test_a_view_box_is_laid_into_its_viewport(aspect, matrix):
    assert view_matrix((11, 13, 3, 2), 21, 10, aspect) == pytest.approx(matrix)


def test_a_view_box_must_make_sense():
    assert view_box("0,0 10 20") == (0, 0, 10, 20)
    assert [view_box(t) for t in (None, "", "1 2 3", "0 0 -1 5", "a b c d")] == [None] * 5


@pytest.mark.parametrize(
    "text", ["foo(1)", "scale()", "scale(1", "rotate(1 2)", "matrix(1 2 3)", "translate(1;2)", "1",
             "scale(1)" * 300]
)  # fmt: skip
def test_a_transform_that_breaks_the_grammar_is_none(text):
    assert transform(text) is None


def test_transforms_go_on_from_the_left():
    a, b, c, d, e, f = transform("translate(10 0) rotate(90) scale(2 3)")
    x, y = 1.0, 1.0  # scaled to (2, 3), turned to (-3, 2), moved to (7, 2)
    assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx((7, 2))
