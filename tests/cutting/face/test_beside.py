"""What a larger cutter left of a pocket: entered through air, from the side, in whole passes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import box

from cutting.hand_made import SHAPES, dumbbell, region, wedge
from cutting.measuring import chords, dense
from letterply.cutting.face.beside import PocketCut
from letterply.cutting.face.pocket import clear_pocket
from letterply.cutting.profile.profiles import clearance
from letterply.cutting.toolpath import Rate
from letterply.proof.removal.strokes import Profile
from letterply.proof.removal.swept import blank_field, carve
from letterply.shapes.offsets import leftover
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

DEPTH, PASS, LARGE, SMALL = 3.0, 1.2, 3.0, 1.0
POCKETS = {
    "square": region(SHAPES["square"]),
    "wedge": region(wedge()),
    "narrow dumbbell": region(dumbbell(5)),
    "comb": region(shapely.union_all([box(0, 0, 60, 9), *(
        box(x, 8, x + 2.6, 20) for x in range(5, 55, 7))])),
}  # fmt: skip


def rest_of(pocket):
    return leftover(pocket, LARGE + clearance(TOLERANCES), TOLERANCES.offset_mm)


def small_cut(pass_depth=PASS, way_of_lift=20.0):
    return PocketCut(SMALL, DEPTH, pass_depth, TOLERANCES, way_of_lift_mm=way_of_lift)


@pytest.mark.parametrize("pass_depth", [0.8, 9.0])
@pytest.mark.parametrize("name", POCKETS)
def test_it_goes_down_through_air_and_no_bite_is_deeper_than_a_pass(name, pass_depth):
    """The large cutter first, on a raster; then what the small one meets, move by move."""
    pocket = POCKETS[name]
    field = blank_field(pocket.buffer(1).bounds, 0.1)
    for path in clear_pocket(pocket, PocketCut(LARGE, DEPTH, PASS, TOLERANCES)):
        carve(field, chords(path, 0.2), Profile(0, LARGE), graze_mm=0.1)
    paths = clear_pocket(rest_of(pocket), small_cut(pass_depth), within=pocket)
    assert paths
    for path in paths:
        pieces = chords(path, 0.1)
        bites = carve(field, pieces, Profile(0, SMALL), graze_mm=0.05).most
        assert bites.max() <= min(pass_depth, DEPTH) + 1e-5
        sinking = (path.rates == Rate.SINK)[pieces.moves]
        assert bites[sinking].max(initial=0.0) < 1e-5
        assert not (path.rates == Rate.PLUNGE).any()


@pytest.mark.parametrize("name", ["square", "wedge", "comb"])
def test_it_is_gone_along_once_a_pass_and_not_to_and_fro_until_it_is_down(name):
    """The way along at the depth of each pass is as long as at that of the last, all level."""
    for path in clear_pocket(
        rest_of(POCKETS[name]), small_cut(way_of_lift=0.0), within=POCKETS[name]
    ):
        points, move = dense(path)
        level = np.abs(np.diff(points[:, 2])) < 1e-9
        step = np.hypot(*np.diff(points[:, :2], axis=0).T)
        depths, lengths = np.unique(np.round(points[1:, 2], 6)), []
        for depth in depths[depths < 0]:
            at = level & (np.abs(points[1:, 2] - depth) < 1e-6) & (np.diff(move) == 0)
            lengths.append(step[at].sum())
        lengths = [x for x in lengths if x > 1e-6]
        assert len(lengths) == 3
        assert max(lengths) == pytest.approx(min(lengths), rel=1e-3)


def test_it_stays_down_where_the_way_is_shorter_than_a_lift():
    """Loops side by side in a corner are one path, but where a lift takes no time."""
    pocket, cut = POCKETS["square"], replace(small_cut(), radius_mm=0.5)
    lifted, linked, far = (
        clear_pocket(rest_of(pocket), replace(cut, way_of_lift_mm=way), within=pocket)
        for way in (0.0, 9.0, 90.0)
    )
    assert len(lifted) > 4
    assert len(linked) == 4
    assert len(far) == 1


@pytest.mark.parametrize("name", POCKETS)
def test_on_its_way_to_the_next_stretch_it_touches_neither_walls_nor_what_is_left(name):
    """A way between stretches keeps the middle of the cutter inside its room."""
    pocket = POCKETS[name]
    room = shapely.buffer(pocket, -(SMALL + clearance(TOLERANCES)) + 3 * TOLERANCES.arc_fit_mm)
    paths = clear_pocket(rest_of(pocket), small_cut(way_of_lift=60.0), within=pocket)
    for path in paths:
        points, _ = dense(path)
        assert shapely.contains_xy(room, points[:, 0], points[:, 1]).all()
