"""Directions within a line, against rows of Unicode's own test file and against another library."""

import random

import bidi
import pytest

from letterply.lettering.setting.bidi import base_level, embedding_levels, visual_order

PUBLISHED = """\
202A 05D0 0028 05D1 202C 202D 0029;2;1;x 3 3 3 x x 2;3 2 1 6
202A 05D0 0028 05D1 202C 202D 0029 202C;2;1;x 3 3 3 x x 2 x;3 2 1 6
202B 0061 0028 0062 202C 202E 0029;2;0;x 2 2 2 x x 1;6 1 2 3
202B 0061 0028 0062 202C 202E 0029 202C;2;0;x 2 2 2 x x 1 x;6 1 2 3
202A 202E 0061 202C 0028 05D0 202C 202D 0029 202C;2;0;x x 3 x 3 3 x x 2 x;5 4 2 8
202B 202D 05D0 202C 0028 0061 202C 202E 0029 202C;2;1;x x 4 x 4 4 x x 3 x;8 2 4 5
202D 0028 202C 202A 05D0 0029 05D1;2;1;x 2 x x 3 3 3;1 6 5 4
202D 0028 202C 202A 05D0 0029 05D1 202C;2;1;x 2 x x 3 3 3 x;1 6 5 4
0028 05D0 0029 0028 0029 0061;0;0;0 1 0 0 0 0;0 1 2 3 4 5
0061 0028 2680 0062 0029 0028 0063 0029;0;0;0 0 0 0 0 0 0 0;0 1 2 3 4 5 6 7
2680 0028 0028 2681 0029 0029;0;0;0 0 0 0 0 0;0 1 2 3 4 5
0028 0061 0028 2680 0029 0029 2681 0062;0;0;0 0 0 0 0 0 0 0;0 1 2 3 4 5 6 7
05D0 0028 0028 05D1 0029 0061 0029 2680;0;0;1 0 0 1 0 0 0 0;0 1 2 3 4 5 6 7
0028 2680 0029 05D0 005B 0061 05D1 005D;0;0;0 0 0 1 0 0 1 0;0 1 2 3 4 5 6 7
0028 05D0 0029 0061 05D1 005B 005D 05D2;0;0;0 1 0 0 1 1 1 1;0 1 2 3 7 6 5 4
0028 005B 2680 005D 05D0 2681 0029 05D1;0;0;0 0 0 0 1 0 0 1;0 1 2 3 4 5 6 7
2680 0028 2681 05D0 0029 0028 0061 0029;1;1;1 1 1 1 1 1 2 1;7 6 5 4 3 2 1 0
0028 0029 05D0 2680 0028 2681 0029 05D1;1;1;1 1 1 1 1 1 1 1;7 6 5 4 3 2 1 0
0028 2680 0028 2681 0029 2682 05D0 0029;1;1;1 1 1 1 1 1 1 1;7 6 5 4 3 2 1 0
0028 0061 05D0 0028 05D1 0029 0062 0029;1;1;1 2 1 1 1 1 2 1;7 6 5 4 3 2 1 0
05D0 0028 0061 0029 05D1 005B 005D;1;1;1 1 2 1 1 1 1;6 5 4 3 2 1 0
0028 0029 0061 05D0 0062 005B 2680 005D;1;1;1 1 2 1 2 1 1 1;7 6 5 4 3 2 1 0
05D0 0028 005B 2680 005D 0029 0061;1;1;1 1 1 1 1 1 2;6 5 4 3 2 1 0
0028 0061 005B 05D0 005D 2680 0029 0062;1;1;1 2 1 1 1 1 1 2;7 6 5 4 3 2 1 0
"""
"""Rows of BidiCharacterTest-17.0.0.txt (Unicode Character Database, Unicode Licence v3), from a
stored copy: code points; direction (2: from the text); paragraph level; levels; visual order."""


@pytest.mark.parametrize("row", PUBLISHED.splitlines())
def test_levels_and_order_are_those_that_unicode_publishes(row):
    points, direction, paragraph, levels, order = row.split(";")
    text = "".join(chr(int(p, 16)) for p in points.split())
    base = None if direction == "2" else int(direction)
    found = embedding_levels(text, base)
    assert (base_level(text) if base is None else base) == int(paragraph)
    for mine, theirs in zip(found, levels.split(), strict=True):
        assert theirs in ("x", str(mine))
    kept = [i for i, level in enumerate(levels.split()) if level != "x"]
    seen = [kept[n] for n in visual_order([found[i] for i in kept])]
    assert seen == [int(i) for i in order.split()]


ALPHABET = "abאבגاب12٣٤ ,.-+%()[]\u0301\u2066\u2067\u2068\u2069"


@pytest.mark.parametrize("seed", range(40))
def test_order_is_that_of_another_library(seed):
    """python-bidi (LGPL), which wraps the Rust crate unicode-bidi; random lines of every class."""
    rng = random.Random(seed)
    for _ in range(50):
        text = "".join(rng.choice(ALPHABET) for _ in range(rng.randrange(1, 24)))
        base = rng.randrange(2)
        levels = embedding_levels(text, base)
        mine = "".join(text[i] for i in visual_order(levels))  # neither mirrors brackets
        assert mine == bidi.get_display(text, base_dir="LR"[base]), ascii(text)


def test_a_line_of_one_direction_is_left_as_it_is():
    assert visual_order(embedding_levels("Avocet")) == list(range(6))
    assert visual_order(embedding_levels("")) == []
