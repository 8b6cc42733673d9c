"""Markers at their vertices: places and directions by SVG 2, 13.7 and 9.5.1, worked out by hand."""

import pytest

from lettering.artwork.drawings import area, read, region, told
from letterply.lettering.artwork.markers import vertices
from letterply.lettering.artwork.outlines import path_subpaths


def turns(data: str) -> list[tuple[float, float, float]]:
    subpaths, _ = path_subpaths(data)
    return [(v.x, v.y, round(v.turn, 6) % 360) for v in vertices(subpaths)]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("M0 0L10 0L10 10", [(0, 0, 0), (10, 0, 45), (10, 10, 90)]),
        # Closed: both ends have the direction between the last side and the first.
        ("M0 0H10V10H0Z", [(0, 0, 315), (10, 0, 45), (10, 10, 135), (0, 10, 225), (0, 0, 315)]),
        # A step without extent begins as the one before it and ends as the one behind it.
        ("M0 0H10H10V10", [(0, 0, 0), (10, 0, 0), (10, 0, 90), (10, 10, 90)]),
        ("M0 0H0V10", [(0, 0, 90), (0, 0, 90), (0, 10, 90)]),
        ("M5 5L5 5", [(5, 5, 0), (5, 5, 0)]),
        # Closing where the pen stands is a vertex all the same.
        ("M0 0H9V9H0V0Z", [(0, 0, 315), (9, 0, 45), (9, 9, 135), (0, 9, 225), (0, 0, 270),
                           (0, 0, 315)]),
        # An arc is one step, however many curves draw it; half a circle leaves upright.
        ("M0 0A5 5 0 0 1 10 0", [(0, 0, 270), (10, 0, 90)]),
        ("M0 0C0 5 5 10 10 10", [(0, 0, 90), (10, 10, 0)]),
        # The control points that lie on the ends are passed over.
        ("M0 0C0 0 0 0 9 9", [(0, 0, 45), (9, 9, 45)]),
        ("M0 0H9M20 0V9", [(0, 0, 0), (9, 0, 0), (20, 0, 90), (20, 9, 90)]),
        # What goes on from a closed stretch has no vertex of its own there.
        ("M0 0H9V9ZH-9", [(0, 0, 292.5), (9, 0, 45), (9, 9, 157.5), (0, 0, 292.5), (-9, 0, 180)]),
    ],
)  # fmt: skip
def test_vertices_and_their_directions(data, expected):
    assert turns(data) == expected


MARK = '<marker id="k" markerWidth="4" markerHeight="2" {}><rect width="9" height="9"/></marker>'
LINE = '<path d="M20 20H60V60" fill="none" {}/>'


@pytest.mark.parametrize(
    ("marker", "line", "expected"),
    [
        # The window of 4 by 2 line widths clips the marker; the line itself is 80 by 3 less a join.
        ("", 'stroke-width="3" marker-start="url(#k)"', 4 * 2 * 9),
        ("", 'marker-start="url(#k)" marker-mid="url(#k)" marker-end="url(#k)"', 3 * 8),
        ('markerUnits="userSpaceOnUse"', 'stroke-width="3" marker-end="url(#k)"', 8),
        ('overflow="visible"', 'marker-end="url(#k)"', 81),
        ('markerWidth2="x" viewBox="0 0 8 8"', 'marker-end="url(#k)"', 2 * 2 + 0.25 * 2 * 1),
        ("", 'marker="url(#k)"', 0),  # the short form is no attribute (SVG 2, 13.7.4)
        ("", 'style="marker: url( #k )"', 3 * 8),
        ("", 'visibility="hidden" marker-end="url(#k)"', 0),
        ('opacity="0"', 'marker-end="url(#k)"', 0),
    ],
)
def test_markers_are_drawn_on_lines_without_a_paint(marker, line, expected):
    spot = '<rect x="90" y="90" width="1" height="1"/>'
    assert area(spot + MARK.format(marker) + LINE.format(line)) == pytest.approx(
        1 + expected, abs=1e-3
    )


def test_a_marker_turns_with_its_line_and_stands_on_its_reference_point():
    body = '<marker id="k" markerWidth="4" markerHeight="2" refX="1" refY="1" orient="auto">'
    body += '<rect width="4" height="2"/></marker>'
    found = region(body + LINE.format('marker-end="url(#k)"'))
    assert found.bounds == pytest.approx((59, -63, 61, -59))


def test_context_paints_are_those_of_the_marked_shape():
    body = '<marker id="k" overflow="visible"><rect width="3" height="3" fill="context-stroke"/>'
    body += '<rect x="5" width="2" height="2" fill="context-fill"/></marker>'
    shapes = read(body + LINE.format('stroke="red" marker-end="url(#k)"')).shapes
    assert [(s.fill, s.fill_colour) for s in shapes[1:]] == [("nonzero", "#ff0000"), (None, "")]


def test_a_circle_has_markers_at_its_quarters():
    body = '<marker id="k" overflow="visible"><rect width="1" height="1"/></marker>'
    shapes = read(body + '<circle r="30" marker-mid="url(#k)" marker-end="url(#k)"/>').shapes
    assert len(shapes) == 1 + 3 + 1


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (LINE.format('stroke="red" marker-end="url(#nobody)"'), {"marker": 1}),
        (LINE.format('stroke="red" marker-end="url(a.svg#k)"'), {"external reference": 1}),
        (
            '<marker id="k"><path d="M0 0H9" marker-end="url(#k)"/></marker>'
            + LINE.format('stroke="red" marker-end="url(#k)"'),
            {"reference to itself": 1},
        ),
        (
            MARK.format("") + '<path d="M9 9M20 20H40" stroke="red" marker-end="url(#k)"/>',
            {"lone vertex": 1},
        ),
    ],
)
def test_what_of_markers_is_not_drawn_is_listed(body, what):
    assert told(read(body)) == what
