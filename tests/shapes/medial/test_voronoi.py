"""The diagram of segments against its definition, and its two ways of being read."""

import numpy as np
import pytest

from letterply.shapes.flatten import circle
from letterply.shapes.medial import voronoi
from letterply.shapes.medial.voronoi import segment_diagram


def closed(points):
    points = np.asarray(points, dtype=float)
    return np.hstack((points, np.roll(points, -1, axis=0)))


SHAPES = {
    "square": closed([(0, 0), (10, 0), (10, 10), (0, 10)]),
    "ell": closed([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)]),
    "ring": np.vstack((closed(circle(0, 0, 10, 0.01)), closed(circle(1, 0, 6, 0.01)[::-1]))),
    "two apart": np.vstack((closed([(0, 0), (9, 1), (4, 8)]), closed([(20, 0), (29, 1), (24, 8)]))),
}


def distance(site, point):
    a, d = site[:2], site[2:] - site[:2]
    t = np.clip((point - a) @ d / max(d @ d, 1e-30), 0, 1)
    return np.hypot(*(a + t * d - point))


@pytest.mark.parametrize("name", SHAPES)
def test_every_vertex_is_equally_far_from_both_sites_and_no_segment_is_nearer(name):
    segments = SHAPES[name]
    diagram = segment_diagram(segments)
    assert len(diagram.edges)
    for pair, sites in zip(diagram.edges, diagram.sites, strict=True):
        for vertex in pair:
            point = diagram.vertices[vertex]
            first, second = (distance(site, point) for site in sites)
            nearest = min(distance(s, point) for s in segments)
            # Vertices lie off the grid; Boost promises them to a few units of the last place.
            assert first == pytest.approx(second, rel=1e-6, abs=1e-5)
            assert nearest == pytest.approx(first, rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("name", SHAPES)
def test_sites_are_segments_or_their_ends(name):
    diagram = segment_diagram(SHAPES[name])
    for sites, owners, ends in zip(diagram.sites, diagram.owners, diagram.are_ends, strict=True):
        for site, owner, is_end in zip(sites, owners, ends, strict=True):
            segment = SHAPES[name][owner]
            if is_end:
                assert site[:2] == pytest.approx(site[2:])
                assert site[:2].tolist() in (segment[:2].tolist(), segment[2:].tolist())
            else:
                assert site == pytest.approx(segment)


@pytest.mark.parametrize("name", SHAPES)
def test_reading_by_cells_equals_reading_edge_by_edge(name, monkeypatch):
    quick = segment_diagram(SHAPES[name])
    monkeypatch.setattr(voronoi, "_paired", lambda *_: False)
    slow = segment_diagram(SHAPES[name])
    assert np.array_equal(quick.edges, slow.edges)
    assert np.array_equal(quick.sites, slow.sites)
    assert np.array_equal(quick.owners, slow.owners)
