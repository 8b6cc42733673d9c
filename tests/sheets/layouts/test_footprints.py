"""Footprints: conservative whatever the shape; and the filling that rests on them."""

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import translate

from letterply.sheets.layouts.bottom_left import Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from sheets.shapes import letter


def cells(spans) -> set[tuple[int, int]]:
    return {(c, r + n) for c, r, count in spans for n in range(count)}


@pytest.mark.parametrize("kind", list("LTOCVI"))
@pytest.mark.parametrize("spacing", [0.0, 5.2])
def test_a_footprint_holds_every_grid_point_near_its_part(kind, spacing):
    outline = letter(kind, 40)
    maker = FootprintMaker(1.0, spacing)
    (footprint,) = maker.footprints(outline, (0.0,))
    found = cells(footprint.shape.spans)
    solid = Polygon(outline.exterior)
    wide = footprint.shape.columns
    rows = int((footprint.shape.spans[:, 1] + footprint.shape.spans[:, 2]).max())
    columns, rows = np.meshgrid(
        np.arange(-20, wide + 20),
        np.arange(-20, rows + 20),
        indexing="ij",
    )
    points = shapely.points(
        footprint.left_mm + (columns - maker.skirt), footprint.low_mm + (rows - maker.skirt)
    )
    near = shapely.distance(points, solid) <= spacing / 2 + np.sqrt(0.5)
    far = shapely.distance(points, solid) > maker.reach_mm + 0.2
    inside = {(int(c), int(r)) for c, r in zip(columns[near], rows[near], strict=True)}
    outside = {(int(c), int(r)) for c, r in zip(columns[far], rows[far], strict=True)}
    assert inside <= found
    assert not outside & found


def test_turns_that_look_alike_are_tried_once():
    maker = FootprintMaker(0.5, 4.0)
    assert len(maker.footprints(box(0, 0, 30, 10), (0.0, 90.0, 180.0, 270.0))) == 2
    assert len(maker.footprints(letter("L", 30), (0.0, 90.0, 180.0, 270.0))) == 4


def test_pieces_lie_left_first_then_low():
    maker = FootprintMaker(0.5, 4.0)
    pieces = [Piece(n, box(5, 5, 25, 25), (0.0,)) for n in range(5)]
    laid, left_over = fill(pieces, (100.0, 60.0), maker)
    assert not left_over
    # Two high, then on to the right; apart by the spacing and what the grid costs.
    columns = sorted({round(f.x_mm, 6) for f in laid})
    assert len(columns) == 3
    assert all(4.0 + 20 <= b - a <= 4.0 + 20 + 1.5 for a, b in itertools.pairwise(columns))


def test_what_lies_there_is_avoided():
    maker = FootprintMaker(0.5, 4.0)
    there = box(0, 0, 50, 45)
    laid, left_over = fill(
        [Piece(0, box(0, 0, 30, 30), (0.0,))], (100.0, 60.0), maker, taken=[there]
    )
    assert not left_over
    moved = translate(box(0, 0, 30, 30), laid[0].x_mm, laid[0].y_mm)
    assert moved.distance(there) >= 4.0
    assert box(0, 0, 100, 60).covers(moved)


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.lists(
        st.tuples(st.floats(3, 60), st.floats(3, 60), st.floats(0, 1)), min_size=2, max_size=8
    ),
    spacing=st.floats(0, 8),
    cell=st.sampled_from([0.25, 0.5, 1.0, 2.0]),
)
def test_triangles_of_any_size_keep_their_distance(sizes, spacing, cell):
    maker = FootprintMaker(cell, spacing)
    pieces = [
        Piece(n, Polygon([(0, 0), (w, 0), (w * share, h)]), (0.0, 90.0, 180.0, 270.0))
        for n, (w, h, share) in enumerate(sizes)
    ]
    laid, left_over = fill(pieces, (120.0, 80.0), maker)
    assert len(laid) + len(left_over) == len(pieces)
    outlines = []
    for f in laid:
        turned = shapely.affinity.rotate(pieces[f.index].outline, f.turn_deg, origin=(0, 0))
        outlines.append(translate(turned, f.x_mm, f.y_mm))
    usable = box(0, 0, 120, 80).buffer(1e-5)
    for number, one in enumerate(outlines):
        assert usable.covers(one)
        assert all(one.distance(other) >= spacing - 1e-9 for other in outlines[:number])
