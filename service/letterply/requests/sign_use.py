"""How a sign will be used: what the standard for its characters must know beside the lettering.

{"raised": true, "baseline_height": "1.4 m", "viewing_distance": "2 m", "depth": "1 mm",
 "border": "12 mm", "bevel": 0, "braille": true, "separate_visual": false}
"""

from __future__ import annotations

from typing import Annotated

from letterply.requests.fields import Figures, Within, long_length

__all__ = ["SignUse"]

_Known = Annotated[float, long_length, Within(ge=0, le=100_000)]


class SignUse(Figures):
    """How a sign will be used; what is not known is left out and not checked.

    Attributes:
        raised: characters to be read by touch; otherwise by eye only.
        viewing_distance_mm: farthest distance at which they are to be read, along the floor.
        baseline_height_mm: height of the lowest baseline above the floor.
        depth_mm: how far raised characters stand out from their background; the thickness of the
            top layer where it is left out.
        border_mm: distance of the characters from raised borders and decoration, where there are
            any.
        bevel_mm: how far the top edge of a raised character is set in from its base; 0 for a
            rectangular cross section.
        braille: the sign carries braille beside raised characters; the visual rules then do not
            apply to them.
        separate_visual: another set of visual characters says the same as the raised ones.

    """

    raised: bool
    viewing_distance_mm: _Known | None = None
    baseline_height_mm: _Known | None = None
    depth_mm: _Known | None = None
    border_mm: _Known | None = None
    bevel_mm: _Known = 0.0
    braille: bool = True
    separate_visual: bool = False
