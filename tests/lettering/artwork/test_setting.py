"""Artwork at a size: what was asked for is what comes out, and what cannot be is said."""

import pytest

from lettering.artwork.drawings import read
from letterply.errors import InputError
from letterply.lettering.artwork.describing import describe_artwork
from letterply.lettering.artwork.model import PX_MM
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.artwork.setting import ArtworkSize, ArtworkSpec, ink_px, set_artwork
from letterply.shapes.tolerances import Tolerances

FINE = Tolerances(flatten_mm=0.001)
BODY = (
    '<rect x="10" y="20" width="40" height="20"/><rect id="letters" x="20" y="25" width="20" '
    'height="10" fill="none"/>'
)
INCH = 'width="1in" height="1in" viewBox="0 0 96 96"'


def at(size: ArtworkSize, body: str = BODY, **spec):
    return set_artwork(read(body, INCH), ArtworkSpec(size, **spec), FINE)


@pytest.mark.parametrize(
    ("size", "width", "height"),
    [
        (ArtworkSize(), 40 * 25.4 / 96, 20 * 25.4 / 96),
        (ArtworkSize("width", 60), 60, 30),
        (ArtworkSize("height", 60), 120, 60),
        (ArtworkSize("fit", 60, 20), 40, 20),
        (ArtworkSize("scale", 2), 80 * 25.4 / 96, 40 * 25.4 / 96),
        (ArtworkSize("known", 100, ends=((10, 20), (50, 20))), 100, 50),
        (ArtworkSize("known", 100, ends=((0, 0), (30, 40))), 80, 40),
    ],
)
def test_it_has_the_size_that_was_asked_for(size, width, height):
    drawn = at(size)
    assert drawn.region.bounds == pytest.approx((0, 0, width, height), abs=1e-4)
    assert drawn.room == pytest.approx(
        (width / 4, height / 4, 3 * width / 4, 3 * height / 4), abs=1e-4
    )


def test_it_is_turned_and_mirrored():
    flag = '<path d="M0 0H40V10H10V30H0z"/>'
    plain = at(ArtworkSize("width", 40), flag).region
    turned = at(ArtworkSize("width", 40), flag, turn_deg=90).region
    mirrored = at(ArtworkSize("width", 40), flag, mirror=True).region
    assert turned.bounds == pytest.approx((0, 0, 30, 40))
    assert mirrored.centroid.x == pytest.approx(40 - plain.centroid.x)
    assert mirrored.centroid.y == pytest.approx(plain.centroid.y)
    assert turned.area == mirrored.area == pytest.approx(plain.area)


@pytest.mark.parametrize(
    ("size", "spec", "code", "field"),
    [
        (ArtworkSize("width", 9000), {}, "bad-size", "artwork.size"),
        (ArtworkSize("width", 0.01), {}, "bad-size", "artwork.size"),
        (ArtworkSize("known", 10), {}, "bad-size", "artwork.size.known"),
        (ArtworkSize(), {"only": ("beak",)}, "unknown-element", "artwork.only"),
        (ArtworkSize(), {"only": ("letters",)}, "artwork-empty", "artwork.only"),
    ],
)
def test_what_cannot_be_names_its_field(size, spec, code, field):
    with pytest.raises(InputError) as caught:
        at(size, **spec)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_a_drawing_is_described_in_millimetres():
    facts = describe_artwork(read(BODY + "<text>x</text>", INCH))
    assert facts["page"] == {"width_mm": 25.4, "height_mm": 25.4}
    assert facts["ink"] == pytest.approx(
        {"width_mm": 10.583, "height_mm": 5.292, "area_mm2": 56.004, "pieces": 1}, abs=1e-3
    )
    assert facts["room"] == pytest.approx({"width_mm": 5.292, "height_mm": 2.646}, abs=1e-3)
    assert facts["left_out"][0]["what"] == "text"
    assert facts["summary"] == "1 piece, 10.6 x 5.3 mm at its natural size; text left out."
    assert facts["colours"] == [{"colour": "#000000", "shapes": 1}]
    assert facts["ids"] == ["letters"]


LAYERED = """<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100">
  <rect id="board" width="100" height="100" fill="black"/>
  <rect id="window" x="20" y="20" width="40" height="40" fill="white"/>
  <rect id="bolt" x="30" y="30" width="10" height="10" fill="black"/>
  <rect id="frame" x="70" y="70" width="20" height="20" fill="black" stroke="white"
        stroke-width="4"/>
</svg>"""


@pytest.mark.parametrize(
    ("only", "area"),
    [
        # White is the ground: what is painted in it is a hole, what lies on it is not.
        ((), 100 * 100 - 40 * 40 + 10 * 10 - (24 * 24 - 16 * 16)),
        # The window is cut away, the bolt on it is not; the line round the frame is.
        (("#000000",), 100 * 100 - 40 * 40 + 10 * 10 - (24 * 24 - 16 * 16)),
        (("#ffffff",), 40 * 40 - 10 * 10 + (24 * 24 - 16 * 16)),
        (("#000000", "#ffffff"), 100 * 100),
        (("board",), 100 * 100),
        (("window", "bolt"), 40 * 40),
        (("bolt", "#ffffff"), 40 * 40 + (24 * 24 - 16 * 16)),
    ],
)
def test_of_a_colour_what_is_seen_is_cut(only, area):
    """Areas by hand: squares in px."""
    region = ink_px(read_artwork("layered", LAYERED.encode()), only)
    assert region.area == pytest.approx(area, rel=1e-4)


BIRD = """<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100">
  <g id="bird"><rect width="100" height="100"/>
    <g fill="white"><rect id="eye" x="60" y="20" width="20" height="20"/></g>
    <rect x="68" y="28" width="4" height="4"/></g>
</svg>"""


@pytest.mark.parametrize(
    ("only", "ground", "area", "bare"),
    [
        ((), "#ffffff", 100 * 100 - 20 * 20 + 4 * 4, 20 * 20 - 4 * 4),
        (("bird",), "#ffffff", 100 * 100 - 20 * 20 + 4 * 4, 20 * 20 - 4 * 4),
        (("eye",), "#ffffff", 20 * 20, 0),
        ((), "", 100 * 100, 0),
        # Black for a ground: only the white of the eye is to be seen.
        ((), "#000000", 20 * 20 - 4 * 4, 100 * 100 - 20 * 20 + 4 * 4),
    ],
)
def test_paint_of_the_ground_over_ink_is_a_hole(only, ground, area, bare):
    artwork = read_artwork("bird", BIRD.encode())
    drawn = set_artwork(artwork, ArtworkSpec(only=only, ground=ground), FINE)
    px = PX_MM * PX_MM
    assert drawn.region.area / px == pytest.approx(area, rel=1e-4)
    assert drawn.bare_mm2 / px == pytest.approx(bare, rel=1e-4, abs=1e-6)


def test_a_drawing_in_nothing_but_white_is_cut():
    white = '<svg width="40" height="20"><rect width="40" height="20" fill="white"/></svg>'
    assert ink_px(read_artwork("white", white.encode())).area == pytest.approx(800, rel=1e-4)
