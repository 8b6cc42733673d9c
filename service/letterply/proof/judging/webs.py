"""The carved field and the parts in, which parts hang on waste that comes loose itself out.

A tab holds a part to the web beside it; the web has to hold on to the rest of the sheet. What is
left of the stock at the height of a tab falls into connected pieces of cells: a part with tabs must
lie in one that reaches the edge of the field, which lies in the sheet's margin or round all cuts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from letterply.findings import Severity
from letterply.proof.model import Fault, HeightField
from letterply.proof.removal.standing import LOOSE, how_held
from letterply.sheets import PlacedPart

__all__ = ["find_adrift"]


def find_adrift(
    carved: HeightField,
    parts: Sequence[PlacedPart],
    tabs: Mapping[str, int],
    level_mm: float,
    nested_parts: Sequence[Sequence[Polygon]] = (),
) -> list[Fault]:
    """Return a blocker for each part whose tabs hold on to nothing that is held.

    Args:
        carved: the stock after all programs.
        parts: of the sheet.
        tabs: mark -> tabs that were planned; parts without any are held otherwise.
        level_mm: height at which a tab stands for sure, mm, negative below the face.
        nested_parts: for each part what lies in its holes, filled. They are cut before the hole's
        slug
            comes loose, and are not judged.

    """
    inside = shapely.union_all([g for some in nested_parts for g in some])
    judged = [p for p in parts if tabs.get(p.mark, 0) > 0 and not inside.contains(_spot(p))]
    if not judged:
        return []
    spots = [_spot(placed) for placed in judged]
    rows, columns = np.array([carved.cell_of(spot.x, spot.y) for spot in spots]).T
    faults = []
    for placed, spot, how in zip(
        judged, spots, how_held(carved, level_mm, rows, columns).tolist(), strict=True
    ):
        # Where the part itself is cut away at this spot, other faults say so.
        if how == LOOSE:
            faults.append(
                Fault(
                    "adrift",
                    Severity.BLOCKER,
                    f"The tabs of {placed.words} hold on to waste that comes loose with it.",
                    where=(spot.x, spot.y),
                    mark=placed.mark,
                )
            )
    return faults


def _spot(placed: PlacedPart) -> shapely.Point:
    point: shapely.Point = placed.part.outline.representative_point()
    return point
