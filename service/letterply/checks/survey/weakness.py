"""Weak spots: what of an outline is a blocker at which scale, from its measures alone.

Measures in, weak spots out. The rules are those of `letterply.checks.thin.necks` (material too thin
for its rule, or snapped by less than the load it must stand) and `letterply.checks.gaps.gaps` (a
counter that no cutter enters), turned about: not what is wrong at a size, but from which size on
it is right. The *scale* of a spot is mm a mm of the reference: below it the spot is a blocker, at
it and above it is not. All lengths are those of the reference unless said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from letterply.catalogue import Cutter, CutterRack, Material
from letterply.checks.survey.measures import PieceMeasures
from letterply.checks.thin.intervals import Ramp, WidthInterval
from letterply.checks.thin.strength import Snap, snap_load
from letterply.requests import DEFAULT_RULES, CheckRules, HoldDown
from letterply.shapes import LEAST_DIVISOR, ROUNDING, diagonal

__all__ = ["Judge", "Terms", "WeakSpot"]

Point = tuple[float, float]

_TIP_SHARE = 0.2
_THIN_SHARE = 4.0
_HALVINGS = 24


@dataclass(frozen=True, slots=True)
class Terms:
    """What lettering is to be cut from and with.

    Attributes:
        material: kind of sheet.
        thickness_mm: its thickness.
        cutters: the rack; those that do not reach through are left out of account.
        rules: limits of the checks.
        supported: True when it is glued flat onto a layer below.

    """

    material: Material
    thickness_mm: float
    cutters: tuple[Cutter, ...]
    rules: CheckRules = field(default=DEFAULT_RULES)
    supported: bool = False

    @property
    def limit_mm(self) -> float:
        """Least safe width of material."""
        return self.material.min_web(self.thickness_mm)

    @property
    def cutter(self) -> Cutter | None:
        """The smallest cutter that goes through, or None."""
        fitting = self.rack.through(self.thickness_mm, HoldDown.TABS)
        return fitting[0] if fitting else None

    @property
    def rack(self) -> CutterRack:
        """What may cut the material; no machine is chosen."""
        return CutterRack(self.cutters, self.material)

    @property
    def needed_n(self) -> float:
        """Load that breaks a part which may just be trusted, N."""
        rules = self.rules
        load = rules.supported_load_n if self.supported else rules.handling_load_n
        return load * rules.safety_factor

    @property
    def strength_mpa(self) -> float:
        """Bending strength in the weakest direction: a letter has some short grain in each."""
        return self.material.weakest_mpa(self.thickness_mm)


@dataclass(frozen=True, slots=True)
class WeakSpot:
    """A place that is a blocker below a scale.

    Attributes:
        kind: `neck` (more than one way out), `stroke` (one), `whole` (thin throughout) or
            `counter` (a hole that closes).
        piece: number of the piece.
        at: where.
        feet: the two points of the outline there; the same point twice for a counter.
        width_mm: how wide.
        scale: mm a mm of the reference from which on it is no blocker.
        reach_mm: lever of what breaks off there, or None.

    """

    kind: str
    piece: int
    at: Point
    feet: tuple[Point, Point]
    width_mm: float
    scale: float
    reach_mm: float | None = None

    def on(self, piece: int, origin: Point) -> WeakSpot:
        """Return the spot on a piece, moved from the frame of its shape to where that lies."""
        a, b = self.feet
        feet = (_moved(a, origin), _moved(b, origin))
        return replace(self, piece=piece, at=_moved(self.at, origin), feet=feet)

    def load_n(self, terms: Terms, scale: float) -> float | None:
        """Return the load that snaps it at a scale, N, or None where nothing breaks off."""
        if self.reach_mm is None:
            return None
        width, reach = self.width_mm * scale, self.reach_mm * scale
        return snap_load(width, terms.thickness_mm, reach, terms.strength_mpa).load_n


class Judge:
    """Says of outlines what is weak on given terms; what was said of a shape is kept.

    A letter that comes back, under an accent or in a word, is judged once.
    """

    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self._limit_mm, self._needed_n = terms.limit_mm, terms.needed_n
        self._thickness_mm, self._strength_mpa = terms.thickness_mm, terms.strength_mpa
        self._cutter = terms.cutter
        # The intervals stand for the shape: they are shared by its pieces, and kept alive here.
        self._weakest: dict[int, tuple[object, WeakSpot | None]] = {}
        self._blocked: dict[tuple[int, float], tuple[object, tuple[WeakSpot, ...]]] = {}

    def weak_spots(self, pieces: Sequence[PieceMeasures]) -> tuple[WeakSpot, ...]:
        """Return the spot that governs the inside of each piece, and all counters, worst first."""
        found = self._counters(pieces)
        for number, piece in enumerate(pieces):
            thin = self._governing(piece)
            if thin is not None:
                found.append(thin.on(number, piece.origin))
        return _ranked(found)

    def blocked_at(self, pieces: Sequence[PieceMeasures], scale: float) -> tuple[WeakSpot, ...]:
        """Return what is a blocker at a scale, worst first."""
        found = [w for w in self._counters(pieces) if w.scale > scale]
        for number, piece in enumerate(pieces):
            found += [spot.on(number, piece.origin) for spot in self._blocked_in(piece, scale)]
        return _ranked(found)

    def _counters(self, pieces: Sequence[PieceMeasures]) -> list[WeakSpot]:
        """Return every hole with the scale at which the cutter enters it; none without a cutter."""
        if self._cutter is None:
            return []
        width = self._cutter.diameter_mm
        return [
            WeakSpot("counter", 0, c.at, (c.at, c.at), c.width_mm, width / c.width_mm).on(
                number, piece.origin
            )
            for number, piece in enumerate(pieces)
            for c in piece.counters
        ]

    def _governing(self, piece: PieceMeasures) -> WeakSpot | None:
        """Return the spot of a shape's inside that asks for the largest scale, in its own frame."""
        shape = id(piece.intervals)
        if shape not in self._weakest:
            self._weakest[shape] = piece.intervals, self._weakest_of(piece)
        return self._weakest[shape][1]

    def _weakest_of(self, piece: PieceMeasures) -> WeakSpot | None:
        best, worst = math.inf, None
        longest = diagonal(piece.outline)
        for interval in piece.intervals:  # by the limit at which they begin
            if interval.low_mm >= best:
                break
            if self._least_possible(interval, longest) >= min(interval.high_mm, best):
                continue  # it need not be asked what would break off
            first = self._first_blocked(piece, interval)
            if first is not None and first < best:
                best, worst = first, interval
        return None if worst is None else self._spot(piece, worst, self._limit_mm / best)

    def _blocked_in(self, piece: PieceMeasures, scale: float) -> tuple[WeakSpot, ...]:
        key = id(piece.intervals), scale
        if key not in self._blocked:
            limit = self._limit_mm / scale
            found = [
                self._spot(
                    piece,
                    interval,
                    self._limit_mm / (self._first_blocked(piece, interval) or limit),
                )
                for interval in piece.intervals
                if interval.low_mm < limit <= interval.high_mm
                and self._is_blocked(piece, interval, limit)
            ]
            self._blocked[key] = piece.intervals, _each_once(found)
        return self._blocked[key][1]

    def _spot(self, piece: PieceMeasures, interval: WidthInterval, scale: float) -> WeakSpot:
        kind = ("whole", "stroke", "neck")[min(interval.exits, 2)]
        pairs = piece.levers(interval)
        if not pairs:
            return WeakSpot(kind, 0, interval.at, interval.cuts[0].feet, interval.width_mm, scale)
        cut, reach = min(
            pairs, key=lambda p: self._snap(p[0].width_mm * scale, p[1] * scale).load_n
        )
        (x0, y0), (x1, y1) = cut.feet
        at = ((x0 + x1) / 2, (y0 + y1) / 2)
        return WeakSpot(kind, 0, at, cut.feet, cut.width_mm, scale, reach)

    def _snap(self, width_mm: float, reach_mm: float) -> Snap:
        return snap_load(width_mm, self._thickness_mm, reach_mm, self._strength_mpa)

    def _first_blocked(self, piece: PieceMeasures, interval: WidthInterval) -> float | None:
        """Return the least limit (of the reference) at which an interval is a blocker, or None.

        The scale is the rule's limit over that: a width of w is s w mm there, a reach of r s r mm.
        """
        if interval.exits == 1:
            return self._first_on_ramp(piece, interval) if interval.ramp is not None else None
        first = max(interval.low_mm, self._first_weak(piece, interval))
        return first if first < interval.high_mm else None

    def _first_weak(self, piece: PieceMeasures, interval: WidthInterval) -> float:
        """Return the least limit at which an interval is too weak somewhere, or too thin."""
        pairs = piece.levers(interval)
        first = math.inf if pairs and interval.exits else _THIN_SHARE * interval.width_mm
        for cut, reach in pairs:
            # Out of the plane the breaking load is the same at every scale: width and lever grow
            # alike. In the plane it grows with the scale.
            load = self._snap(cut.width_mm, reach)
            if load.out_of_plane_n < self._needed_n:
                return 0.0
            first = min(first, self._limit_mm * load.in_plane_n / self._needed_n)
        return first

    def _least_possible(self, interval: WidthInterval, longest: float) -> float:
        """Return a limit below which an interval is no blocker, whatever a cut frees.

        No lever is longer than the piece. What is thin throughout is cut elsewhere too, where it
        may be weaker: there is no telling.
        """
        if not interval.exits:
            return interval.low_mm
        load = self._snap(interval.width_mm, longest)
        if load.out_of_plane_n < self._needed_n:
            return interval.low_mm
        weak = self._limit_mm * load.in_plane_n / self._needed_n
        return max(interval.low_mm, min(weak, _THIN_SHARE * interval.width_mm))

    def _first_on_ramp(self, piece: PieceMeasures, interval: WidthInterval) -> float | None:
        """Return the least limit at which a blind stroke is a blocker, no corner and no tip."""
        ramp, rules = interval.ramp, self.terms.rules
        if ramp is None or not len(ramp.limits_mm):
            return None
        if not _is_stroke(interval, ramp, ramp.limits_mm, rules).any():
            return None  # it need not be asked what would break off
        weak = self._first_weak(piece, interval)
        limits = np.unique(np.append(ramp.limits_mm, weak))
        good = (limits >= weak) & (limits > interval.low_mm) & (limits <= interval.high_mm)
        hits = np.flatnonzero(good & _is_stroke(interval, ramp, limits, rules))
        if not len(hits):
            return None
        high = float(limits[hits[0]])
        low = max(float(limits[hits[0] - 1]) if hits[0] else interval.low_mm, interval.low_mm)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            inside = middle >= weak
            if inside and _is_stroke(interval, ramp, np.array([middle]), rules)[0]:
                high = middle
            else:
                low = middle
        return high

    def _is_blocked(self, piece: PieceMeasures, interval: WidthInterval, limit: float) -> bool:
        if interval.exits == 1:
            ramp = interval.ramp
            if ramp is None or limit > ramp.limits_mm[-1] * (1 + ROUNDING):
                return False
            if not _is_stroke(interval, ramp, np.array([limit]), self.terms.rules)[0]:
                return False
        return limit >= self._first_weak(piece, interval)


def _each_once(spots: list[WeakSpot]) -> tuple[WeakSpot, ...]:
    """Return spots without those that are another one again: nearer than a quarter of a width."""
    found: list[WeakSpot] = []
    for spot in spots:
        if all(math.dist(spot.at, known.at) > spot.width_mm / 4 for known in found):
            found.append(spot)
    return tuple(found)


def _ranked(spots: list[WeakSpot]) -> tuple[WeakSpot, ...]:
    return tuple(sorted(spots, key=lambda w: (-w.scale, w.piece, w.at)))


def _moved(point: Point, origin: Point) -> Point:
    return point[0] + origin[0], point[1] + origin[1]


def _is_stroke(
    interval: WidthInterval, ramp: Ramp, limits: np.ndarray, rules: CheckRules
) -> np.ndarray:
    """Tell at which limits a zone with one exit is a stroke, and neither a corner nor a tip."""
    length = np.interp(limits, ramp.limits_mm, ramp.lengths_mm)
    width = np.interp(limits, ramp.limits_mm, ramp.widths_mm)
    rise = np.clip((width - interval.width_mm) / np.maximum(length, LEAST_DIVISOR), 0, 1)
    sharp = 2 * np.degrees(np.arcsin(rise)) <= rules.tip_angle_deg
    long = length + interval.width_mm / 2 >= limits / (
        2 * math.sin(math.radians(rules.tip_angle_deg / 2))
    )
    found: np.ndarray = sharp & long & (interval.width_mm >= _TIP_SHARE * limits)
    return found
