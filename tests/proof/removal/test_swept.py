"""Removed material against analytic sections, exact areas and a plain simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from letterply.catalogue.model import Cutter, CutterKind
from letterply.proof.model import HeightField
from letterply.proof.reading.interpreter import read_program
from letterply.proof.reading.moves import Segments, segments_of
from letterply.proof.removal.strokes import Profile, profile_of
from letterply.proof.removal.swept import CHORD_SHARE, blank_field, carve

FLAT = Profile(0, 1.5)
BALL = Profile(1, 1.5)
V60 = Profile(2, 3.0, 0.0, math.sqrt(3))
V90_TIP = Profile(2, 3.0, 0.1, 1.0)
DRILL = Profile(2, 1.5, 0.0, 1 / math.tan(math.radians(59)))


def path(*points: tuple[float, float, float]) -> Segments:
    p = np.array(points, dtype=float)
    return Segments(p[:-1].copy(), p[1:].copy(), np.arange(len(p) - 1))


def section(field: HeightField, y: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return x and height of the row of cells at y."""
    xs, ys = field.centres
    row = int(np.argmin(np.abs(ys - y)))
    return xs, field.z[row].astype(float)


def test_profiles_follow_the_cutters() -> None:
    v = Cutter("v", "v", CutterKind.VBIT, 12.7, 2, 6.3, 90.0, 0.1)
    assert profile_of(v).radius_at(1.0) == pytest.approx(1.05)
    assert profile_of(v).radius_at(20) == 6.35
    drill = Cutter("d", "d", CutterKind.DRILL, 3.0, 2, 30.0, 118.0)
    # machining formula d / (2 tan(q / 2)) for the tip of a drill: 0.901291 at 3 mm, 118 degrees
    assert profile_of(drill).tip_length_mm == pytest.approx(0.901291, abs=1e-6)
    ball = profile_of(Cutter("b", "b", CutterKind.BALL, 6.0, 2, 12.0))
    assert ball.radius_at(3) == ball.radius_at(9) == 3
    assert ball.radius_at(0.6) == pytest.approx(math.sqrt(9 - 2.4**2))
    assert profile_of(Cutter("s", "s", CutterKind.BEAM, 0.2, 0, 9.0)).radius_at(0) == 0.1


@pytest.mark.parametrize(
    ("angle", "width", "tip", "depth"),
    [(60, 6, 0, 5.196152), (60, 3, 0.2, 2.424871), (90, 6, 0, 3.0), (90, 6, 0.2, 2.9),
     (90, 1.5, 0.1, 0.7), (120, 6, 0, 1.732051), (30, 1, 0.1, 1.679423)],
)  # fmt: skip
def test_a_v_groove_has_the_section_of_plane_geometry(
    angle: float, width: float, tip: float, depth: float
) -> None:
    """Depth (w - t) / (2 tan(a / 2)): plane geometry, the figures worked out to 1e-6."""
    rise = 1 / math.tan(math.radians(angle / 2))
    field = blank_field((0, 0, 10, 4), 0.05)
    carve(field, path((5, -9, -depth), (5, 9, -depth)), Profile(2, 10, tip / 2, rise))
    xs, z = section(field, 2)
    away = np.abs(xs - 5)
    wanted = np.minimum(0, -depth + np.maximum(0, away - tip / 2) * rise)
    assert np.abs(z - wanted).max() < 2e-6
    assert z.min() == pytest.approx(-depth, abs=0.03 * rise)


@pytest.mark.parametrize(
    ("radius", "step", "scallop"),
    [(3, 0.5, 0.010435), (3, 0.3, 0.003752), (1.5, 0.2, 0.003337), (3.175, 0.635, 0.015915)],
)
def test_a_ball_leaves_the_scallop_of_plane_geometry(
    radius: float, step: float, scallop: float
) -> None:
    """Scallop R - sqrt(R^2 - (s / 2)^2): plane geometry."""
    cell = step / 200
    # Half a cell off, so that there is a centre on every ridge.
    field = blank_field((-cell / 2, 0, 3 * step, 0.02), cell)
    for row in range(-6, 10):
        carve(field, path((row * step, -1, -1), (row * step, 1, -1)), Profile(1, radius))
    _, z = section(field, 0.01)
    assert z.max() + 1 == pytest.approx(scallop, abs=2e-5)
    assert z.min() == pytest.approx(-1, abs=1e-5)


def test_a_slot_of_a_flat_cutter_has_vertical_walls() -> None:
    field = blank_field((0, 0, 10, 4), 0.05)
    bites = carve(field, path((2, 2, 1), (2, 2, -1.5), (8, 2, -1.5)), FLAT).most
    _, ys = field.centres
    assert np.unique(field.z).tolist() == [-1.5, 0]
    column = field.z[:, 100]
    assert ((column < 0) == (np.abs(ys - 2) < 1.5)).all()
    assert bites == pytest.approx([1.5, 1.5])


@pytest.mark.parametrize("profile", [FLAT, BALL, V60, V90_TIP, DRILL])
def test_random_ramps_agree_with_a_plain_simulation(profile: Profile) -> None:
    """Stamping the cutter at 1501 places is never deeper, and less deep by its own step alone."""
    rng = np.random.default_rng(7)
    for case in range(8):
        a = np.append(rng.uniform(1, 5, 2), rng.uniform(-2, 0.5))
        b = np.append(rng.uniform(1, 5, 2), rng.uniform(-2, 0.5))
        if case == 0:
            b[:2] = a[:2]
        if case == 1:
            b[2] = a[2]
        field = blank_field((0, 0, 6, 6), 0.1)
        carve(field, Segments(a[None], b[None], np.zeros(1, dtype=int)), profile)
        xs, ys = field.centres
        plain = np.zeros(field.z.shape)
        for share in np.linspace(0, 1, 1501):
            x, y, z = a + share * (b - a)
            rho = np.hypot(xs[None, :] - x, ys[:, None] - y)
            plain = np.minimum(plain, z + height_above_tip(profile, rho))
        assert (plain - field.z).min() > -1e-6
        assert (plain - field.z).max() < 0.005


def height_above_tip(profile: Profile, rho: NDArray[np.float64]) -> NDArray[np.float64]:
    inside = rho <= profile.radius_mm
    if profile.shape == 0:
        shape = np.zeros_like(rho)
    elif profile.shape == 1:
        r = profile.radius_mm
        shape = r - np.sqrt(np.maximum(0, r * r - rho * rho))
    else:
        shape = np.maximum(0, rho - profile.tip_mm) * profile.rise
    return np.where(inside, shape, np.inf)


def test_areas_agree_with_exact_sweeps_within_three_per_mille() -> None:
    text = (
        "G21 G90 F600\nG0 Z1\nG0 X20 Y20\nG1 Z-1\nG1 X60 Y32\nG2 X70 Y22 I0 J-10\n"
        "G3 X80 Y12 I10 J0\nG1 X20 Y20\nM30"
    )
    moves = read_program(text).moves
    known = segments_of(moves, sagitta_mm=0.001)
    known = known.take(np.isfinite(known.starts).all(axis=1))
    cutting = known.ends[:, 2] < 0
    line = shapely.MultiLineString(
        [[a[:2], b[:2]] for a, b in zip(known.starts[cutting], known.ends[cutting], strict=True)]
    )
    for radius in (0.5, 1.5875, 3.0):
        field = blank_field((10, 5, 90, 45), 0.05)
        carve(field, known, Profile(0, radius))
        area = (field.z < 0).sum() * 0.05**2
        exact = shapely.buffer(line, radius, quad_segs=64).area
        assert area == pytest.approx(exact, rel=0.003)


def test_an_arc_leaves_a_ring_that_is_true_to_its_sagitta() -> None:
    text = "G21 G90 F600\nG0 Z-1\nG0 X16 Y10\nG3 I-6 J0\nM30"
    moves = read_program(text).moves
    segments = segments_of(moves, sagitta_mm=0.05 / CHORD_SHARE)
    field = blank_field((0, 0, 20, 20), 0.05)
    carve(field, segments.take(segments.moves == 2), FLAT)
    xs, ys = field.centres
    beside = np.abs(np.hypot(xs[None, :] - 10, ys[:, None] - 10) - 6)
    cut = field.z < 0
    assert cut[beside < 1.5 - 0.001].all()
    assert not cut[beside > 1.5 + 0.001].any()


def test_a_cut_made_twice_bites_once() -> None:
    field = blank_field((0, 0, 12, 6), 0.1)
    there = path((3, 3, -1), (9, 3, -1))
    assert carve(field, there, FLAT).most[0] == 1
    before = field.z.copy()
    assert carve(field, there, FLAT).most[0] == 0
    assert np.array_equal(before, field.z)


@pytest.mark.parametrize("profile", [FLAT, BALL, V60])
@pytest.mark.parametrize("cell", [0.05, 0.07, 0.2])
def test_rising_where_the_cutter_stands_bites_nothing(profile: Profile, cell: float) -> None:
    rng = np.random.default_rng(3)
    for x, y in [(6.0, 6.0), (5.01, 6.005), *rng.uniform(4, 8, (5, 2))]:
        field = blank_field((0.005, 0.005, 12, 12), cell)
        carve(field, path((x, y, 1), (x, y, -2), (x + 2, y + 1, -2)), profile)
        assert carve(field, path((x + 2, y + 1, -2), (x + 2, y + 1, 5)), profile).most[0] < 1e-6


@pytest.mark.parametrize("profile", [FLAT, BALL, V60])
def test_a_path_outside_the_field_does_nothing(profile: Profile) -> None:
    field = blank_field((0, 0, 5, 5), 0.1)
    far = path((50, 50, -1), (60, 70, -1), (1e7, 2, -1), (1e7, -1e7, -3), (-9, -9, -9), (-9, 99, 0))
    assert carve(field, far, profile).most.max() == 0
    assert (field.z == 0).all()


def test_above_the_face_nothing_is_removed() -> None:
    field = blank_field((0, 0, 5, 5), 0.1)
    assert carve(field, path((1, 1, 0), (4, 4, 0), (4, 1, 2)), FLAT).most.tolist() == [0, 0]
    assert (field.z == 0).all()


def test_bands_of_rows_give_what_one_band_gives() -> None:
    """A large field is carved in threads, a small one is not: cells of both must be the same."""
    rng = np.random.default_rng(11)
    points = np.column_stack([rng.uniform(0, 40, (60, 2)), rng.uniform(-3, 0, 60)])
    there = Segments(points[:-1].copy(), points[1:].copy(), np.arange(59))
    for profile in (FLAT, BALL, V60):
        large = blank_field((0, 0, 40, 40), 0.1)
        carve(large, there, profile)
        for row in range(0, 400, 100):
            strip = blank_field((0, row * 0.1, 40, row * 0.1 + 10), 0.1)
            carve(strip, there, profile)
            assert np.abs(strip.z - large.z[row : row + 100]).max() < 1e-5
