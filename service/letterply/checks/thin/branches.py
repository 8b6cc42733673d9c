"""The branches of an axis, each by what it is in a letter.

An axis falls into *branches* between its nodes of degree other than two (a closed ring is one
branch). Corners come first: what runs out into a convex corner belongs to the corner, and without
it the branches on either side are one. Every rule compares lengths of the same outline, so turning,
moving, mirroring and scaling change no kind. The figures are common practice, no source.

    spur      runs out into a corner: blind, the radius falls to nought, and the walls meet under
              `tip_angle_deg` or more
    tip       tapers: blind, and at its end less than half as wide as where it is widest
    neck      widens to both sides: at its narrowest at most four fifths as wide as on either
              side of it, and so narrow (to within a tenth) over less than three of its widths
    uniform   a stroke of one width: outside of the discs at its ends it varies by no more than a
              quarter, over at least one and a half of its widths
    serif     blind, at most two thirds as wide as the disc that it leaves, and no longer outside
              of it than that disc is wide
    through   anything else: a stroke whose width changes, or a short piece between junctions

They are tried in this order but for the serif, which comes before tip and uniform. A foot on one
side of a stem only goes on from it without a junction and is not told apart. All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from letterply.requests import DEFAULT_RULES
from letterply.shapes import ROUNDING, MedialAxis

__all__ = ["Branch", "BranchKind", "find_branches"]

_Floats = NDArray[np.float64]

_CORNER_SHARE = 0.05
_TIP_SHARE = 0.5
_NECK_SHARE = 0.8
_NECK_RISE = 1.1
_NECK_WIDTHS = 3.0
_EVEN = 1.25
_STROKE_WIDTHS = 1.5
_SERIF_SHARE = 2 / 3
_SERIF_WIDTHS = 1.0

_POINTS = 129
"""Points of a branch, at least: where a rule begins to hold is found to within a step."""


class BranchKind(StrEnum):
    """What a branch is."""

    SPUR = "spur"
    TIP = "tip"
    NECK = "neck"
    UNIFORM = "uniform"
    SERIF = "serif"
    THROUGH = "through"


@dataclass(frozen=True, slots=True)
class Branch:
    """A branch.

    Attributes:
        kind: what it is.
        least_mm: least width.
        at: where it is narrowest.

    """

    kind: BranchKind
    least_mm: float
    at: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """A branch as points and radii in their order, and which of its two ends are blind."""

    edges: tuple[int, ...]
    points: _Floats
    radii: _Floats
    blind: tuple[bool, bool]

    @property
    def along(self) -> _Floats:
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        return np.concatenate(([0.0], np.cumsum(steps)))


def find_branches(
    axis: MedialAxis,
    tolerance_mm: float,
    tip_angle_deg: float = DEFAULT_RULES.tip_angle_deg,
) -> tuple[Branch, ...]:
    """Return the branches of a peeled axis, narrowest first; none for an axis without edges."""
    found: list[Branch] = []
    corners: list[int] = []
    for path in _paths(axis, tolerance_mm):
        if any(path.blind) and path.along[-1] < tolerance_mm:
            corners += path.edges  # what the chords of a curve leave at the centre of a disc
        elif _is_spur(path, tip_angle_deg):
            corners += path.edges
            found.append(_branch(path, BranchKind.SPUR))
    wanted = np.ones(len(axis.edges), dtype=bool)
    wanted[corners] = False
    found += [_branch(p, _kind(p)) for p in _paths(axis.keep(wanted), tolerance_mm)]
    return tuple(sorted(found, key=lambda b: (b.least_mm, b.at)))


def _is_spur(path: _Path, tip_angle_deg: float) -> bool:
    if sum(path.blind) != 1:
        return False
    radii = path.radii if path.blind[0] else path.radii[::-1]
    rise = float(radii[-1] - radii[0])
    if radii[0] > _CORNER_SHARE * radii[-1] or rise <= 0:
        return False
    length = max(float(path.along[-1]), rise)
    return 2 * math.degrees(math.asin(rise / length)) >= tip_angle_deg


def _kind(path: _Path) -> BranchKind:
    blind = sum(path.blind)
    bare = _outside_discs(path, blind_too=True)
    widths = 2 * path.radii
    if blind == 1 and _is_serif(path):
        return BranchKind.SERIF
    if blind:
        ends = [float(widths[i]) for i, is_blind in ((0, path.blind[0]), (-1, path.blind[1]))
                if is_blind]  # fmt: skip
        if min(ends) < _TIP_SHARE * float(widths.max()):
            return BranchKind.TIP
    if _is_neck(path):
        return BranchKind.NECK
    if len(bare) > 1:
        inner = widths[bare]
        length = float(path.along[bare[-1]] - path.along[bare[0]])
        even = float(inner.max()) <= _EVEN * float(inner.min())
        if even and length >= _STROKE_WIDTHS * float(inner.mean()):
            return BranchKind.UNIFORM
    return BranchKind.THROUGH


def _outside_discs(path: _Path, *, blind_too: bool) -> NDArray[np.int64]:
    """Return the points that lie outside of the discs at its ends, in order."""
    out = np.ones(len(path.points), dtype=bool)
    for end, blind in ((0, path.blind[0]), (-1, path.blind[1])):
        if blind_too or not blind:
            away = np.hypot(*(path.points - path.points[end]).T)
            out &= away >= path.radii[end] * (1 - ROUNDING)
    return np.flatnonzero(out)


def _is_serif(path: _Path) -> bool:
    bare = _outside_discs(path, blind_too=False)
    if not len(bare):
        return False
    root = float(2 * path.radii[-1 if path.blind[0] else 0])
    length = float(path.along[bare[-1]] - path.along[bare[0]])
    width = float(2 * path.radii[bare].mean())
    return width <= _SERIF_SHARE * root and length <= _SERIF_WIDTHS * root


def _is_neck(path: _Path) -> bool:
    low = int(np.argmin(path.radii))
    if not 0 < low < len(path.radii) - 1:
        return False
    sides = min(float(path.radii[:low].max()), float(path.radii[low + 1 :].max()))
    least = float(path.radii[low])
    if least > _NECK_SHARE * sides:
        return False
    wide = path.radii > _NECK_RISE * least
    before = np.flatnonzero(wide[:low])
    after = np.flatnonzero(wide[low:])
    first = int(before[-1]) if len(before) else 0
    last = low + int(after[0]) if len(after) else len(wide) - 1
    return float(path.along[last] - path.along[first]) < _NECK_WIDTHS * 2 * least


def _branch(path: _Path, kind: BranchKind) -> Branch:
    low = int(np.argmin(path.radii))
    x, y = path.points[low].tolist()
    return Branch(kind, 2 * float(path.radii[low]), (x, y))


def _denser(points: _Floats, radii: _Floats) -> tuple[_Floats, _Floats]:
    """Return a path with points at even steps between its own: straight edges have none."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(steps)))
    at = np.union1d(along, np.linspace(0, along[-1], _POINTS))
    x, y = (np.interp(at, along, points[:, k]) for k in (0, 1))
    return np.column_stack((x, y)), np.interp(at, along, radii)


def _paths(axis: MedialAxis, tolerance_mm: float) -> list[_Path]:
    """Return the branches of an axis as paths, sampled so that chords and radii are true."""
    if not len(axis.edges):
        return []
    points, radii, starts, sizes = axis.sample(tolerance_mm)
    degree = np.bincount(axis.edges.ravel(), minlength=len(axis.points)).tolist()
    edges = axis.edges.tolist()
    touching: list[list[int]] = [[] for _ in degree]
    for edge, (a, b) in enumerate(edges):
        touching[a].append(edge)
        touching[b].append(edge)
    seen = [False] * len(edges)

    def walk(node: int, edge: int) -> _Path:
        first, taken = node, []
        while True:
            seen[edge] = True
            forward = edges[edge][0] == node
            taken.append((edge, forward))
            node = edges[edge][1 if forward else 0]
            if degree[node] != 2 or node == first:
                break
            edge = next((e for e in touching[node] if not seen[e]), -1)
            if edge < 0:
                break
        rows = []
        for e, forward in taken:
            run = np.arange(starts[e], starts[e] + sizes[e])
            rows.append(run[:-1] if forward else run[::-1][:-1])
        last, forward = taken[-1]
        rows.append(np.array([starts[last] + (sizes[last] - 1 if forward else 0)]))
        order = np.concatenate(rows)
        blind = (degree[first] == 1, degree[node] == 1)
        return _Path(tuple(e for e, _ in taken), *_denser(points[order], radii[order]), blind)

    found = [
        walk(node, edge)
        for node in range(len(degree))
        if degree[node] != 2
        for edge in touching[node]
        if not seen[edge]
    ]
    found += [walk(edges[e][0], e) for e in range(len(edges)) if not seen[e]]
    return found
