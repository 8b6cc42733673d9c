"""In which ways one shape can lie in the place of another within a tolerance.

A *fit* is a rigid move: perhaps a flip (left and right change about the piece's centroid: it lies
face down), a turn about the centroid, and a shift that brings the centroid to the place's. How
well it fits is the Hausdorff distance of the outlines, holes included.

How fits are found: a move that fits brings the piece's farthest point from the centroid to a
point of the place that is as far, within the tolerance; those points give the turns to try. The
ones that pass on a sample of the outline are refined by least squares (each sample point against
the line of the side nearest to it: Chen and Medioni, Image and Vision Computing 10(3), 1992, from
memory), and judged by the Hausdorff distance. So a misfit is that of a placement that exists; the
very best placement can be a shade closer. All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.affinity import translate

from letterply.shapes.hausdorff import farthest_mm, outline_index
from letterply.shapes.regions import Region, as_region
from letterply.shapes.tolerances import LEAST_DIVISOR, LEAST_SQUARE_MM2

__all__ = ["Fit", "Likeness", "find_fits", "misfit_mm"]

_Floats = NDArray[np.float64]
_Move = tuple[float, _Floats]

_STEP_DEG = 1.0
"""Spacing of the turns that are tried: the least squares find the rest of the way."""

_BAND = 3.0
"""How many tolerances the centroids and radii of shapes that fit may differ before refinement."""

_THINNED = 8
"""Every which of the coarse points is looked at, round by round."""

_COARSE_POINTS, _FINE_POINTS = 64, 192
_ROUNDS = 12
_POWER, _DAMPING = 4, 1 / 3
_SURE_MM = 1e-3
"""A point farther off than the tolerance and this much shows a misfit, rounded as it may be."""

_ONE_WAY_DEG = 45.0
_UNDETERMINED = 1e-6
"""A motion that the points hold back by less than this share of what holds the best held one back
is left undone: a disc may be turned at will."""

"""Ways farther apart than this are two to a maker, even if a round shape slides between them."""

_MOST_TURNS = 72
"""Turns refined at most: a shape with more has its corners closer than hands can tell."""


@dataclass(frozen=True, slots=True)
class Fit:
    """One way in which a piece lies in a place.

    Attributes:
        turn_deg: turn about the centroid, counter-clockwise, from 0 up to 360, after the flip.
        flipped: whether the piece is first mirrored left to right about its centroid.
        dx_mm, dy_mm: where its centroid comes to lie, from the centroid of the place.
        misfit_mm: Hausdorff distance of the outlines.

    """

    turn_deg: float
    flipped: bool
    dx_mm: float
    dy_mm: float
    misfit_mm: float

    def matrix(
        self, piece_centroid: tuple[float, float], place_centroid: tuple[float, float]
    ) -> tuple[float, float, float, float, float, float]:
        """Return the move as an affine matrix (a, b, c, d, e, f) for these centroids."""
        (px, py), (qx, qy) = piece_centroid, place_centroid
        (a, b), (c, d) = _linear(self.turn_deg, flipped=self.flipped).tolist()
        e = qx + self.dx_mm - a * px - b * py
        f = qy + self.dy_mm - c * px - d * py
        return a, b, c, d, e, f


class Likeness:
    """A shape prepared for comparison: its outline, centroid at the origin.

    Args:
        region: the shape; must not be empty.

    """

    def __init__(self, region: Region) -> None:
        if region.is_empty:
            raise ValueError("an empty region has no outline to compare")
        x, y = region.centroid.coords[0]
        self.centroid = (float(x), float(y))
        self.index = outline_index(as_region(translate(region, -x, -y)))
        self.area_mm2 = float(region.area)
        self.length_mm = float(region.length)
        self.reach_mm = float(np.hypot(*self.index.starts.T).max())
        self.wobble_mm = self._wobble()
        self._samples: dict[int, _Floats] = {}
        self._near: tuple[cKDTree, float] | None = None

    def _wobble(self) -> float:
        """Return the largest difference of radii on one ring: 0 for a disc or a round washer."""
        a, b = self.index.starts, self.index.ends
        d = b - a
        squared = np.maximum(np.einsum("ij,ij->i", d, d), LEAST_SQUARE_MM2)
        along = -np.einsum("ij,ij->i", a, d) / squared
        least = np.hypot(*(a + d * np.clip(along, 0, 1)[:, None]).T)
        largest = np.hypot(*a.T)
        worst = 0.0
        for first, after in self.index.runs():
            worst = max(worst, float(largest[first:after].max() - least[first:after].min()))
        return worst

    def sample(self, count: int) -> _Floats:
        """Return points evenly spaced along the outline, (count, 2), centroid at the origin."""
        found = self._samples.get(count)
        if found is None:
            a, b = self.index.starts, self.index.ends
            sides = np.hypot(*(b - a).T)
            edge = np.concatenate(([0.0], np.cumsum(sides)))
            at = (np.arange(count) + 0.5) * (edge[-1] / count)
            row = np.clip(np.searchsorted(edge, at, side="right") - 1, 0, len(sides) - 1)
            share = (at - edge[row]) / np.maximum(sides[row], LEAST_DIVISOR)
            found = a[row] + (b - a)[row] * share[:, None]
            self._samples[count] = found
        return found

    def near(self) -> tuple[cKDTree, float]:
        """Return points along the outline in a tree, and the largest gap between them, mm."""
        if self._near is None:
            count = int(np.clip(self.length_mm / 0.25, 256, 4096))
            points = np.vstack((self.sample(count), self.index.starts))
            self._near = cKDTree(points), self.length_mm / count
        return self._near


def find_fits(
    piece: Likeness, place: Likeness, tolerance_mm: float, *, flipped: bool = False
) -> tuple[Fit, ...]:
    """Return the ways in which a piece lies in a place within the tolerance, by their turn.

    With `flipped` the piece lies face down. A piece in its own place lies there unturned, too.
    Of ways that run into each other, so that it fits half-way between them as well, the best
    counts. A round piece (its `wobble_mm` within the tolerance) fits at any turn and gives one.

    Raises:
        ValueError: the tolerance is not above 0.

    """
    if not tolerance_mm > 0:
        raise ValueError("a tolerance is above 0")
    if not _could_fit(piece, place, tolerance_mm):
        return ()
    found: list[Fit] = []
    for turn in _turns_to_try(piece, place, tolerance_mm, flipped=flipped):
        fit = _refined(piece, place, tolerance_mm, turn, flipped=flipped)
        if fit is not None:
            found.append(fit)
    kept: list[Fit] = []
    for fit in sorted(found, key=lambda f: (f.misfit_mm, f.turn_deg)):
        if not any(_same(fit, other, piece, place, tolerance_mm) for other in kept):
            kept.append(fit)
    return tuple(sorted(kept, key=lambda f: f.turn_deg))


def misfit_mm(
    piece: Likeness,
    place: Likeness,
    turn_deg: float,
    *,
    flipped: bool = False,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    stop_above_mm: float = math.inf,
) -> float:
    """Return the Hausdorff distance of a piece, flipped, turned and shifted, from a place.

    `shift_mm` is where its centroid lies from the place's. Above `stop_above_mm` the answer is
    some lower bound above that.
    """
    move = _linear(turn_deg, flipped=flipped)
    moved = piece.index.starts @ move.T + shift_mm
    there = farthest_mm(moved, piece.index.following, place.index, stop_above_mm=stop_above_mm)
    if there > stop_above_mm:
        return there
    # A rigid move keeps distances: the place is moved the other way, so both indexes serve.
    back = (place.index.starts - shift_mm) @ move
    away = farthest_mm(back, place.index.following, piece.index, stop_above_mm=stop_above_mm)
    return max(there, away)


def _linear(turn_deg: float, *, flipped: bool) -> _Floats:
    turn = math.radians(turn_deg)
    made = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    return made * np.array([-1.0, 1.0]) if flipped else made


def _could_fit(piece: Likeness, place: Likeness, tolerance_mm: float) -> bool:
    """Whether area and reach allow a fit: outlines that close leave a ribbon between them."""
    ribbon = 2 * tolerance_mm * min(piece.length_mm, place.length_mm) + math.pi * tolerance_mm**2
    return (
        abs(piece.area_mm2 - place.area_mm2) <= ribbon
        and abs(piece.reach_mm - place.reach_mm) <= _BAND * tolerance_mm
    )


def _turns_to_try(
    piece: Likeness, place: Likeness, tolerance_mm: float, *, flipped: bool
) -> list[float]:
    """Return turns in degrees that pass on a sample of the outline, the best first."""
    if max(piece.wobble_mm, place.wobble_mm) <= tolerance_mm:
        return [0.0]
    slack = _BAND * tolerance_mm
    tree, gap = place.near()
    mirror = np.array([-1.0, 1.0]) if flipped else np.array([1.0, 1.0])
    corners = piece.index.starts * mirror
    anchor = corners[int(np.argmax(np.hypot(*corners.T)))]
    points = np.asarray(tree.data)
    radius = np.hypot(*points.T)
    band = points[np.abs(radius - piece.reach_mm) <= slack + gap]
    turn = np.degrees(np.arctan2(band[:, 1], band[:, 0]) - np.arctan2(anchor[1], anchor[0]))
    steps = np.unique(np.rint((turn % 360) / _STEP_DEG).astype(np.int64) % round(360 / _STEP_DEG))
    angle = np.radians(steps * _STEP_DEG)
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    sample = piece.sample(_COARSE_POINTS) * mirror
    allowed = slack + gap + piece.reach_mm * math.radians(_STEP_DEG) / 2
    worst = np.full(round(360 / _STEP_DEG), np.inf)
    far = np.zeros(len(steps))
    open_ = np.arange(len(steps))
    # A few points refute most turns: only the others are asked for all.
    for first in range(_THINNED):
        x = cos[open_] * sample[first::_THINNED, 0] - sin[open_] * sample[first::_THINNED, 1]
        y = sin[open_] * sample[first::_THINNED, 0] + cos[open_] * sample[first::_THINNED, 1]
        away, _ = tree.query(np.stack((x, y), axis=2), distance_upper_bound=allowed)
        far[open_] = np.maximum(far[open_], np.asarray(away).max(axis=1))
        open_ = open_[np.isfinite(far[open_])]
    worst[steps] = far
    # Only where no turn next to it, or next but one, does better: elsewhere it slides there.
    beside = np.minimum.reduce([np.roll(worst, k) for k in (-2, -1, 1, 2)])
    low = np.flatnonzero(np.isfinite(worst) & (worst <= beside))
    best = low[np.lexsort((low, worst[low]))][:_MOST_TURNS]
    return [float(t) for t in best * _STEP_DEG]


def _refined(
    piece: Likeness, place: Likeness, tolerance_mm: float, turn_deg: float, *, flipped: bool
) -> Fit | None:
    """Return the fit near a turn, or None when it is no fit.

    A piece in its own place, as it is, is no way off. Else first plain least squares; then rounds
    in which the points that are farthest off weigh most, to bring down the largest distance, which
    is what is judged. The better of the two counts.
    """
    if piece is place and not flipped and not turn_deg:
        return Fit(0.0, False, 0.0, 0.0, 0.0)
    start = _linear(turn_deg, flipped=flipped)
    settled = _settle(piece, place, start, (0.0, np.zeros(2)), tolerance_mm)
    if settled is None:
        return None
    best: Fit | None = None
    for (turn, shift), least in _levelled(piece, place, start, settled, tolerance_mm):
        if least > tolerance_mm + _SURE_MM:
            continue  # a point of the outline is farther off already
        angle = round((turn_deg + math.degrees(turn)) % 360, 6) % 360
        at = (float(shift[0]), float(shift[1]))
        miss = misfit_mm(
            piece, place, angle, flipped=flipped, shift_mm=at, stop_above_mm=tolerance_mm
        )
        if miss <= tolerance_mm and (best is None or miss < best.misfit_mm):
            best = Fit(angle, flipped, *at, miss)
    return best


def _settle(
    piece: Likeness, place: Likeness, start: _Floats, move: _Move, tolerance_mm: float
) -> _Move | None:
    """Return the small turn in radians and the shift of least squares; None if far from a fit."""
    turn, shift = move
    points = piece.sample(_FINE_POINTS) @ start.T
    for number in range(_ROUNDS):
        away, side = place.index.nearest(points)
        # Three rounds bring what fits close: then the mean tells what does not.
        if number == 3 and float(away.mean()) > tolerance_mm:
            return None
        by, along = _step(points, np.ones(len(points)), place, side, piece.reach_mm)
        points, turn, shift = _moved(points, by, along), turn + by, _moved(shift, by, along)
        if max(abs(by) * piece.reach_mm, float(np.abs(along).max())) < 1e-5:
            break
    return turn, shift


def _levelled(
    piece: Likeness, place: Likeness, start: _Floats, move: _Move, tolerance_mm: float
) -> tuple[tuple[_Move, float], ...]:
    """Return the move, and the one near it with the least largest distance in some rounds.

    Each comes with that distance, of points along the outline: it is farther off by no less.
    """
    turn, shift = move
    points = piece.sample(_FINE_POINTS) @ start.T @ _linear(math.degrees(turn), flipped=False).T
    points = points + shift
    best, least = move, math.inf
    at_first = math.inf
    for number in range(_ROUNDS):
        away, side = place.index.nearest(points)
        largest = float(away.max())
        if not number:
            at_first = largest
        if largest < least:
            best, least = (turn, shift) if number else move, largest
        if largest < tolerance_mm / 100:
            break
        by, along = _step(points, away**_POWER, place, side, piece.reach_mm)
        # Undamped it swings from one far point to the next.
        by, along = by * _DAMPING, along * _DAMPING
        points, turn, shift = _moved(points, by, along), turn + by, _moved(shift, by, along)
    return ((move, at_first),) if best is move else ((move, at_first), (best, least))


def _moved(points: _Floats, by: float, along: _Floats) -> _Floats:
    moved: _Floats = points @ _linear(math.degrees(by), flipped=False).T + along
    return moved


def _step(
    points: _Floats, weights: _Floats, place: Likeness, side: NDArray[np.int64], reach_mm: float
) -> tuple[float, _Floats]:
    """Return the small turn in radians and the shift that bring points closest to their sides."""
    a = place.index.starts[side]
    d = place.index.starts[place.index.following[side]] - a
    n = np.column_stack((-d[:, 1], d[:, 0])) / np.maximum(np.hypot(*d.T), LEAST_DIVISOR)[:, None]
    gap = np.einsum("ij,ij->i", n, a - points)
    # Turning by a small angle moves (x, y) by (-y, x) times the angle.
    lever = (n[:, 1] * points[:, 0] - n[:, 0] * points[:, 1]) / reach_mm
    root = np.sqrt(weights / max(float(weights.max()), 1e-300))
    unknown = np.column_stack((n, lever)) * root[:, None]
    step = np.linalg.lstsq(unknown, gap * root, rcond=_UNDETERMINED)[0]
    return float(step[2]) / reach_mm, step[:2]


def _same(a: Fit, b: Fit, piece: Likeness, place: Likeness, tolerance_mm: float) -> bool:
    """Whether two fits are one: next to each other, or with nothing but fits between them."""
    apart = _between(a.turn_deg, b.turn_deg)
    if math.radians(apart) * piece.reach_mm < _BAND * tolerance_mm:
        return True
    if apart > _ONE_WAY_DEG:
        return False
    rise = (b.turn_deg - a.turn_deg + 180) % 360 - 180
    half = a.turn_deg + rise / 2
    shift = (a.dx_mm + b.dx_mm) / 2, (a.dy_mm + b.dy_mm) / 2
    miss = misfit_mm(
        piece, place, half, flipped=a.flipped, shift_mm=shift, stop_above_mm=tolerance_mm
    )
    return miss <= tolerance_mm


def _between(a_deg: float, b_deg: float) -> float:
    """Return the angle between two directions, 0 to 180 degrees."""
    return abs((a_deg - b_deg + 180) % 360 - 180)
