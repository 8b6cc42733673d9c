"""Grooves: the carved surface, simulated from the paths, against the surface of plane geometry.

A V-bit of included angle a and tip width t, led so that its walls touch the outline, leaves
z = -d / tan(a/2) at a distance d from the outline, flat where d exceeds r - t/2 (r the radius of
the inscribed disc), and nowhere below a depth limit.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from cutting.hand_made import disc, region, ring
from cutting.measuring import chords, starts_of
from letterply.catalogue.model import Cutter, CutterKind
from letterply.cutting.face.beside import PocketCut
from letterply.cutting.face.groove import carve_groove, floor_region, widest_radius
from letterply.cutting.face.pocket import clear_pocket
from letterply.proof.removal.strokes import Profile, profile_of
from letterply.proof.removal.swept import blank_field, carve
from letterply.shapes.offsets import leftover
from letterply.shapes.regions import EMPTY
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

CELL = 0.05
WIDE, HIGH = 12.0, 5.0
DISC, OUTER, INNER = 3.0, 6.0, 3.5
SHAPES = {
    "rectangle": region(box(0, 0, WIDE, HIGH)),
    "disc": region(disc(0, 0, DISC)),
    "ring": region(ring(OUTER, INNER)),
}


def bit(angle, tip, diameter=20.0):
    return Cutter("v", "V-bit", CutterKind.VBIT, diameter, 2, 20.0, angle, tip)


def widest_distance(name, x, y, tip):
    """Return the largest distance from the outline within half the tip's width of a point.

    Negative outside. The centre of the tip stands there when the bit cuts the point deepest.
    """
    rho, t = np.hypot(x, y), tip / 2
    if name == "disc":
        return DISC - np.maximum(rho - t, 0)
    if name == "ring":
        return np.minimum(np.minimum(OUTER - rho, rho - INNER) + t, (OUTER - INNER) / 2)
    best = np.full(x.shape, -np.inf)
    for angle in np.linspace(0, 2 * math.pi, 128, endpoint=False):
        for share in (0.0, 0.5, 1.0):
            a, b = x + share * t * math.cos(angle), y + share * t * math.sin(angle)
            best = np.maximum(best, np.minimum(np.minimum(a, WIDE - a), np.minimum(b, HIGH - b)))
            if not t:
                return best
    return best


def surface(name, field, cutter, limit=math.inf):
    x, y = np.meshgrid(*field.centres)
    reach = widest_distance(name, x, y, cutter.tip_diameter_mm) - cutter.tip_diameter_mm / 2
    return -np.minimum(np.maximum(reach, 0) / cutter.half_angle_tan, limit)


def carved(name, paths, cutter):
    field = blank_field(SHAPES[name].buffer(1).bounds, CELL)
    bites = [carve(field, chords(p, 1e9), profile_of(cutter)).most.max() for p in paths]
    return field, max(bites)


BITS = [(60, 0.0), (90, 0.1), (30, 0.1), (120, 0.3)]


@pytest.mark.parametrize(("angle", "tip"), BITS)
@pytest.mark.parametrize("name", SHAPES)
def test_walls_meet_where_plane_geometry_says(name, angle, tip):
    cutter = bit(angle, tip)
    cut = carve_groove(SHAPES[name], cutter, 1.5, TOLERANCES)
    field, bite = carved(name, cut.paths, cutter)
    error = field.z - surface(name, field, cutter)
    # Outlines of discs are chords within 0.001 mm: that much over tan(a/2) either way, and the
    # tolerance of the path on one side, the cells' middles on the other.
    assert error.min() >= -(TOLERANCES.depth_mm + 0.001 / cutter.half_angle_tan)
    assert error.max() <= 0.001 + 0.001 / cutter.half_angle_tan
    wide = {"rectangle": HIGH / 2, "disc": DISC, "ring": (OUTER - INNER) / 2}[name]
    deepest = (wide - tip / 2) / math.tan(math.radians(angle / 2))
    assert cut.depth_mm == pytest.approx(deepest, abs=0.002 / cutter.half_angle_tan)
    assert bite <= 1.5 + 1e-5


ANGULAR = {
    # Vertices that face a wall or each other: the radius along the axis is a parabola or hyperbola.
    "vertex and wall": Polygon([(0, 0), (14, 0), (14, 7), (8, 7), (7, 2.5), (6, 7), (0, 7)]),
    "two vertices": Polygon(
        [(0, 0), (6, 0), (7, 2.6), (8, 0), (14, 0), (14, 7), (8, 7), (7, 4.4), (6, 7), (0, 7)]
    ),
}


@pytest.mark.parametrize("angle", [30, 60, 90])
@pytest.mark.parametrize("name", ANGULAR)
def test_between_sharp_vertices_the_depth_follows_their_curved_axis(name, angle):
    """A chord of the depth would be too deep there: it may be by the tolerance, and is no more."""
    shape, cutter = ANGULAR[name], bit(angle, 0.0)
    cut = carve_groove(region(shape), cutter, 99.0, TOLERANCES)
    field = blank_field(shape.bounds, CELL)
    for path in cut.paths:
        carve(field, chords(path, 1e9), profile_of(cutter))
    x, y = np.meshgrid(*field.centres)
    distance = shapely.distance(shapely.points(x, y), shape.boundary)
    wanted = np.where(shapely.contains_xy(shape, x, y), -distance / cutter.half_angle_tan, 0.0)
    error = field.z - wanted
    assert error.min() >= -TOLERANCES.depth_mm
    assert error.max() <= 1e-4


def levelled(name, cutter, limit):
    """Return how far off the surface is when the bit alone levels the floor: low and high."""
    floor = floor_region(SHAPES[name], cutter, limit, TOLERANCES)
    cut = carve_groove(SHAPES[name], cutter, 1.5, TOLERANCES, max_depth_mm=limit, floor_rest=floor)
    field, _ = carved(name, cut.paths, cutter)
    assert cut.depth_mm == limit
    assert field.z.min() >= -limit - 1e-6
    error = field.z - surface(name, field, cutter, limit)
    return float(error.min()), float(error.max())


@pytest.mark.parametrize(
    ("name", "angle", "tip"),
    [
        ("rectangle", 60, 0.0),
        ("rectangle", 90, 0.1),
        ("disc", 60, 0.0),
        ("disc", 30, 0.1),
        ("ring", 90, 0.1),
    ],
)
def test_a_bit_alone_levels_a_limited_groove(name, angle, tip):
    """Ridges between lines s apart are (s - t) / (2 tan(a/2)) high.

    Lines are to lie 0.02 mm of ridge apart; in the middle of nested loops up to twice as far.
    """
    cutter = bit(angle, tip)
    low, high = levelled(name, cutter, 1.0)
    assert low >= -(TOLERANCES.depth_mm + 0.001 / cutter.half_angle_tan)
    step = tip + 2 * 0.02 * cutter.half_angle_tan
    assert high <= (2 * step - tip) / (2 * cutter.half_angle_tan) + TOLERANCES.depth_mm


@pytest.mark.parametrize(("angle", "tip"), [(30, 0.1), (60, 0.0), (90, 0.1)])
def test_ridges_on_a_levelled_floor_are_not_seen(angle, tip):
    cutter = bit(angle, tip)
    assert max(levelled(name, cutter, 1.0)[1] for name in SHAPES) <= 0.02 + TOLERANCES.depth_mm


def test_lines_on_a_floor_are_as_short_to_write_inside_as_at_its_edge():
    """Round corners that stand into the floor, loops grow with their distance, their points not."""
    room = region(box(0, 0, 12, 12).difference(box(4, 4, 8, 8)))
    paths = carve_groove(room, bit(60, 0.1), 1.5, TOLERANCES, max_depth_mm=0.5, floor_rest=room)
    ways = [path.ends[:, :2] for path in paths.paths]
    steps = np.concatenate([np.hypot(*np.diff(way, axis=0).T) for way in ways])
    assert steps.sum() > 1500
    assert len(steps) < 5000


@pytest.mark.parametrize(("angle", "tip"), [(60, 0.0), (90, 0.1), (30, 0.1)])
@pytest.mark.parametrize("name", SHAPES)
def test_an_end_mill_and_the_bit_share_a_limited_groove(name, angle, tip):
    """The mill clears the floor first; the bit carves the walls and what the mill leaves."""
    cutter, limit, radius = bit(angle, tip), 0.8, 0.4
    floor = floor_region(SHAPES[name], cutter, limit, TOLERANCES)
    field = blank_field(SHAPES[name].buffer(1).bounds, CELL)
    for path in clear_pocket(floor, PocketCut(radius, limit, 1.0, TOLERANCES)):
        carve(field, chords(path, 0.2), Profile(0, radius))
    milled = field.z < 0
    rest = leftover(floor, radius + TOLERANCES.offset_mm, TOLERANCES.offset_mm)
    cut = carve_groove(SHAPES[name], cutter, 1.5, TOLERANCES, max_depth_mm=limit, floor_rest=rest)
    for path in cut.paths:
        carve(field, chords(path, 1e9), profile_of(cutter))
    assert milled.any()
    error = field.z - surface(name, field, cutter, limit)
    assert np.abs(error).max() <= 0.03


@pytest.mark.parametrize("tip", [0.0, 0.2])
def test_the_tip_comes_up_to_the_face_in_sharp_corners(tip):
    """A sharp one at the corner itself; a flat of 0.2 where the inscribed disc is as wide."""
    cut = carve_groove(SHAPES["rectangle"], bit(60, tip), 9.0, TOLERANCES)
    points = np.vstack([p.ends for p in cut.paths])
    up = points[np.abs(points[:, 2]) < 1e-9, :2]
    inset = tip / 2
    for x in (inset, WIDE - inset):
        for y in (inset, HIGH - inset):
            assert np.hypot(*(up - [x, y]).T).min() < 1e-4
    # Nowhere else: every other point of the axis lies below the face.
    corners = np.array([(x, y) for x in (0, WIDE) for y in (0, HIGH)])
    away = np.hypot(*(up[:, None] - corners[None]).T).min(axis=0)
    assert away.max() <= inset * math.sqrt(2) + 1e-4


@pytest.mark.parametrize("pass_depth", [0.5, 1.0, 2.0, 9.0])
def test_each_pass_bites_no_deeper_than_allowed_and_all_carve_as_one(pass_depth):
    cutter = bit(60, 0.1)
    shape = region(Polygon([(0, 0), (14, 0), (9, 6), (4, 7)]))
    one = carve_groove(shape, cutter, 99.0, TOLERANCES)
    cut = carve_groove(shape, cutter, pass_depth, TOLERANCES)
    fields = []
    for paths in (one.paths, cut.paths):
        field = blank_field(shape.bounds, CELL)
        bites = [carve(field, chords(p, 1e9), profile_of(cutter)).most.max() for p in paths]
        fields.append(field.z)
    assert max(bites) <= pass_depth + 1e-5
    assert fields[0] == pytest.approx(fields[1], abs=1e-5)
    assert cut.depth_mm == one.depth_mm


def test_every_chain_starts_with_a_plunge_over_its_first_point():
    for path in carve_groove(SHAPES["ring"], bit(90, 0.1), 1.0, TOLERANCES).paths:
        assert path.plunging[0]
        assert not path.plunging[1:].any()
        assert path.start[:2].tolist() == path.ends[0, :2].tolist()
        assert path.start[2] == 0
        assert (path.ends[:, 2] <= 1e-12).all()
        assert (np.any(path.ends != starts_of(path), axis=1)[1:]).all()


def test_a_limit_deeper_than_the_walls_meet_changes_nothing():
    cutter = bit(90, 0.0)
    free = carve_groove(SHAPES["rectangle"], cutter, 9.0, TOLERANCES)
    limited = carve_groove(SHAPES["rectangle"], cutter, 9.0, TOLERANCES, max_depth_mm=5.0)
    assert [p.ends.tobytes() for p in free.paths] == [p.ends.tobytes() for p in limited.paths]
    assert floor_region(SHAPES["rectangle"], cutter, 5.0, TOLERANCES).is_empty


def test_the_floor_of_a_limit_is_the_outline_moved_in():
    """60 degrees, 2 mm deep: half width at the cap 2 tan 30 = 1.154701 mm."""
    floor = floor_region(SHAPES["rectangle"], bit(60, 0.0), 2.0, TOLERANCES)
    inset = 1.154701
    want = box(inset, inset, WIDE - inset, HIGH - inset)
    assert shapely.symmetric_difference(floor, want).area < 1e-4


def test_nothing_to_carve_is_no_path():
    cut = carve_groove(EMPTY, bit(60, 0.1), 1.0, TOLERANCES)
    assert cut.paths == ()
    assert cut.depth_mm == 0


def test_a_region_narrower_than_the_tip_is_not_touched():
    cut = carve_groove(region(box(0, 0, 10, 0.15)), bit(60, 0.2), 1.0, TOLERANCES)
    assert cut.paths == ()


@pytest.mark.parametrize(("name", "radius"), [("rectangle", 2.5), ("disc", 3.0), ("ring", 1.25)])
def test_widest_radius_is_that_of_the_largest_disc(name, radius):
    assert widest_radius(SHAPES[name]) == pytest.approx(radius, abs=2e-3)


def test_widest_radius_of_nothing():
    assert widest_radius(EMPTY) == 0


@pytest.mark.parametrize("limit", [None, 1.0])
def test_a_groove_in_a_floor_is_the_same_groove_lower(limit):
    """Its walls start at the floor: every path lies deeper by as much."""
    shape = region(box(0, 0, 30, 6))
    plain = carve_groove(shape, bit(60, 0.0), 3.0, TOLERANCES, max_depth_mm=limit)
    low = carve_groove(shape, bit(60, 0.0), 3.0, TOLERANCES, max_depth_mm=limit, start_mm=2.5)
    assert low.depth_mm == pytest.approx(plain.depth_mm + 2.5)
    for a, b in zip(plain.paths, low.paths, strict=True):
        assert b.ends[:, 2] == pytest.approx(a.ends[:, 2] - 2.5)
        assert b.ends[:, :2].tolist() == a.ends[:, :2].tolist()
        assert b.start[2] == 0


def test_a_last_pass_takes_a_thin_layer_off_the_whole_groove():
    """Passes before it stay 0.2 mm higher everywhere; then each line is followed in one go."""
    shape = region(box(0, 0, 30, 6))
    once = carve_groove(shape, bit(60, 0.0), 10.0, TOLERANCES)
    twice = carve_groove(shape, bit(60, 0.0), 2.0, TOLERANCES, last_mm=0.2)
    last = twice.paths[-len(once.paths) :]
    for a, b in zip(once.paths, last, strict=True):
        assert b.ends.tolist() == a.ends.tolist()
    rough = [p.ends[:, 2].min() for p in twice.paths[: -len(once.paths)]]
    assert min(rough) == pytest.approx(-once.depth_mm + 0.2)
    assert twice.depth_mm == once.depth_mm


@pytest.mark.parametrize("radius", [0.5, 1.0, 3.0])
def test_a_round_end_is_carved_in_one_line_whatever_its_radius(radius):
    """A stroke with round ends: its spine, and nothing from the vertices of its ends."""
    stroke = region(LineString([(0, 0), (12, 0)]).buffer(radius, quad_segs=24))
    cut = carve_groove(stroke, bit(60, 0.0), 20.0, TOLERANCES)
    assert len(cut.paths) <= 3
    assert cut.depth_mm == pytest.approx(radius / math.tan(math.radians(30)), abs=0.01)
