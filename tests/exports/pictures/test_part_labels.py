"""Marks in pictures of sheets: read beside the words, never over them."""

from __future__ import annotations

import pytest
import shapely
from shapely import LineString, box

from exports.scene import disc, letter, letter_sheet
from letterply.exports.pictures.part_labels import draw_labels, place_labels
from letterply.exports.primitives.views import Frame
from letterply.sheets.model import PlacedPart, Placement
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Scribe

SHOWN = (0.0, 0.0, 300.0, 200.0)
UNIT = 5.0


def put(part, x, y, angle=0.0, mark=""):
    return PlacedPart.at(mark or f"1.{part.name}", 1, part, Placement(angle, x, y))


def board(word):
    """Return a board with a word carved right across its middle."""
    return Part("board.1", "board", box(0, 0, 160, 60), grooves=(Groove(word),))


def worked(placed):
    part = placed.part
    lines = [line for s in part.scribes for line in s.lines]
    return [*(g.region for g in part.grooves), *(p.region for p in part.pockets), *lines]


def assert_clear(parts, labels):
    """On its part, clear of all that is cut; or beside it, clear of all parts; never on another."""
    for placed, label in zip(parts, labels, strict=True):
        assert label.text == placed.mark
        if label.leader is None:
            assert placed.part.outline.contains(label.ground)
            assert not any(label.ground.intersects(w) for w in worked(placed))
        else:
            assert not any(label.ground.intersects(p.part.outline) for p in parts)
            assert label.leader.intersects(placed.part.outline)
    for n, label in enumerate(labels):
        assert not any(label.ground.overlaps(other.ground) for other in labels[n + 1 :])


def test_a_carved_word_is_not_covered():
    word = shapely.union_all([letter("K", 20, 10), letter("N", 60, 10), letter("O", 100, 10)])
    parts = [put(board(word), 20, 20)]
    labels = place_labels(parts, SHOWN, UNIT)
    assert labels[0].leader is None
    assert_clear(parts, labels)


def test_a_board_that_is_full_has_its_mark_beside_it():
    part = Part("board.1", "board", box(0, 0, 160, 60), grooves=(Groove(box(2, 2, 158, 58)),))
    parts = [put(part, 20, 20)]
    labels = place_labels(parts, SHOWN, UNIT)
    assert labels[0].leader is not None
    assert_clear(parts, labels)


def test_scribed_words_and_holes_are_not_covered():
    lines = tuple(LineString([(5, y), (155, y)]) for y in range(4, 58, 4))
    part = Part("board.1", "board", box(0, 0, 160, 60), scribes=(Scribe(lines, 0.15),),
                holes=(Hole(80, 30, 10),))  # fmt: skip
    parts = [put(part, 20, 20)]
    assert_clear(parts, place_labels(parts, SHOWN, UNIT))


def test_letters_too_thin_for_a_mark_have_it_beside_them_and_none_covers_another():
    parts = [put(Part(f"face.{n}.{kind}", "face", letter(kind, 0, 0)), 10 + 45 * n, 20 + 60 * row)
             for row in range(3) for n, kind in enumerate("KNOT")]  # fmt: skip
    labels = place_labels(parts, SHOWN, UNIT)
    assert any(label.leader is not None for label in labels)
    assert_clear(parts, labels)


def test_on_a_full_sheet_marks_stand_to_the_right_of_it():
    ring = disc(0, 0, 9) - disc(0, 0, 7)
    parts = [put(Part(f"face.{n}", "face", ring), 10 + 19 * (n % 5), 10 + 19 * (n // 5))
             for n in range(25)]  # fmt: skip
    shown = (0.0, 0.0, 97.0, 97.0)
    labels = place_labels(parts, shown, 12.0)
    assert any(label.ground.bounds[0] >= 97 for label in labels)
    assert_clear(parts, labels)


@pytest.mark.parametrize(
    ("angle", "read_at"), [(0, 0), (30, 30), (90, 90), (135, -45), (180, 0), (270, 90), (300, -60)]
)
def test_a_mark_lies_along_a_slender_part_and_is_never_upside_down(angle, read_at):
    parts = [put(Part("face.Knot", "face", box(0, 0, 80, 12)), 150, 100, angle)]
    (label,) = place_labels(parts, SHOWN, UNIT)
    assert label.angle_deg == pytest.approx(read_at, abs=0.01)
    group = next(line for line in draw_labels([label], Frame(0, 0)) if line.startswith("<g"))
    turn = float(group.split("rotate(")[1].split()[0]) if "rotate" in group else 0.0
    assert turn == pytest.approx(-read_at, abs=0.01)  # y is down in SVG
    assert_clear(parts, [label])


def test_the_same_parts_have_the_same_labels_again():
    parts = letter_sheet().parts
    assert place_labels(parts, SHOWN, UNIT) == place_labels(parts, SHOWN, UNIT)
    assert place_labels((), SHOWN, UNIT) == ()
