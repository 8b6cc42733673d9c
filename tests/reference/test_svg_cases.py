"""Artwork against an independent renderer: every case of `svg_cases`, as resvg draws it.

A pixel counts as painted where resvg covers at least half of it; a pixel's middle is looked up in
our region. Where the two differ, the middle must lie within 0.3 px of our outline.
"""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

from letterply.lettering.artwork.drawing import draw
from letterply.lettering.artwork.parser import read_artwork
from reference.svg_cases import CASES

ZOOM = 3
NEAR_PX = 0.3

# What resvg does otherwise than we do, each with the reason.
DIFFERS = {
    "5.2 inner svg whole": "resvg does not clip an inner svg that gives no size; SVG 2 (8.6, 3.8) "
    "takes both as 100 % and clips",
    "5.2 inner svg flat": "resvg draws an inner svg of width 0; SVG 2 (8.6) draws nothing of it",
    "5.6 use in a circle": "resvg refuses the document; SVG 2 (5.6) leaves out the circle",
}


def rendered(svg: str):
    """Return which pixels resvg paints, (rows, columns) bool, the top row first."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg,
        zoom=ZOOM,
        dpi=96,
        languages=["en"],
        skip_system_fonts=True,
        shape_rendering="geometric_precision",
    )
    alpha = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[:, :, 3]
    return alpha >= 128


def farthest_mismatch(svg: str) -> tuple[float, int]:
    """Return how far the farthest pixel that differs lies from our outline, and the painted."""
    theirs = rendered(svg)
    region = draw(read_artwork("case", svg.encode()), ZOOM, 0.002)
    rows, columns = theirs.shape
    x, y = np.meshgrid(np.arange(columns) + 0.5, -(np.arange(rows) + 0.5))
    shapely.prepare(region)
    ours = shapely.contains_xy(region, x, y)
    differ = ours != theirs
    if not differ.any():
        return 0.0, int(theirs.sum())
    points = shapely.points(x[differ], y[differ])
    if region.is_empty:
        return float("inf"), int(theirs.sum())
    return float(shapely.distance(region.boundary, points).max()), int(theirs.sum())


@pytest.mark.parametrize("case", [c for c in CASES if str(c) not in DIFFERS], ids=str)
def test_a_case_is_filled_as_resvg_paints_it(case):
    far, painted = farthest_mismatch(case.svg)
    assert painted > 0
    assert far <= NEAR_PX


@pytest.mark.parametrize(
    ("name", "kept"),
    [("5.2 inner svg whole", 2210.8), ("5.2 inner svg flat", 63.6), ("5.6 use in a circle", 63.6)],
)
def test_where_resvg_differs_the_recommendation_is_kept(name, kept):
    # A disc of radius 30 with a segment cut off 20 right of it and 10 above; a quarter of one of 9.
    (case,) = [c for c in CASES if str(c) == name]
    region = draw(read_artwork("case", case.svg.encode()), 1.0, 0.002)
    page = shapely.box(0, -100, 100, 0)
    assert shapely.intersection(region, page).area == pytest.approx(kept, rel=1e-3)


def test_there_are_enough_cases_and_few_that_differ():
    names = [str(case) for case in CASES]
    assert len(set(names)) == len(names) >= 120
    assert set(DIFFERS) <= set(names)
    assert len(DIFFERS) <= 0.02 * len(names)
    assert all(re.match(r"\d|clip", case.section) for case in CASES)
