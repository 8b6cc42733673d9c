"""Where a bridge can go: places across a cut at which an island comes near its surroundings.

An *island* is a piece of material that a cut frees. Lines in a set of directions are laid across
it; where a line leaves the island, runs through the cut and comes to another piece, a bridge can
lie along it. Neighbouring lines of the same kind form a *band*; a bridge as wide as asked needs a
band at least as wide. What a site costs is how long the bridge gets, and what the eye minds: slant,
a place off the middle, an oblique crossing, a corner close by. All mm, angles in degrees.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from letterply.shapes import ROUNDING, Runs, directions, scan

__all__ = ["Site", "find_sites", "half_extent"]

_Floats = NDArray[np.float64]

_ROWS = 6
"""Lines scanned within the width of a bridge."""

_MOST_ROWS = 600
_EPS_MM = 1e-3
"""How far behind the edge of a cut one looks for what lies there."""

# Prices, in lengths of bridge; chosen by eye on the faces that come with the service.
_LEVEL = 0.12
"""Level instead of upright."""
_SLANTED = 0.4
"""Neither upright nor level."""
_OBLIQUE = 0.5
"""A millimetre by which one side of the bridge is longer than the other."""
_OFF_MIDDLE = 0.6
"""At the rim of the island instead of its middle, in widths of the bridge."""
_NEAR_CORNER = 0.5
"""The crossing ends right beside the bridge, in widths of the bridge."""
_LOWER = 0.05
"""At the foot of the island instead of its head, in widths: of two equal sites the upper."""
_CRAMPED = 3.0
"""The island or the crossing is narrower than the bridge, in widths of the bridge."""


@dataclass(frozen=True, slots=True)
class Site:
    """A place for a bridge.

    Attributes:
        island: index of the island.
        other: index of the piece at the far end.
        angle_deg: direction of the scan.
        outward: 1 when the bridge leaves the island along the direction, -1 against it.
        place: where its middle line is, across the direction.
        start, end: ways along the direction at which the middle line enters and leaves the cut.
        low, high: ways between which the bridge fills the cut.
        full: whether the crossing is as wide as the bridge.
        cost: what it costs; the less, the better.

    """

    island: int
    other: int
    angle_deg: float
    outward: int
    place: float
    start: float
    end: float
    low: float
    high: float
    full: bool
    cost: float

    def point(self, way: float) -> tuple[float, float]:
        """Return a point of the middle line."""
        along, across = directions(self.angle_deg)
        x, y = across * self.place + along * way
        return float(x), float(y)

    @property
    def middle(self) -> tuple[float, float]:
        """Middle of the bridge."""
        return self.point((self.start + self.end) / 2)

    @property
    def heading(self) -> tuple[float, float]:
        """Unit vector from the island outward."""
        along, _ = directions(self.angle_deg)
        return float(along[0] * self.outward), float(along[1] * self.outward)

    def strip(self, width_mm: float) -> Polygon:
        """Return the straight strip that the bridge fills of the cut."""
        along, across = directions(self.angle_deg)
        sides = (self.place - width_mm / 2, self.place + width_mm / 2)
        corners = [
            across * s + along * t
            for s, t in (
                (sides[0], self.low),
                (sides[1], self.low),
                (sides[1], self.high),
                (sides[0], self.high),
            )
        ]
        return Polygon(corners)


def half_extent(piece: Polygon, angle_deg: float) -> tuple[float, float]:
    """Return the middle and half the extent of a piece across a direction."""
    _, across = directions(angle_deg)
    places = shapely.get_coordinates(piece.exterior) @ across
    low, high = float(places.min()), float(places.max())
    return (low + high) / 2, (high - low) / 2


def find_sites(
    island: int,
    held: Sequence[Polygon],
    tree: STRtree,
    cut: Iterable[Polygon],
    width_mm: float,
    angles_deg: Sequence[float],
    upright_deg: float,
) -> list[Site]:
    """Return the sites of an island, cheapest first.

    Args:
        island: its index in `held`.
        held: all pieces of material.
        tree: the same, in the same order.
        cut: the pieces of the cut.
        width_mm: width of the bridge.
        angles_deg: directions to lay lines in.
        upright_deg: the direction that is up for the lettering.

    """
    piece = held[island]
    near = [p for p in cut if shapely.box(*p.bounds).intersects(shapely.box(*piece.bounds))]
    found: list[Site] = []
    for angle in angles_deg:
        middle, half = half_extent(piece, angle)
        step = max(width_mm / _ROWS, 2 * half / _MOST_ROWS)
        rows = max(int(half / step), 1) if half > step else 0
        places: _Floats = middle + step * np.arange(-rows, rows + 1, dtype=np.float64)
        runs = scan(near, angle, places)
        bands = _bands(_crossings(runs, places, angle, island, tree), step)
        lines = _Lines(angle, _slant(angle, upright_deg), middle, half, step)
        for band in bands:
            sites = _sites(band, island, lines, width_mm)
            found += [_tipped(s, upright_deg, width_mm) for s in sites]
    return sorted(found, key=lambda s: (round(s.cost, 6), s.angle_deg, s.place, s.outward))


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines over a piece in one direction.

    Attributes:
        angle_deg: their direction.
        slant: the price of it, as a share of the length.
        middle, half: middle and half the extent of the piece across it.
        step: between two lines.

    """

    angle_deg: float
    slant: float
    middle: float
    half: float
    step: float


@dataclass(slots=True)
class _Band:
    """Crossings on neighbouring lines between the same two pieces."""

    other: int
    outward: int
    rows: list[int]
    places: list[float]
    starts: list[float]
    ends: list[float]


def _tipped(site: Site, upright_deg: float, width: float) -> Site:
    """Return the site, a shade dearer when it leaves the island downward."""
    up, _ = directions(upright_deg)
    down = max(-(site.heading[0] * up[0] + site.heading[1] * up[1]), 0.0)
    return replace(site, cost=site.cost + _LOWER * width * float(down))


def _slant(angle_deg: float, upright_deg: float) -> float:
    """Return the price of a direction, as a share of the length."""
    turn = (angle_deg - upright_deg) % 180
    if min(turn, 180 - turn) < 0.5:
        return 0.0
    return _LEVEL if abs(turn - 90) < 0.5 else _SLANTED


def _crossings(
    runs: Runs, places: _Floats, angle: float, island: int, tree: STRtree
) -> list[tuple[int, int, int, float, float, float]]:
    """Return other, outward, row, place, start and end of every run beside the island."""
    if not len(runs.line):
        return []
    along, across = directions(angle)
    on_line = places[runs.line][:, None] * across
    before = _piece_at(on_line + (runs.start - _EPS_MM)[:, None] * along, tree)
    behind = _piece_at(on_line + (runs.end + _EPS_MM)[:, None] * along, tree)
    found = []
    for outward, own, far in ((1, before, behind), (-1, behind, before)):
        for k in np.flatnonzero((own == island) & (far >= 0) & (far != island)).tolist():
            row = int(runs.line[k])
            found.append(
                (
                    int(far[k]),
                    outward,
                    row,
                    float(places[row]),
                    float(runs.start[k]),
                    float(runs.end[k]),
                )
            )
    return sorted(found)


def _piece_at(points: _Floats, tree: STRtree) -> NDArray[np.int64]:
    """Return the index of the piece that each point lies in, -1 for none."""
    found = np.full(len(points), -1, dtype=np.int64)
    rows, pieces = tree.query(shapely.points(points), predicate="within")
    found[rows] = pieces
    return found


def _bands(crossings: list[tuple[int, int, int, float, float, float]], step: float) -> list[_Band]:
    done: list[_Band] = []
    open_: list[_Band] = []
    for other, outward, row, place, start, end in crossings:
        still = [b for b in open_ if b.other == other and b.outward == outward]
        still = [b for b in still if b.rows[-1] >= row - 1]
        done += [b for b in open_ if b not in still]
        open_ = still
        mate = next(
            (
                b
                for b in open_
                if b.rows[-1] == row - 1 and b.starts[-1] < end and start < b.ends[-1]
            ),
            None,
        )
        if mate is None:
            mate = _Band(other, outward, [], [], [], [])
            open_.append(mate)
        mate.rows.append(row)
        mate.places.append(place)
        mate.starts.append(start)
        mate.ends.append(end)
    return done + open_


def _sites(band: _Band, island: int, lines: _Lines, width: float) -> list[Site]:
    starts, ends, places = np.array(band.starts), np.array(band.ends), np.array(band.places)
    reach = int(np.ceil(width / 2 / lines.step - ROUNDING))
    count = len(places)
    full = count >= 2 * reach + 1
    centres = np.arange(reach, count - reach) if full else np.array([(count - 1) // 2])
    found = []
    for c in centres.tolist():
        window = slice(max(c - reach, 0), c + reach + 1)
        lengths = ends[window] - starts[window]
        longest, shortest = float(lengths.max()), float(lengths.min())
        outer = [c - reach - 2, c - reach - 1, c + reach + 1, c + reach + 2]
        missing = sum(not 0 <= k < count for k in outer) / 4
        off = abs(places[c] - lines.middle) / lines.half if lines.half > 0 else 0.0
        cost = (
            longest * (1 + lines.slant)
            + _OBLIQUE * (longest - shortest)
            + width * (_OFF_MIDDLE * off + _NEAR_CORNER * missing + (0 if full else _CRAMPED))
        )
        low, high = float(starts[window].min()), float(ends[window].max())
        found.append(
            Site(
                island,
                band.other,
                lines.angle_deg,
                band.outward,
                float(places[c]),
                float(starts[c]),
                float(ends[c]),
                low - width / 4,
                high + width / 4,
                full,
                float(cost),
            )
        )
    return found
