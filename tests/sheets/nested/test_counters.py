"""Which counters are waste, and which part lies in whose."""

import pytest
import shapely
from shapely import LineString, MultiPolygon, box
from shapely.affinity import translate

from letterply.sheets.nested.counters import find_containers, waste_counters
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from sheets.shapes import letter

FRAME = box(0, 0, 100, 100).difference(box(10, 10, 45, 90)).difference(box(55, 10, 90, 90))


def boxes(*sides):
    return MultiPolygon([box(*sides)])


def test_all_counters_of_a_plain_part_are_waste():
    found = waste_counters(Part("a", "a", FRAME))
    assert sorted(c.bounds for c in found) == [(10, 10, 45, 90), (55, 10, 90, 90)]
    assert waste_counters(Part("a", "a", letter("L", 40))) == ()


@pytest.mark.parametrize(
    "worked",
    [
        {"pockets": (Pocket(boxes(5, 40, 50, 60), 2.0),)},
        {"grooves": (Groove(boxes(5, 40, 50, 60)),)},
        {"scribes": (Scribe((LineString([(5, 50), (50, 50)]),), 0.1),)},
        {"holes": (Hole(30, 50, 35.0),)},
    ],
)
def test_a_counter_that_is_worked_over_or_bored_is_not_used(worked):
    (found,) = waste_counters(Part("a", "a", FRAME, **worked))
    assert found.bounds == (55, 10, 90, 90)


def test_work_up_to_the_edge_of_a_counter_leaves_it_alone():
    part = Part("a", "a", FRAME, pockets=(Pocket(boxes(45, 10, 55, 90), 2.0),))
    assert len(waste_counters(part)) == 2


def test_a_blank_is_not_cut_and_has_no_waste():
    assert waste_counters(Part("a", "a", FRAME, ready_made=True)) == ()


def test_a_container_is_the_innermost_part_around():
    big = letter("O", 200)
    x, y = big.centroid.coords[0]
    middle = translate(letter("O", 80), x, y)
    middle = translate(middle, x - middle.centroid.x, y - middle.centroid.y)
    dot = shapely.Point(x, y).buffer(3)
    beside = box(500, 0, 510, 10)
    in_big = shapely.Point(x + 52, y).buffer(2)
    assert find_containers([dot, middle, beside, big, in_big]) == [1, 3, None, None, 3]
    assert find_containers([]) == []
    assert find_containers([dot]) == [None]
