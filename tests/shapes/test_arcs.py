"""Arc fitting: error, economy, and what stays untouched."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import LineString

from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.arcs import ArcChain, fit_arcs
from letterply.shapes.flatten import circle
from letterply.shapes.regions import rings
from letterply.shapes.tolerances import Tolerances

FLAT, FIT = 0.005, 0.01


def closed(points):
    return np.vstack((points, points[:1]))


def dense(chain: ArcChain, step=0.02):
    """Points along the fitted moves, by plain trigonometry."""
    out, at = [], chain.start
    for end, centre, sense in zip(chain.ends, chain.centres, chain.senses, strict=True):
        if sense == 0:
            n = max(2, int(np.hypot(*(end - at)) / step))
            out.append(at + (end - at) * np.linspace(0, 1, n)[:, None])
        else:
            a, b = at - centre, end - centre
            first = np.arctan2(a[1], a[0])
            turn = (np.arctan2(b[1], b[0]) - first) * sense % (2 * np.pi) * sense
            r = np.linspace(
                np.hypot(*a), np.hypot(*b), max(3, int(abs(turn) * np.hypot(*a) / step))
            )
            t = first + turn * np.linspace(0, 1, len(r))
            out.append(centre + np.column_stack((r * np.cos(t), r * np.sin(t))))
        at = end
    return np.vstack(out)


def test_a_circle_becomes_a_few_arcs_of_its_radius():
    chain = fit_arcs(closed(circle(3, 4, 12, FLAT / 5)), FIT)
    assert len(chain) <= 4
    radii = np.hypot(*(chain.ends - chain.centres).T)
    assert radii == pytest.approx(12, abs=FIT)


def test_a_polygon_keeps_its_corners():
    corners = np.array([[0, 0], [10, 0], [10, 5], [4, 9], [0, 0]], dtype=float)
    walked = np.vstack(
        [a + (b - a) * t for a, b in pairwise(corners) for t in np.linspace(0, 1, 9)[:, None]]
        + [corners[-1:]]
    )
    chain = fit_arcs(walked.reshape(-1, 2), FIT)
    assert chain.ends == pytest.approx(corners[1:])
    assert not chain.senses.any()


@pytest.mark.parametrize("font", ["dancing-script", "great-vibes", "lobster", "pacifico"])
def test_script_outlines_need_few_moves_and_stay_within_tolerance(font):
    spec = LetteringSpec("Sanderling", font, Size("em", 70))
    lettering = set_lettering(spec, FontLibrary().load(font), Tolerances(flatten_mm=FLAT))
    before = arcs = lines = fewest = 0
    for ring in rings(lettering.region):
        chain = fit_arcs(closed(ring), FIT)
        before += len(ring)
        arcs += len(chain)
        lines += len(fit_arcs(closed(ring), FIT, arcs=False))
        # A second way of simplifying to lines: Douglas and Peucker, in GEOS.
        fewest += shapely.get_num_coordinates(shapely.simplify(LineString(closed(ring)), FIT)) - 1
        outline = LineString(closed(ring))
        shapely.prepare(outline)
        off = shapely.distance(shapely.points(dense(chain)), outline)
        assert off.max() <= FIT + 1e-9
        back = LineString(dense(chain))
        assert shapely.distance(shapely.points(ring), back).max() <= FIT + 1e-4
    # Flattening and fit together stray by 0.015 mm at most.
    assert arcs <= 0.16 * before
    assert arcs <= 0.2 * min(lines, fewest)


def test_without_arcs_only_lines_come_out():
    chain = fit_arcs(closed(circle(0, 0, 12, FLAT)), FIT, arcs=False)
    assert not chain.senses.any()
    assert np.isnan(chain.centres).all()


def test_a_point_or_nothing_gives_no_moves():
    assert len(fit_arcs(np.zeros((1, 2)), FIT)) == 0
    assert len(fit_arcs(np.zeros((0, 2)), FIT)) == 0
    assert len(fit_arcs(np.zeros((5, 2)), FIT)) == 0


def test_points_a_rounding_apart_are_one():
    """Beside a centre 5 mm away nothing is left of a step of 1e-18 mm."""
    t = np.linspace(-1, 1, 21)
    arc = np.column_stack((5 - 5 * np.cos(t), 5 * np.sin(t)))
    arc[10] = 0.0
    points = np.insert(arc, 11, (1e-18, 1e-18), axis=0)
    chain = fit_arcs(points, FIT)
    assert LineString(points).hausdorff_distance(LineString(dense(chain))) < FIT + 0.02
