"""Places in words."""

import pytest
from shapely import box

from letterply.checks.places import letters_at, name_glyph_place, name_letter_place
from letterply.lettering.setting.lettering import Letter
from letterply.shapes.regions import as_region

A = Letter("v", 0, as_region(box(0, 0, 20, 40)))
B = Letter("o", 0, as_region(box(19, 0, 40, 40)))
FAR = Letter("y", 1, as_region(box(60, -130, 80, -80)), y_mm=-120.0)


def named(at, width=2.0, kind="neck"):
    return name_letter_place([A, B, FAR], at, width, 70.0, kind)


def test_a_place_between_letters_that_meet_is_their_join():
    assert named((19.5, 20)) == "the join of v and o"
    assert named((19.5, 20), kind="counter") != "the join of v and o"


def test_a_place_in_one_letter_is_named_by_where_it_is():
    assert named((2, 38)) == "the upper left of v"
    assert named((30, 1)) == "the foot of o"


def test_a_tail_is_below_the_baseline_of_its_own_line():
    assert named((70, -128)) == "the tail of y"
    assert named((70, -82)) == "the top of y"


def test_counters_are_named_by_where_they_are_only_when_there_are_several():
    bounds = (0, 0, 30, 70)
    assert name_glyph_place("e", (15, 50), bounds, 70, "counter", 1) == "the counter of e"
    said = name_glyph_place("B", (15, 60), bounds, 70, "counter", 2)
    assert said == "the counter at the top of B"
    assert name_glyph_place("I", (15, 50), bounds, 70, "whole", 0) == "all of I"


@pytest.mark.parametrize("at", [(10, 20), (500, 500)])
def test_a_place_always_has_a_letter(at):
    assert len(letters_at([A, B, FAR], at, 1.0)) == 1
