"""Corners of additions: a small addition is rounded by itself as it is with everything else."""

import shapely
from shapely import box

from letterply.shapes import EMPTY, as_region
from letterply.shapes.hausdorff import hausdorff_mm
from letterply.shapes.tolerances import GRID_MM
from letterply.stacks.repairs import fillets
from letterply.stacks.repairs.fillets import rounded

RADIUS, TOLERANCE = 0.5, 0.005
COMB = as_region(
    shapely.union_all([box(0, 0, 90, 8), *(box(x, 8, x + 4, 30) for x in range(0, 90, 10))])
)


def test_a_small_addition_is_rounded_as_with_the_whole_outline(monkeypatch):
    thick = as_region(shapely.union(COMB, box(44, 12, 45.5, 14)))
    alone = rounded(thick, COMB, EMPTY, RADIUS, TOLERANCE)
    monkeypatch.setattr(fillets, "_LITTLE", 0.0)
    whole = rounded(thick, COMB, EMPTY, RADIUS, TOLERANCE)
    assert whole.area > thick.area + 0.05  # its corners, and no others
    assert hausdorff_mm(alone, whole, precision_mm=1e-6) <= GRID_MM
