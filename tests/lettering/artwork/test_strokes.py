"""Lines as outlines, against areas worked out by hand."""

import math

import pytest

from lettering.artwork.drawings import area, region
from letterply.lettering.artwork.model import ArtworkError

LINE = 'fill="none" stroke="#000" stroke-width="10"'


def line(data: str, style: str = "") -> float:
    return area(f'<path d="{data}" {LINE} {style}/>')


@pytest.mark.parametrize(
    ("cap", "expected"),
    [("butt", 600), ("square", 700), ("round", 600 + math.pi * 25)],
)
def test_a_straight_line_has_the_area_of_its_ends(cap, expected):
    assert line("M20 50H80", f'stroke-linecap="{cap}"') == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("join", "expected"),
    # Two arms of 60 by 10 less their common square of 25, and what the corner adds to it.
    [
        ("miter", 1200 - 25 + 25),
        ("bevel", 1200 - 25 + 12.5),
        ("round", 1200 - 25 + math.pi * 25 / 4),
    ],
)
def test_a_right_angle_has_the_area_of_its_join(join, expected):
    assert line("M20 80V20H80", f'stroke-linejoin="{join}"') == pytest.approx(expected, rel=1e-4)


def test_a_mitre_reaches_as_far_as_its_angle_says():
    # Half the width over the sine of half the angle (SVG 2, 13.5.3); here 60 degrees.
    bend = f'<path d="M20 80L50 {80 - 30 * math.sqrt(3)}L80 80" {LINE}/>'
    tip = -region(bend).bounds[3]
    assert 80 - 30 * math.sqrt(3) - tip == pytest.approx(5 / math.sin(math.radians(30)), abs=1e-3)


@pytest.mark.parametrize("tolerance", [1e-3, 0.05, 0.5])
def test_a_mitre_follows_the_curve_and_not_its_chords(tolerance):
    # The curves meet at (50, 20) in the directions (5, -40) and (5, 40): the sine of half the
    # angle between them is 5 / sqrt(1625), so the tip lies sqrt(1625) away.
    body = f'<path d="M20 80Q45 60 50 20Q55 60 80 80" {LINE} stroke-miterlimit="9"/>'
    assert region(body, tolerance=tolerance).bounds[3] == pytest.approx(
        math.sqrt(1625) - 20, abs=1e-4
    )
    blunt = body.replace('"9"', '"8"')  # the ratio is 8.06
    assert region(blunt, tolerance=tolerance).bounds[3] < -18


def test_a_closed_line_is_joined_at_its_start():
    assert line("M20 20H80V80H20z") == pytest.approx(70 * 70 - 50 * 50)


def test_a_ring_has_the_area_of_its_width():
    body = '<circle cx="50" cy="50" r="30" fill="none" stroke="#000" stroke-width="8"/>'
    assert area(body) == pytest.approx(math.pi * (34**2 - 26**2), rel=1e-4)
    assert len(region(body).geoms[0].interiors) == 1


def test_a_line_wider_than_its_bend_fills_the_middle():
    body = '<circle cx="50" cy="50" r="10" fill="none" stroke="#000" stroke-width="30"/>'
    assert area(body) == pytest.approx(math.pi * 25**2, rel=1e-4)


def test_a_line_is_stretched_with_its_frame():
    body = f'<path transform="scale(1 3)" d="M20 20H80" {LINE}/>'
    assert area(body) == pytest.approx(60 * 30)


@pytest.mark.parametrize(
    ("style", "expected"),
    [
        ('stroke-dasharray="10 5"', 400),  # at 0, 15, 30 and 45 of 60
        ('stroke-dasharray="10"', 300),
        ('stroke-dasharray="10 5" stroke-dashoffset="5"', 50 + 100 * 3 + 50),
        ('stroke-dasharray="10 5" stroke-dashoffset="-5"', 400),  # at 5, 20, 35, 50
        ('stroke-dasharray="30 10" pathLength="120"', 15 * 10 * 3),
        ('stroke-dasharray="0 10" stroke-linecap="square"', 600),  # six squares side by side
        ('stroke-dasharray="0 0"', 600),
    ],
)
def test_dashes_have_the_area_of_their_lengths(style, expected):
    assert line("M20 50H80", style) == pytest.approx(expected, rel=1e-6)


def test_a_dash_over_the_start_of_a_closed_line_is_one():
    whole = region(f'<rect x="20" y="20" width="60" height="60" {LINE} stroke-dasharray="40 20" '
                   'stroke-dashoffset="20"/>')  # fmt: skip
    assert len(whole.geoms) == 4


def test_dashes_without_number_are_refused():
    with pytest.raises(ArtworkError) as caught:
        line("M0 0H100", 'stroke-dasharray="0.0001"')
    assert caught.value.code == "artwork-too-complex"


def test_chords_stay_within_the_tolerance():
    body = '<circle cx="50" cy="50" r="30" fill="none" stroke="#000" stroke-width="8"/>'
    (ring,) = region(body, tolerance=0.05).geoms
    from_middle = [math.dist((50, -50), p) for p in ring.exterior.coords]
    assert max(from_middle) <= 34 + 0.05
    assert min(from_middle) >= 34 - 0.05
