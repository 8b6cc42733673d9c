"""Plane geometry, used by every room.

In and out: regions, outlines and lines in mm, y up, exteriors counter-clockwise. Offsets, arcs,
flattening, symmetry, distances; `medial` has the medial axis.
"""

from letterply.shapes import offsets, regions
from letterply.shapes.arcs import ArcChain, fit_arcs
from letterply.shapes.fitting import (
    FREE_TURNS_DEG,
    GRAIN_TURNS_DEG,
    QUARTER_TURNS_DEG,
    turns_that_fit,
)
from letterply.shapes.flatten import (
    SegmentTable,
    chord_count,
    circle,
    circle_sides,
    flatten_segments,
)
from letterply.shapes.hausdorff import farthest_mm, hausdorff_mm, outline_index
from letterply.shapes.medial.axis import (
    BISECTOR,
    LINE,
    PARABOLA,
    MedialAxis,
    both_axes,
    largest_disc,
    medial_axis,
)
from letterply.shapes.medial.chains import axis_chains
from letterply.shapes.medial.peeling import peeled
from letterply.shapes.medial.thin import ThinRuns, thin_runs
from letterply.shapes.nearness import outline_distances, side_distances, sides_of
from letterply.shapes.offsets import (
    clear_offset,
    deepest_leftover,
    leftover,
    leftover_depths,
    offset,
    opening,
    quad_segments,
    surroundings,
)
from letterply.shapes.regions import (
    EMPTY,
    Contour,
    Region,
    as_lines,
    as_region,
    box_of,
    cleaned,
    diagonal,
    digest,
    even_odd_union,
    nonzero_union,
    normalise,
    polygons,
    rings,
    thinned_out,
)
from letterply.shapes.scanning import Runs, directions, scan
from letterply.shapes.symmetry import Fit, Likeness, find_fits, misfit_mm
from letterply.shapes.tolerances import (
    DEFAULT_TOLERANCES,
    GRID_MM,
    GRID_PER_MM,
    LEAST_DIVISOR,
    ROUNDING,
    SAME_MM,
    SPECK_MM2,
    WHOLE,
    Tolerances,
)

__all__ = [
    "BISECTOR",
    "DEFAULT_TOLERANCES",
    "EMPTY",
    "FREE_TURNS_DEG",
    "GRAIN_TURNS_DEG",
    "GRID_MM",
    "GRID_PER_MM",
    "LEAST_DIVISOR",
    "LINE",
    "PARABOLA",
    "QUARTER_TURNS_DEG",
    "ROUNDING",
    "SAME_MM",
    "SPECK_MM2",
    "WHOLE",
    "ArcChain",
    "Contour",
    "Fit",
    "Likeness",
    "MedialAxis",
    "Region",
    "Runs",
    "SegmentTable",
    "ThinRuns",
    "Tolerances",
    "as_lines",
    "as_region",
    "axis_chains",
    "both_axes",
    "box_of",
    "chord_count",
    "circle",
    "circle_sides",
    "cleaned",
    "clear_offset",
    "deepest_leftover",
    "diagonal",
    "digest",
    "directions",
    "even_odd_union",
    "farthest_mm",
    "find_fits",
    "fit_arcs",
    "flatten_segments",
    "hausdorff_mm",
    "largest_disc",
    "leftover",
    "leftover_depths",
    "medial_axis",
    "misfit_mm",
    "nonzero_union",
    "normalise",
    "offset",
    "offsets",
    "opening",
    "outline_distances",
    "outline_index",
    "peeled",
    "polygons",
    "quad_segments",
    "regions",
    "rings",
    "scan",
    "side_distances",
    "sides_of",
    "surroundings",
    "thin_runs",
    "thinned_out",
    "turns_that_fit",
]
