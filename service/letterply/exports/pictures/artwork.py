"""What would be cut of a drawing, drawn from its region; its room for words dashed. SVG, y down.

All mm, at a size that fills the picture.
"""

from __future__ import annotations

from shapely.affinity import translate

from letterply.exports.pictures.font import region_path
from letterply.exports.primitives.captions import INK, QUIET, caption_within, svg_close, svg_open
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.lettering import Artwork, ArtworkSize, ArtworkSpec, describe_artwork, set_artwork
from letterply.shapes import Tolerances, as_region

__all__ = ["artwork_picture"]

_WIDTH = 200.0
_HEIGHT = 160.0
_MARGIN = 12.0
_CAPTION = 4.2
_COARSE = Tolerances(flatten_mm=0.02)
"""A picture is looked at, not cut."""


def artwork_picture(artwork: Artwork) -> str:
    """Return a picture of a drawing as SVG.

    Raises:
        InputError: the drawing cannot be used.

    """
    facts = describe_artwork(artwork)
    drawn = set_artwork(artwork, ArtworkSpec(ArtworkSize("fit", _WIDTH, _HEIGHT)), _COARSE)
    _, _, right, high = drawn.region.bounds
    top = _MARGIN + 2.4 * _CAPTION
    left = _MARGIN + (_WIDTH - right) / 2
    region = as_region(translate(drawn.region, left, 0))
    body = [f'<path d="{region_path(region, 0, top + high)}" fill="{INK}" fill-rule="evenodd"/>']
    if drawn.room is not None:
        x0, y0, x1, y1 = drawn.room
        body.append(
            f'<rect x="{number(left + x0, 2)}" y="{number(top + high - y1, 2)}" '
            f'width="{number(x1 - x0, 2)}" height="{number(y1 - y0, 2)}" fill="none" '
            f'stroke="{QUIET}" stroke-width="0.5" stroke-dasharray="2 1.5"/>'
        )
    name = artwork.title or artwork.key
    height = top + high + 3 * _CAPTION
    says = facts["summary"]
    found = svg_open(_WIDTH + 2 * _MARGIN, height, escaped(name), escaped(says))
    found.append(caption_within(name, _CAPTION, _MARGIN, _MARGIN, _WIDTH, bold=True))
    found += body
    found.append(caption_within(says, 3.2, _MARGIN, height - 0.6 * _MARGIN, _WIDTH, colour=QUIET))
    return svg_close(found)
