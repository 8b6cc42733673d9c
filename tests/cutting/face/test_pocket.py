"""Pockets: all that the cutter can reach is cleared, nothing else, by bites of a pass at most."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity, box

from cutting.hand_made import SHAPES, corner_piece, disc, dumbbell, region, ring, wedge
from cutting.measuring import chords, dense, slopes_deg, starts_of, swept
from letterply.cutting.face.beside import PocketCut
from letterply.cutting.face.pocket import STEPOVER, clear_pocket, reached_by
from letterply.cutting.profile.profiles import RAMP_DEG, clearance
from letterply.proof.removal.strokes import Profile
from letterply.proof.removal.swept import blank_field, carve
from letterply.shapes.offsets import leftover
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

DEPTH, PASS = 3.0, 1.2
# Walls are never cut into, and stand off by what lines and arcs may stray, both ways.
OFF = TOLERANCES.arc_fit_mm + clearance(TOLERANCES)

POCKETS = {
    "square": region(SHAPES["square"]),
    "corner": region(corner_piece()),
    "wedge": region(wedge()),
    "ring": region(ring(20, 12)),
    "wide dumbbell": region(dumbbell(5)),
    "narrow dumbbell": region(dumbbell(3)),
    "frame": region(SHAPES["frame"]),
    "two": region(disc(0, 0, 7), affinity.translate(disc(0, 0, 9), 30, 0)),
    "round hole": region(disc(0, 0, 2.5)),
}
RADII = (1.5, 3.0)


def true_opening(pocket, radius):
    """Return what a disc of this radius covers inside the region, much finer than the code's."""
    inner = shapely.buffer(pocket, -radius, quad_segs=128)
    return shapely.buffer(inner, radius, quad_segs=128)


def together(paths, radius):
    return shapely.union_all([swept(p, radius, at_mm=-DEPTH) for p in paths])


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize("name", POCKETS)
def test_all_that_the_cutter_reaches_is_cleared_and_no_pillar_is_left(name, radius):
    paths = clear_pocket(POCKETS[name], PocketCut(radius, DEPTH, PASS, TOLERANCES))
    left = shapely.difference(true_opening(POCKETS[name], radius + OFF), together(paths, radius))
    # Whatever is thicker than what the paths may stray would be a pillar or a missed wall.
    assert shapely.buffer(left, -OFF).area < 1e-3
    assert bool(paths) is not true_opening(POCKETS[name], radius + 0.005).is_empty


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize("name", POCKETS)
def test_nothing_outside_the_pocket_is_cut_at_any_depth(name, radius):
    for path in clear_pocket(POCKETS[name], PocketCut(radius, DEPTH, PASS, TOLERANCES)):
        points, _ = dense(path, 0.3)
        low = points[points[:, 2] < 0]
        room = shapely.buffer(POCKETS[name], -radius, quad_segs=128)
        assert shapely.distance(shapely.points(low[:, :2]), room).max() < 1e-3


@pytest.mark.parametrize("radius", [1.0, 3.0])
@pytest.mark.parametrize("name", POCKETS)
def test_loops_lie_a_stepover_apart_at_most(name, radius):
    """Every place of the cutter's centre is within half a diameter of the path on the floor.

    40 % to 50 % of the diameter for roughing: common practice, no source. Loops lie a stepover
    apart; what the innermost one surrounds and what lies between arcs in corners, no farther.
    """
    assert 0.4 <= STEPOVER <= 0.5
    paths = clear_pocket(POCKETS[name], PocketCut(radius, DEPTH, PASS, TOLERANCES))
    room = shapely.buffer(POCKETS[name], -(radius + OFF), quad_segs=64)
    if room.is_empty:
        return
    covered = together(paths, 0.5 * 2 * radius)
    assert shapely.difference(room, covered).area < 1e-3


@pytest.mark.parametrize("clockwise", [True, False])
@pytest.mark.parametrize("name", ["square", "ring", "wide dumbbell", "frame"])
@pytest.mark.parametrize("pass_depth", [0.5, 1.2, 9.0])
def test_no_bite_is_deeper_than_a_pass_and_plunges_meet_nothing(name, pass_depth, clockwise):
    radius = 1.5875
    pocket = POCKETS[name]
    field = blank_field(pocket.buffer(1).bounds, 0.15)
    for path in clear_pocket(
        pocket, PocketCut(radius, DEPTH, pass_depth, TOLERANCES, conventional=clockwise)
    ):
        bites = carve(field, chords(path, 0.2), Profile(0, radius), graze_mm=0.1).most
        pieces = chords(path, 0.2)
        down = path.plunging[pieces.moves]
        assert bites.max() <= min(pass_depth, DEPTH) + 1e-5
        # A plunge only goes back to the floor of the pass before.
        assert bites[down].max(initial=0.0) < 1e-5
        slopes = slopes_deg(path)
        assert slopes[~path.plunging].max() <= RAMP_DEG + 1e-6
    inside = shapely.contains_xy(
        true_opening(pocket, radius + OFF).buffer(-0.1), *np.meshgrid(*field.centres)
    )
    assert field.z[inside] == pytest.approx(-DEPTH, abs=1e-6)


@pytest.mark.parametrize("name", ["square", "ring"])
def test_ways_over_the_stock_are_above_it(name):
    """A move that goes straight across without cutting is either on a floor or lifted."""
    for path in clear_pocket(POCKETS[name], PocketCut(1.5875, DEPTH, PASS, TOLERANCES)):
        start = starts_of(path)
        high = (start[:, 2] > 1e-9) & (path.ends[:, 2] > 1e-9)
        assert (path.ends[high, 2] == 5.0).all()


@pytest.mark.parametrize("conventional", [True, False])
def test_the_last_loop_along_the_wall_turns_the_way_it_is_told(conventional):
    """Conventional: clockwise in a pocket with a clockwise spindle, climb: the other way."""
    (path,) = clear_pocket(
        POCKETS["square"], PocketCut(1.5, DEPTH, 9.0, TOLERANCES, conventional, arcs=False)
    )
    last = path.ends[-6:, :2]
    wall = 1.5 + clearance(TOLERANCES)
    along = shapely.distance(shapely.points(last[1:]), POCKETS["square"].boundary)
    assert along == pytest.approx(wall, abs=1e-3)
    x, y = (last - [20, 20]).T
    turn = float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
    assert (turn < 0) is conventional


def test_a_pocket_narrower_than_the_cutter_needs_no_path():
    assert clear_pocket(region(box(0, 0, 40, 2.9)), PocketCut(1.5, DEPTH, PASS, TOLERANCES)) == []


def test_each_piece_that_the_cutter_can_get_into_has_a_path():
    assert len(clear_pocket(POCKETS["two"], PocketCut(1.5, DEPTH, PASS, TOLERANCES))) == 2
    assert (
        len(clear_pocket(POCKETS["narrow dumbbell"], PocketCut(2.0, DEPTH, PASS, TOLERANCES))) == 2
    )
    assert len(clear_pocket(POCKETS["wide dumbbell"], PocketCut(2.0, DEPTH, PASS, TOLERANCES))) == 1


@pytest.mark.parametrize("name", ["square", "corner", "wedge", "narrow dumbbell", "frame"])
def test_a_smaller_cutter_clears_what_is_left_and_stays_near_it(name):
    """First 6 mm, then 2 mm: together all that 2 mm reaches, and no way far from the rest."""
    pocket = POCKETS[name]
    large, small = 3.0, 1.0
    first = clear_pocket(pocket, PocketCut(large, DEPTH, PASS, TOLERANCES))
    rest = leftover(pocket, large + clearance(TOLERANCES), TOLERANCES.offset_mm)
    second = clear_pocket(rest, PocketCut(small, DEPTH, PASS, TOLERANCES), within=pocket)
    done = shapely.union(together(first, large), together(second, small))
    left = shapely.difference(true_opening(pocket, small + OFF), done)
    assert shapely.buffer(left, -OFF).area < 1e-3
    for path in second:
        points, _ = dense(path)
        low = shapely.points(points[points[:, 2] < -1e-6][:, :2])
        away = shapely.distance(rest, low) > small + 0.35
        assert away.mean() < 0.02


def test_nothing_left_needs_no_second_cutter():
    slot = region(disc(0, 0, 8))
    rest = leftover(slot, 3.0 + clearance(TOLERANCES), TOLERANCES.offset_mm)
    assert rest.is_empty
    assert clear_pocket(rest, PocketCut(1.0, DEPTH, PASS, TOLERANCES), within=slot) == []


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize("name", POCKETS)
def test_reach_is_what_a_disc_covers_less_the_tolerance_at_the_walls(name, radius):
    reached = reached_by(POCKETS[name], radius, TOLERANCES)
    true = true_opening(POCKETS[name], radius)
    assert shapely.difference(reached, true.buffer(0.002)).area < 1e-6
    less = true_opening(POCKETS[name], radius + clearance(TOLERANCES) + TOLERANCES.offset_mm)
    assert shapely.difference(less, reached.buffer(TOLERANCES.offset_mm)).area < 1e-6


def test_the_same_pocket_gives_the_same_path():
    one, two = (
        clear_pocket(POCKETS["frame"], PocketCut(1.5, DEPTH, PASS, TOLERANCES)) for _ in range(2)
    )
    assert [p.ends.tobytes() for p in one] == [p.ends.tobytes() for p in two]


@pytest.mark.parametrize("turn", [7.0, 26.565, 45.0])
def test_a_turned_pocket_is_cleared_by_the_same_way_turned(turn):
    """No hair of a corner stays beside a rounded loop, to be gone round once more."""
    cut = PocketCut(3.0, 1.0, 1.2, TOLERANCES)
    straight, turned = (
        clear_pocket(region(affinity.rotate(box(0, 0, 90, 67), angle)), cut) for angle in (0, turn)
    )
    assert len(straight) == len(turned) == 1
    assert turned[0].length_mm == pytest.approx(straight[0].length_mm, rel=0.01)
