"""Measures of toolpaths, worked out from ends, centres and senses alone."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.cutting.toolpath import Toolpath
from letterply.proof.reading.moves import Segments

Floats = NDArray[np.float64]


def starts_of(path: Toolpath) -> Floats:
    """Return where each move starts, (n, 3)."""
    return np.vstack((path.start[None], path.ends[:-1]))


def sweeps_of(path: Toolpath) -> Floats:
    """Return the signed angle of each arc in radians, 0 for lines; its way is `senses`."""
    a, b = starts_of(path)[:, :2] - path.centres, path.ends[:, :2] - path.centres
    turn = np.arctan2(b[:, 1], b[:, 0]) - np.arctan2(a[:, 1], a[:, 0])
    turn = np.mod(turn * path.senses, 2 * np.pi) * path.senses
    return np.where(path.senses == 0, 0.0, turn)


def plan_lengths(path: Toolpath) -> Floats:
    """Return the length of each move as seen from above, (n,) mm."""
    chord = path.ends - starts_of(path)
    radii = np.hypot(*(starts_of(path)[:, :2] - path.centres).T)
    return np.where(
        path.senses == 0, np.hypot(chord[:, 0], chord[:, 1]), np.abs(sweeps_of(path)) * radii
    )


def dense(path: Toolpath, step_mm: float = 0.1) -> tuple[Floats, NDArray[np.int64]]:
    """Return points along a path, (k, 3), no farther apart than the step, and their moves."""
    a, turns, lengths = starts_of(path), sweeps_of(path), plan_lengths(path)
    long = np.maximum(lengths, np.abs(path.ends[:, 2] - a[:, 2]))
    counts = np.maximum(1, np.ceil(long / step_mm)).astype(int)
    counts = np.maximum(counts, np.ceil(np.abs(turns) / math.radians(1.5)).astype(int))
    move = np.repeat(np.arange(len(path)), counts + 1)
    share = np.concatenate([np.linspace(0, 1, c + 1) for c in counts])[:, None]
    points = a[move] + (path.ends - a)[move] * share
    arc = path.senses[move] != 0
    centre, out = path.centres[move][arc], (a[:, :2] - path.centres)[move][arc]
    angle = turns[move][arc] * share[arc, 0]
    cos, sin = np.cos(angle), np.sin(angle)
    points[arc, 0] = centre[:, 0] + out[:, 0] * cos - out[:, 1] * sin
    points[arc, 1] = centre[:, 1] + out[:, 0] * sin + out[:, 1] * cos
    return points, move


def chords(path: Toolpath, step_mm: float = 0.1) -> Segments:
    """Return a path as straight pieces for the removal of the proof."""
    points, move = dense(path, step_mm)
    same = np.flatnonzero(move[1:] == move[:-1])
    return Segments(points[same].copy(), points[same + 1].copy(), move[same])


def swept(path: Toolpath, radius_mm: float, *, at_mm: float | None = None) -> BaseGeometry:
    """Return what a flat cutter covers, of all of the path or of what runs at a depth.

    The outline lies inside the true one by 0.003 mm at most, for the sizes used here.
    """
    pieces = chords(path, 1e9)
    keep = np.any(pieces.starts[:, :2] != pieces.ends[:, :2], axis=1)
    if at_mm is not None:
        keep &= np.maximum(pieces.starts[:, 2], pieces.ends[:, 2]) <= at_mm + 1e-6
    lines = shapely.linestrings(np.stack((pieces.starts[keep, :2], pieces.ends[keep, :2]), axis=1))
    return shapely.union_all(shapely.buffer(lines, radius_mm, quad_segs=24))


def slopes_deg(path: Toolpath) -> Floats:
    """Return by how many degrees each move goes down (above 0) or up, 90 for straight down."""
    down = starts_of(path)[:, 2] - path.ends[:, 2]
    return np.degrees(np.arctan2(down, plan_lengths(path)))


def signed_area(points: Floats) -> float:
    """Return the area that a closed chain goes round, above 0 counter-clockwise."""
    x, y = points[:, 0], points[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2


def runs(flags: NDArray[np.bool_]) -> list[slice]:
    """Return the stretches in which flags are True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
