"""Clips and masks: areas by hand; what cannot be a clip is listed."""

import pytest

from lettering.artwork.drawings import area, read, told

ALL = '<rect width="100" height="100" {}/>'
MASK = '<mask id="m" {}><rect width="60" height="50" fill="white"/>{}</mask>'


@pytest.mark.parametrize(
    ("mask", "inner", "expected"),
    [
        ("", "", 60 * 50),
        ("", '<rect width="10" height="10" fill="black"/>', 60 * 50 - 100),
        ('mask-type="alpha"', '<rect width="10" height="10" fill="black"/>', 60 * 50),
        # White on black shows again.
        ("", '<rect width="10" height="10"/><rect width="5" height="5" fill="#fff"/>', 3000 - 75),
        ('maskUnits="userSpaceOnUse" x="10" y="10" width="20" height="20"', "", 400),
        ('x="0" y="0" width="0.1" height="0.1"', "", 100),
        ('x="0" y="0" width="0" height="1"', "", 0),
        ("", '<rect x="60" width="40" height="50" fill="white" opacity="0"/>', 60 * 50),
    ],
)
def test_a_mask_of_white_and_black_is_a_clip(mask, inner, expected):
    spot = '<rect x="-9" y="-9" width="1" height="1"/>'
    body = spot + MASK.format(mask, inner) + ALL.format('mask="url(#m)"')
    assert area(body) == pytest.approx(1 + expected)
    assert set(told(read(body))) <= {"beyond the page"}


def test_a_mask_is_fitted_to_the_box_and_masks_mask_masks():
    half = '<mask id="h"><rect width="30" height="100" fill="white"/></mask>'
    body = MASK.format('mask="url(#h)"', "") + ALL.format('mask="url(#m)"')
    assert area(half + body) == pytest.approx(30 * 50)
    boxed = '<mask id="m" maskContentUnits="objectBoundingBox"><rect width=".5" height=".5" '
    assert area(boxed + 'fill="white"/></mask>' + ALL.format('mask="url(#m)"')) == pytest.approx(
        2500
    )


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (MASK.format("", '<circle r="9" fill="red"/>') + ALL.format('mask="url(#m)"'),
         {"soft mask": 1}),
        (MASK.format("", "") + ALL.format('mask="url(#m) alpha"'), {"mask": 1}),
        ('<mask id="m"><g mask="url(#m)"><rect width="9" height="9" fill="white"/></g></mask>'
         + ALL.format('mask="url(#m)"'), {"reference to itself": 1}),
    ],
)  # fmt: skip
def test_what_of_masks_is_not_taken_as_drawn_is_listed(body, what):
    assert told(read(body)) == what


RING = "M0 0H90V90H0zM20 20H60V60H20z"


@pytest.mark.parametrize(
    ("clip", "expected"),
    [
        # clip-rule is inherited from where the clip path stands, not from where it is used.
        (f'<g clip-rule="evenodd"><clipPath id="c"><path d="{RING}"/></clipPath></g>',
         90 * 90 - 40 * 40),
        (f'<clipPath id="c"><path d="{RING}"/></clipPath>', 90 * 90),
        # About (50, 50), half the size leaves the middle.
        ('<clipPath id="c" transform="scale(.5)" transform-origin="50 50"><rect x="-100" '
         'width="400" height="100"/></clipPath>', 100 * 50),
        ('<clipPath id="c" transform="scale(.5)" transform-origin="center"><rect width="100" '
         'height="100"/></clipPath>', 50 * 50),
        ('<clipPath id="c" display="none"><rect width="5" height="5"/></clipPath>', 25),
        ('<g fill="none"><clipPath id="c"><rect width="5" height="5"/></clipPath></g>', 25),
    ],
)  # fmt: skip
@pytest.mark.parametrize("url", ["url(#c)", "url( #c )", "url('#c')"])
def test_a_clip_path_is_styled_where_it_stands(clip, expected, url):
    assert area(clip + ALL.format(f'clip-path="{url}"')) == pytest.approx(expected)


def test_what_is_not_seen_counts_in_the_box():
    clip = '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height="1"/>'
    body = '<g clip-path="url(#c)"><rect width="20" height="20"/>'
    body += '<rect x="20" width="60" height="20" {}/></g>'
    for style in ('opacity="0"', 'visibility="hidden"', 'fill="none"'):
        assert area(f"{clip}</clipPath>{body.format(style)}") == pytest.approx(400)
    hidden = 'display="none"'
    assert area(f"{clip}</clipPath>{body.format(hidden)}") == pytest.approx(200)
