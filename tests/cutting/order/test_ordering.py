"""Order of operations: inside before outside, passes in turn, holes of others in between."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from cutting.hand_made import disc, flat, part, sheet, shop
from letterply.cutting import plan as planning
from letterply.cutting.model import Feeds, Operation, OperationKind
from letterply.cutting.order.ordering import in_short_order
from letterply.cutting.paths import polyline_path
from letterply.cutting.toolpath import EntryOptions
from letterply.requests.shop import HoldDown

FEEDS = Feeds(16000, 900, 300, 2.0, 0.02, ())


def loop(x, y, size=4.0):
    """Return a square path with its lower left corner at a place."""
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]) * size + (x, y)
    return polyline_path(np.column_stack((corners, np.full(5, -3.0))))


def cut(mark, *paths, inside=False, tabs=0, kind=OperationKind.PROFILE):
    return Operation(kind, "f3", mark, paths, 3.0, FEEDS, inside=inside, tabs=tabs)


def stroke(*ends):
    """Return a straight path from one end to the other that may be taken both ways."""
    entry_options = [
        polyline_path(np.array([(*a, -1.0), (*b, -1.0)])) for a, b in (ends, ends[::-1])
    ]
    both = np.array(ends, dtype=float)
    return dataclasses.replace(
        entry_options[0], entry_options=EntryOptions(both, both[::-1], entry_options.__getitem__)
    )


def travel(operations):
    at, total = np.zeros(2), 0.0
    for path in (path for op in operations for path in op.paths):
        total += float(np.hypot(*(path.start[:2] - at)))
        at = path.ends[-1, :2]
    return total


def told(operations):
    return [(op.mark, op.inside, len(op.paths)) for op in operations]


def test_holes_come_before_the_outline_that_holds_them():
    ordered = in_short_order(
        [
            cut("a", loop(0, 0, 60)),
            cut("a", loop(50, 50), loop(10, 10), loop(50, 10), inside=True),
        ]
    )
    assert told(ordered) == [("a", True, 3), ("a", False, 1)]
    # 51 + 40 + 56.6 + 14.1 mm back to the corner where the outline begins; the nearest first
    # would be 14.1 + 40 + 40 + 70.7 mm.
    starts = [tuple(path.start[:2]) for path in ordered[0].paths]
    assert starts == [(50, 10), (50, 50), (10, 10)]


def test_the_hole_of_a_neighbour_comes_between_where_that_is_shorter():
    """Outlines begin at their lower left; on the way from left to right lie the holes of both."""
    ordered = in_short_order(
        [
            cut("a", loop(40, 0, 60)),
            cut("a", loop(45, 5), inside=True),
            cut("b", loop(0, 0, 38)),
            cut("b", loop(34, 5, 2), inside=True),
        ]
    )
    marks = [(op.mark, op.inside) for op in ordered]
    assert marks.index(("a", True)) < marks.index(("a", False))
    assert marks.index(("b", True)) < marks.index(("b", False))
    assert marks != sorted(marks, key=lambda m: m[0])


def test_what_meets_is_done_in_the_order_listed():
    """Two passes of one groove far off, and one groove near."""
    deep = cut("a", loop(80, 80), loop(80, 80), loop(5, 5), kind=OperationKind.GROOVE)
    ordered = in_short_order([deep])
    assert [tuple(p.start[:2]) for p in ordered[0].paths] == [(5, 5), (80, 80), (80, 80)]
    assert ordered[0].paths[1] is deep.paths[0]
    assert ordered[0].paths[2] is deep.paths[1]


def test_rounds_of_an_outline_are_done_in_one_go_with_its_tabs():
    outline = cut("a", loop(0, 0, 60), loop(1, 1, 58), tabs=4)
    ordered = in_short_order([outline, cut("b", loop(30, -20, 6), tabs=2)])
    assert sorted(told(ordered)) == [("a", False, 2), ("b", False, 1)]
    assert {op.mark: op.tabs for op in ordered} == {"a": 4, "b": 2}


@pytest.mark.parametrize("container", ["b", "ghost"])
def test_what_lies_in_a_counter_comes_before_the_part_round_it(container):
    containers = {"a": container, "ghost": "b"}
    ordered = in_short_order([cut("b", loop(0, 0, 60)), cut("a", loop(20, 20))], containers)
    assert [op.mark for op in ordered] == ["a", "b"]


def test_work_without_paths_is_left_out():
    assert in_short_order([]) == []
    assert in_short_order([cut("a")]) == []


def test_paths_that_must_not_be_done_apart_stay_in_their_order():
    holes = cut("a", loop(50, 50), loop(5, 5), loop(50, 5), inside=True)
    (ordered,) = in_short_order([holes], apart=False)
    assert ordered.paths == holes.paths


def test_strokes_are_taken_to_and_fro():
    strokes = [stroke((k, 0), (k, 50)) for k in range(1, 7)]
    (ordered,) = in_short_order([cut("a", *strokes, kind=OperationKind.SCRIBE)])
    assert travel([ordered]) == pytest.approx(6)
    assert [path.start[1] for path in ordered.paths] == [0, 50, 0, 50, 0, 50]
    assert all(path.entry_options is None for path in ordered.paths)


def test_paths_in_one_go_begin_where_the_one_before_is_left():
    """From the far end of the first stroke the second is taken back."""
    outline = cut("a", stroke((10, 0), (60, 0)), stroke((10, 2), (60, 2)))
    (ordered,) = in_short_order([outline])
    assert [tuple(p.start[:2]) for p in ordered.paths] == [(10, 0), (60, 2)]


def without_ways(operations, *others, **options):
    """Order operations that may begin at the first of their places only."""
    bare = [
        dataclasses.replace(op, paths=tuple(path.taken(0) for path in op.paths))
        for op in operations
    ]
    return in_short_order(bare, *others, **options)


def test_free_entries_shorten_the_way_and_nothing_else(catalogue, monkeypatch):
    """Twelve discs on tape, each with a hole: at least a quarter less travel."""
    pieces = [part(disc(0, 0, 15).difference(disc(6, 0, 4)), f"tag.{k:02}") for k in range(12)]
    rack = shop(catalogue, flat(3.0), hold_down=HoldDown.TAPE, entry="ramp")
    made = sheet(*pieces)
    free = planning.plan_sheet(made, rack, catalogue, 15.0)
    monkeypatch.setattr(planning, "in_short_order", without_ways)
    fixed = planning.plan_sheet(made, rack, catalogue, 15.0)
    assert travel(free.operations) < 0.75 * travel(fixed.operations)
    assert free.time.travel_s < fixed.time.travel_s
    assert free.time.cutting_s == pytest.approx(fixed.time.cutting_s, rel=0.01)


def test_no_path_of_a_plan_is_open_any_more(job):
    for plan in job.plans:
        assert all(path.entry_options is None for op in plan.operations for path in op.paths)
