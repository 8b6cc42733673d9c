"""Gouges and swept areas in the plane, against figures worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from letterply.proof.model import ProgramSource, Setup
from letterply.proof.reading.toolpath import Toolpath, lay_out, read_all
from letterply.proof.removal.exact import (
    SWEEP_SAG_MM,
    PlaneGouge,
    _once,
    circle,
    find_plane_gouge,
    quad_segs,
    side_cuts,
    standing_face,
    sweep,
    through_sweeps,
)
from letterply.requests import HoldDown
from letterply.stacks.model import Part
from letterply.stacks.work import Groove, Hole, Pocket
from proof.rack_sign import CUTTERS, MACHINE, THICKNESS

START = "G21 G90 F600\nS18000 M3\nG0 Z5\nG0 X0 Y0\n"


def toolpath(body: str, cutter: str = "flat3", *, sagitta: float = 0.001) -> Toolpath:
    source = ProgramSource("a.nc", (cutter,), START + body + "\nM5\nM30")
    readings = read_all([source], MACHINE)
    assert readings[0].problems == ()
    return lay_out(
        [source],
        readings,
        Setup(cutters=CUTTERS, machine=MACHINE, through_mm=0.2, hold_down=HoldDown.TABS, tabs={}),
        thickness_mm=THICKNESS,
        sagitta_mm=sagitta,
    )


def gouge(toolpath: Toolpath, standing: BaseGeometry) -> PlaneGouge | None:
    return find_plane_gouge(side_cuts(toolpath), standing)


BLOCK = shapely.box(10, 10, 30, 20)


def test_a_path_its_radius_away_gouges_nothing() -> None:
    assert gouge(toolpath("G0 X0 Y8.5\nG1 Z-3\nG1 X40"), BLOCK) is None
    assert gouge(toolpath("G0 X0 Y8.515\nG1 Z-3\nG1 X40"), BLOCK) is None


@pytest.mark.parametrize("inside", [0.03, 0.3, 1.0])
def test_a_path_too_near_gouges_by_the_difference(inside: float) -> None:
    found = gouge(toolpath(f"G0 X0 Y{8.5 + inside}\nG1 Z-3\nG1 X40"), BLOCK)
    assert found is not None
    assert found.depth_mm == pytest.approx(inside, abs=1e-6)
    assert found.area_mm2 == pytest.approx((20 - 0.04) * (inside - 0.02), rel=1e-3)
    assert found.where[1] == pytest.approx(10)


def test_an_axis_inside_gouges_by_its_radius_and_more() -> None:
    found = gouge(toolpath("G0 X20 Y13\nG1 Z-3"), BLOCK)
    assert found is not None
    assert found.depth_mm == pytest.approx(1.5 + 3)
    assert found.area_mm2 == pytest.approx(math.pi * 1.5**2, rel=2e-3)


def test_an_arc_is_judged_by_its_bulge() -> None:
    """Half a turn of radius 5 about (20, 4.5): its top is 0.5 above y = 8.5 + 0.5."""
    found = gouge(toolpath("G0 X15 Y4.5\nG1 Z-3\nG2 X25 Y4.5 I5 J0"), BLOCK)
    assert found is not None
    assert found.depth_mm == pytest.approx(1.0, abs=0.001)
    assert found.where == pytest.approx((20, 10), abs=0.3)


def test_the_point_of_a_drill_counts_from_its_full_width_on() -> None:
    beside = "G0 X20 Y8.7\nG1 Z-{}"
    assert gouge(toolpath(beside.format(0.9), "drill3"), BLOCK) is None
    found = gouge(toolpath(beside.format(2), "drill3"), BLOCK)
    assert found is not None
    assert found.depth_mm == pytest.approx(0.2, abs=1e-6)


def test_skimming_the_face_and_other_cutters_are_left_to_the_field() -> None:
    assert gouge(toolpath("G0 X0 Y15\nG1 Z-0.01\nG1 X40"), BLOCK) is None
    assert gouge(toolpath("G0 X0 Y15\nG1 Z-1\nG1 X40", "v60"), BLOCK) is None


def test_features_are_not_part_of_the_face_that_stands() -> None:
    part = Part(
        name="knot",
        layer="board",
        outline=shapely.box(0, 0, 40, 20),
        holes=(Hole(35, 10, 4, 2.0), Hole(5, 10, 4)),
        pockets=(Pocket(shapely.MultiPolygon([shapely.box(10, 5, 20, 15)]), 2),),
        grooves=(Groove(shapely.MultiPolygon([shapely.box(22, 5, 30, 15)])),),
    )
    area = 800 - 100 - 80 - math.pi * 4
    assert standing_face(part).area == pytest.approx(area, abs=0.05)


@pytest.mark.parametrize("radius", [0.1, 1.5, 3.175, 20])
def test_swept_areas_are_never_too_large_and_little_too_small(radius: float) -> None:
    ring = shapely.Point(0, 0).buffer(radius, quad_segs=quad_segs(radius, SWEEP_SAG_MM))
    corners = np.hypot(*shapely.get_coordinates(ring).T)
    middles = shapely.get_coordinates(ring)
    middles = (middles[1:] + middles[:-1]) / 2
    assert corners.max() <= radius * (1 + 1e-12)
    assert np.hypot(*middles.T).min() >= radius - SWEEP_SAG_MM
    assert circle(3, 4, radius).centroid.coords[0] == pytest.approx((3, 4))


def test_the_sweep_at_a_level_is_what_lies_below_it() -> None:
    body = "G0 X10 Y10\nG1 Z-6.2\nG1 X30\nG1 X40 Z0\nG1 X60\nG1 Z-2\nG1 X90"
    sweeps = through_sweeps(toolpath(body), -THICKNESS)
    # down to the level from -6.2 to 0 over 10 mm: the ramp stays below for 0.2 / 0.62 mm
    exact = 2 * 1.5 * (20 + 0.2 / 0.62) + math.pi * 1.5**2
    area = sweep(sweeps, (0, 0, 100, 100)).area
    assert area == pytest.approx(exact, rel=1e-3)
    assert sweep(sweeps, (80, 0, 100, 100)).is_empty


def test_a_pointed_cutter_sweeps_the_width_that_it_has_at_the_level() -> None:
    """A drill of 118 degrees, its tip 0.5 below: radius 0.5 tan 59 degrees."""
    (one,) = through_sweeps(toolpath("G0 X10 Y10\nG1 Z-6.5", "drill3"), -THICKNESS)
    assert one.radius_mm == pytest.approx(0.5 * math.tan(math.radians(59)), abs=1e-4)


def test_sweeps_grow_with_the_stays() -> None:
    body = "G0 X10 Y10\nG1 Z-7\nG1 X20\nG0 Z5\nG0 X40\nG1 Z-7\nG1 X50\nG0 Z5"
    sweeps = through_sweeps(toolpath(body), -THICKNESS)
    box = (0.0, 0.0, 100.0, 100.0)
    stays = sorted({int(s) for one in sweeps for s in one.stays})
    assert len(stays) == 2
    first = sweep(sweeps, box, last_stay=stays[0])
    both = sweep(sweeps, box, last_stay=stays[1])
    assert both.area == pytest.approx(2 * first.area, rel=1e-6)


def test_a_path_on_itself_is_widened_once_and_sweeps_the_same():
    """Two turns of a helix, then round a square; and a stretch to and fro, three times."""
    turn = shapely.get_coordinates(shapely.Point(0, 0).buffer(2, quad_segs=6).exterior)
    square = np.array([(2, 0), (12, 0), (12, 10), (2, 10), (2, 0)])
    round_ = shapely.LineString(np.vstack((turn, turn[1:], square[1:])))
    way = np.array([(0, 0), (5, 1), (9, 0)])
    to_and_fro = shapely.LineString(np.vstack((way, way[1::-1], way[1:])))
    for path, length in ((round_, len(turn) + len(square) - 2), (to_and_fro, 2)):
        once = _once(path)
        assert shapely.get_num_coordinates(once) == length + 1  # in one go, each side once
        whole = shapely.union_all(
            [
                shapely.LineString(s).buffer(1.5, quad_segs=32)
                for s in zip(*_ends(path), strict=True)
            ]
        )
        assert shapely.symmetric_difference(once.buffer(1.5, quad_segs=32), whole).area < 0.02
    plain = shapely.LineString(way)
    assert _once(plain) is plain


def _ends(path):
    points = shapely.get_coordinates(path)
    return points[:-1], points[1:]
