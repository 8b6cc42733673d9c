"""What is worked into two parts, compared when one lies in the place of the other.

Three answers: the work lies *alike*, within the tolerance; the part is *keyed*, because dowels do
not go in or because lines and carving on it can be seen to lie wrong; or something sunk lies
*astray*, which nobody sees until it is too late. Work that goes through is part of the outline
and is compared there. All mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString
from shapely.affinity import affine_transform

from letterply.said import Said, say
from letterply.shapes import Region, as_region, hausdorff_mm
from letterply.stacks import Hole, Part

__all__ = ["Lie", "WorkLie", "compare_work", "dowel_shift", "hides_work"]

_Matrix = tuple[float, float, float, float, float, float]

_STEP_MM = 0.2
"""Spacing of the points that stand for lines: their distance is true to half of it."""


class Lie(StrEnum):
    """How the work of a part lies in another place."""

    ALIKE = "alike"
    KEYED = "keyed"
    ASTRAY = "astray"


_NOTHING = Said("")


@dataclass(frozen=True, slots=True)
class WorkLie:
    """How the work of a part lies in another place.

    Attributes:
        lie: the answer.
        what: what lies astray, in words.
        off_mm: how far; None when it comes to lie on the other side.

    """

    lie: Lie
    what: Said = _NOTHING
    off_mm: float | None = None


def compare_work(
    piece: Part,
    place: Part,
    matrix: _Matrix,
    tolerance_mm: float,
    dowel_slack_mm: float,
    *,
    flipped: bool,
) -> WorkLie:
    """Return how the work of `piece`, moved by `matrix`, lies where that of `place` should be.

    `flipped` says that the piece lies face down, so that what is sunk into it is on the wrong
    side.
    """
    own, wanted = _centres(piece.holes, "dowel"), _centres(place.holes, "dowel")
    if flipped and any(h.purpose == "dowel" and h.depth_mm is not None for h in piece.holes):
        return WorkLie(Lie.KEYED)
    if not _same_points(_moved(own, matrix), wanted, dowel_slack_mm):
        return WorkLie(Lie.KEYED)
    if flipped:
        hidden = hides_work(piece)
        return WorkLie(Lie.ASTRAY, say("its worked side")) if hidden else WorkLie(Lie.ALIKE)
    if _carving_apart(piece, place, matrix) > tolerance_mm:
        return WorkLie(Lie.KEYED)
    for purpose in ("engraving", "placement"):
        lines = [affine_transform(line, matrix) for line in _lines(piece, purpose)]
        if _lines_apart(lines, _lines(place, purpose)) > tolerance_mm:
            return WorkLie(Lie.KEYED)
    off = hausdorff_mm(_sunk(piece, matrix), _sunk(place, None))
    if off > tolerance_mm:
        hollow = piece.pockets or place.pockets
        what = say("its pockets") if hollow else say("its blind holes")
        return WorkLie(Lie.ASTRAY, what, off if np.isfinite(off) else None)
    return WorkLie(Lie.ALIKE)


def dowel_shift(piece: Part, place: Part, matrix: _Matrix, reach_mm: float) -> tuple[float, float]:
    """Return the shift that brings the dowel holes of a moved piece onto those of a place.

    Dowels, not the eye, say where a part comes to lie. Nothing where there are none, or where no
    shift within `reach_mm` brings them together.
    """
    own = _moved(_centres(piece.holes, "dowel"), matrix)
    wanted = _centres(place.holes, "dowel")
    if not len(own) or not _same_points(own, wanted, reach_mm):
        return 0.0, 0.0
    _, partner = cKDTree(wanted).query(own)
    x, y = (wanted[partner] - own).mean(axis=0).tolist()
    return x, y


def hides_work(part: Part) -> bool:
    """Whether anything is sunk into a part, or drawn on it, that is lost when it lies wrong.

    Dowel holes are left out, which do not let it lie wrong, and so are placement lines, which are
    only in the way for a moment.
    """
    sunk = part.pockets or part.grooves or _blind(part)
    return bool(sunk) or bool(_lines(part, "engraving"))


def _centres(holes: Sequence[Hole], purpose: str) -> NDArray[np.float64]:
    return np.array([(h.x_mm, h.y_mm) for h in holes if h.purpose == purpose]).reshape(-1, 2)


def _moved(points: NDArray[np.float64], m: _Matrix) -> NDArray[np.float64]:
    moved: NDArray[np.float64] = points @ np.array(m[:4]).reshape(2, 2).T + m[4:]
    return moved


def _same_points(a: NDArray[np.float64], b: NDArray[np.float64], slack_mm: float) -> bool:
    if len(a) != len(b):
        return False
    if not len(a):
        return True
    apart = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    return bool(max(apart.min(axis=0).max(), apart.min(axis=1).max()) <= slack_mm)


def _blind(part: Part) -> list[Hole]:
    return [h for h in part.holes if h.depth_mm is not None and h.purpose != "dowel"]


def _sunk(part: Part, matrix: _Matrix | None) -> Region:
    """Return pockets and blind holes, which a maker does not read as a picture, as one region."""
    discs = [shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2) for h in _blind(part)]
    region = as_region(shapely.union_all([*discs, *(p.region for p in part.pockets)]))
    return region if matrix is None else as_region(affine_transform(region, matrix))


def _carving_apart(piece: Part, place: Part, matrix: _Matrix) -> float:
    own, wanted = (
        as_region(shapely.union_all([g.region for g in p.grooves])) for p in (piece, place)
    )
    return hausdorff_mm(as_region(affine_transform(own, matrix)), wanted)


def _lines(part: Part, purpose: str) -> list[LineString]:
    return [line for s in part.scribes if s.purpose == purpose for line in s.lines]


def _lines_apart(a: Sequence[LineString], b: Sequence[LineString]) -> float:
    """Return the Hausdorff distance of two sets of lines, true to half of `_STEP_MM`."""
    if not a or not b:
        return 0.0 if not a and not b else float("inf")
    first, second = (
        shapely.get_coordinates(shapely.segmentize(shapely.MultiLineString(list(s)), _STEP_MM))
        for s in (a, b)
    )
    there, _ = cKDTree(second).query(first)
    back, _ = cKDTree(first).query(second)
    return float(max(np.max(there), np.max(back)))
