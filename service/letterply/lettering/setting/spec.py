"""What to set and how: the values that setting works from. Lengths are mm, angles degrees."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

__all__ = ["STRAIGHT", "Align", "Baseline", "LetteringSpec", "Size", "SizeKind"]

Align = Literal["left", "centre", "right", "justify"]
SizeKind = Literal["cap_height", "x_height", "em", "width", "fit", "fit_disc", "largest"]


@dataclass(frozen=True, slots=True)
class Size:
    """How large: exactly one kind, with one or two lengths in mm.

    Attributes:
        kind: `cap_height`, `x_height`, `em`, `width` (of the ink), `fit` (ink inside a box),
            `fit_disc` (ink inside a disc round the middle of its box), or `largest` (ink inside
            a box that may be turned by a quarter).
        first_mm: the length; for `fit` and `largest` the width of the box, for `fit_disc` the
            diameter.
        second_mm: for `fit` and `largest` the height of the box, otherwise 0.

    """

    kind: SizeKind
    first_mm: float
    second_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Baseline:
    """Where letters stand.

    Attributes:
        kind: `straight`; `arc` (round a circle, as much of it as the text needs); `circle` (all
            round it, gaps evened out); `path` (along `points`); `vertical` (letters upright, one
            below the other).
        radius_mm: of `arc` and `circle`, to the baseline.
        side: `outside` of the circle, heads away from its centre, or `inside`, heads towards it.
        angle_deg: where on the circle the middle of the text stands, counter-clockwise from x;
            None for the top outside, the bottom inside.
        points: of `path`, (x, y) pairs.
        gap_mm: of `vertical`, between the ink of a letter and the next; None for a quarter of
            the cap height.

    """

    kind: Literal["straight", "arc", "circle", "path", "vertical"] = "straight"
    radius_mm: float = 0.0
    side: Literal["outside", "inside"] = "outside"
    angle_deg: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    gap_mm: float | None = None


STRAIGHT = Baseline()


@dataclass(frozen=True, slots=True)
class LetteringSpec:
    """What to set.

    Attributes:
        text: the words; a newline starts a line.
        font: key in the library.
        size: how large.
        features: OpenType feature tag -> value, and
        axes: variable axis tag -> value.
        align: of several lines, or of the text along a curve; `justify` brings every line to
            the width of the widest, in its word spaces or else between its letters.
        tracking_mm: extra space between letters.
        line_gap: distance of baselines as a multiple of the em.
        language: BCP 47 tag, for letter forms that differ by language; empty for none.
        direction: of each line: `ltr`, `rtl`, or `auto` for what its first strong letter says.
        kerning: `font` as the font says, `off`, or `optical`: evened out by the outlines.
        baseline: where letters stand.
        joins: what to do where letters of a connected script miss each other by a hair: `report`
            it, `bridge` the gap, or `close` it by moving letters together.

    """

    text: str
    font: str
    size: Size
    features: Mapping[str, int] = field(default_factory=dict)
    axes: Mapping[str, float] = field(default_factory=dict)
    align: Align = "centre"
    tracking_mm: float = 0.0
    line_gap: float = 1.2
    language: str = ""
    direction: Literal["auto", "ltr", "rtl"] = "auto"
    kerning: Literal["font", "off", "optical"] = "font"
    baseline: Baseline = STRAIGHT
    joins: Literal["report", "bridge", "close"] = "report"
