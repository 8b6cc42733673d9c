"""Lines across regions: lengths inside add up to areas, whatever the direction."""

import numpy as np
import pytest
import shapely
from shapely import Point, box
from shapely.affinity import rotate

from letterply.shapes.scanning import directions, scan


def test_a_box_with_a_hole_is_entered_twice_where_the_hole_is():
    shape = box(0, 0, 10, 6) - box(4, 2, 6, 4)
    runs = scan([shape], 90, np.array([1.0, 5.0, 11.0]))
    assert runs.line.tolist() == [0, 1, 1]
    assert runs.start.tolist() == pytest.approx([0, 0, 4])
    assert runs.end.tolist() == pytest.approx([6, 2, 6])


def test_a_line_through_corners_enters_as_often_as_it_leaves():
    diamond = rotate(box(0, 0, 2, 2), 45, origin=(0, 0))
    for angle in (0, 45, 90, 135):
        runs = scan([diamond], angle, np.linspace(-3, 3, 61))
        assert (runs.end >= runs.start).all()


@pytest.mark.parametrize("angle", [0, 17, 90, 133.7])
def test_lengths_add_up_to_the_area(angle):
    shape = Point(0, 0).buffer(10, quad_segs=64) - Point(3, 1).buffer(4, quad_segs=64)
    step = 0.02
    runs = scan([shape], angle, np.arange(-12, 12, step))
    assert float((runs.end - runs.start).sum()) * step == pytest.approx(shape.area, rel=1e-4)


def test_runs_lie_inside_in_the_frame_of_the_directions():
    shape = shapely.Polygon([(0, 0), (9, 1), (4, 7)])
    along, across = directions(30)
    runs = scan([shape], 30, np.array([-1.0, 0.5, 2.0]))
    for place, start, end in zip(runs.line, runs.start, runs.end, strict=True):
        s = (-1.0, 0.5, 2.0)[place]
        middle = across * s + along * (start + end) / 2
        assert shape.contains(Point(middle))
        for way in (start, end):
            assert shape.exterior.distance(Point(across * s + along * way)) < 1e-9


def test_nothing_has_no_runs():
    assert len(scan([], 90, np.array([0.0])).line) == 0
    assert len(scan([box(0, 0, 1, 1)], 90, np.array([])).line) == 0
