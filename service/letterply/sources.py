"""Where a figure comes from, and figures that are told with their source."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["OWN", "STATUSES", "Source", "Strength"]

STATUSES = ("published", "derived", "from memory", "common practice", "own", "measured")


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from.

    Attributes:
        text: document, edition and clause; or `common practice, no source`.
        status: `published`, where the figure is in the document that `text` names; `derived`, where
            it was worked out from such figures, or chosen among them; `from memory`, where the
            document was not at hand; `common practice`; `own`, where a shop says so;
            `measured`, where a test piece of the shop told it.

    """

    text: str
    status: str

    def __post_init__(self) -> None:
        if not isinstance(self.text, str) or not self.text:
            raise ValueError("a source without a text")
        if self.status not in STATUSES:
            raise ValueError(f"unknown status of a source: {self.status!r}")


OWN = Source("the shop's own figure", "own")


@dataclass(frozen=True, slots=True)
class Strength:
    """Bending strength of the sheets of a material up to a thickness.

    Attributes:
        up_to_mm: thickness of the thickest sheet that it holds for.
        along_mpa: along the grain, or in any direction.
        across_mpa: across the grain.
        source: where both are from.

    """

    up_to_mm: float
    along_mpa: float
    across_mpa: float
    source: Source

    def __post_init__(self) -> None:
        for figure in (self.up_to_mm, self.along_mpa, self.across_mpa):
            if isinstance(figure, bool) or not isinstance(figure, int | float):
                raise ValueError(f"a strength of {figure!r}")
            if not (math.isfinite(figure) and figure > 0):
                raise ValueError("a strength by thickness must be above 0")
