"""Masks and distances against shapely, which measures each point by itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from letterply.proof.removal.raster import (
    bucketed,
    distances,
    edges_of,
    fill,
    sides_near,
    window_of,
)
from letterply.proof.removal.swept import blank_field

CAST = {
    "square on the grid": shapely.box(2, 2, 6, 6),
    "ring": shapely.Point(5, 5).buffer(4).difference(shapely.Point(5, 5).buffer(2.5)),
    "two pieces": shapely.MultiPolygon([shapely.box(1, 1, 3, 3), shapely.box(3.2, 1, 5, 9)]),
    "sliver": shapely.Polygon([(1, 1), (9, 1.3), (9, 1.35)]),
    "star": shapely.Polygon([(1, 1), (5, 4), (9, 1), (6, 5), (9, 9), (5, 6), (1, 9), (4, 5)]),
    "beyond the field": shapely.box(-5, -5, 4, 30),
    "hole that touches": shapely.box(1, 1, 9, 9).difference(shapely.box(3, 1, 5, 5)),
}


@pytest.mark.parametrize("name", CAST)
@pytest.mark.parametrize("cell", [0.1, 0.13])
def test_a_cell_is_filled_when_its_centre_is_inside(name: str, cell: float) -> None:
    region = CAST[name]
    field = blank_field((0, 0, 10, 10), cell)
    window = window_of(field, region.bounds)
    mask = fill(window, region)
    x, y = centres(window.left, window.low, cell, mask.shape)
    inside = shapely.contains_xy(region, x, y)
    on_edge = shapely.distance(region.boundary, shapely.points(x, y)) < 1e-9
    assert ((mask == inside) | on_edge).all()


@pytest.mark.parametrize("name", CAST)
@pytest.mark.parametrize("cap", [math.inf, 0.5])
def test_distances_are_exact_up_to_the_cap(name: str, cap: float) -> None:
    region = CAST[name]
    field = blank_field((0, 0, 10, 10), 0.1)
    window = window_of(field, region.bounds)
    mask = fill(window, region)
    found = distances(window, mask, edges_of(region), cap_mm=cap)
    x, y = centres(window.left, window.low, 0.1, mask.shape)
    exact = np.minimum(shapely.distance(region.boundary, shapely.points(x, y)), cap)
    assert np.abs(found - exact)[mask].max() < 1e-6
    assert (found[~mask] == 0).all()


def centres(
    left: float, low: float, cell: float, shape: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.meshgrid(
        left + (np.arange(shape[1]) + 0.5) * cell, low + (np.arange(shape[0]) + 0.5) * cell
    )
    return x, y


def test_distance_to_lines_is_measured_from_outside_too() -> None:
    line: BaseGeometry = shapely.LineString([(1, 1), (8, 1), (8, 9)])
    field = blank_field((0, 0, 10, 10), 0.2)
    window = window_of(field, field.bounds)
    found = distances(window, np.ones(window.shape, dtype=bool), edges_of(line), cap_mm=100)
    x, y = centres(0, 0, 0.2, window.shape)
    assert np.abs(found - shapely.distance(line, shapely.points(x, y))).max() < 1e-6


def test_without_edges_the_cap_is_the_distance() -> None:
    field = blank_field((0, 0, 1, 1), 0.5)
    window = window_of(field, field.bounds)
    mask = np.array([[True, False], [False, True]])
    found = distances(window, mask, np.zeros((0, 4)), cap_mm=3)
    assert found.tolist() == [[3, 0], [0, 3]]


def test_a_window_off_the_field_is_empty() -> None:
    field = blank_field((0, 0, 10, 10), 0.1)
    window = window_of(field, (20, 20, 30, 30))
    assert 0 in window.shape
    assert fill(window, shapely.box(20, 20, 30, 30)).size == 0


def test_the_area_of_a_disc_is_its_cells() -> None:
    field = blank_field((0, 0, 60, 60), 0.05)
    disc = shapely.Point(30, 30).buffer(25, quad_segs=400)
    mask = fill(window_of(field, disc.bounds), disc)
    assert mask.sum() * 0.05**2 == pytest.approx(math.pi * 625, rel=1e-4)


@pytest.mark.parametrize("limit", [0.05, 0.7, 3.0])
def test_paths_that_come_near_an_outline_are_found_however_they_lie(limit: float) -> None:
    rng = np.random.default_rng(int(limit * 100))
    region = shapely.Point(0, 0).buffer(8).difference(shapely.box(-1, -2, 9, 1))
    starts = rng.uniform(-14, 14, (400, 2))
    ends = starts + rng.normal(0, 1, (400, 2)) * rng.choice((0.0, 0.1, 5.0), (400, 1))
    lines = shapely.linestrings(np.stack((starts, ends), axis=1))
    near = sides_near(starts, ends, bucketed(edges_of(region)), limit)
    away = shapely.distance(shapely.boundary(region), lines)
    sure = np.abs(away - limit) > 1e-9
    np.testing.assert_array_equal(near[sure], (away <= limit)[sure])
