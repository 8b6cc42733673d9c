"""Stencil bridges: a cut and what it is cut from in, the cut without bridges out; no island left.

An *island* is a piece of material that lies inside a hole of another one once the cut is made:
the counter of an O, the ring of a ◎, the counters of both letters in a ®. Bridges run straight
across the cut, a pair on one line through a large counter, one for a small one, upright where
that is not much longer than any other way: so a word keeps one rhythm. They end on other
material, which may be an island too; what is not held by the rim in the end gets more bridges.
All mm, angles in degrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Material, MaterialClass
from letterply.shapes import ROUNDING, Region, as_region, normalise, polygons
from letterply.stacks.repairs.bridge_sites import Site, find_sites

__all__ = ["Bridge", "bridge_islands", "bridge_width", "islands_of"]

_LEAST_WIDTH_MM = {
    MaterialClass.ACRYLIC: 3.0,
    MaterialClass.PLASTIC: 3.0,
    MaterialClass.METAL: 1.0,
}
"""Least width of a bridge, 2 mm for the wooden materials; common practice, no source."""

_LARGE = 4.0
"""An island longer than this many widths of the bridge gets two; common practice, no source."""

_DUST_MM2 = 0.01
"""A piece smaller than this goes with the cut: a hair that fonts leave where strokes overlap."""

_HAIR_MM = 1e-3

_CRAMPED_WIDTH = 1.25
"""Where an island or a crossing is narrower than its bridge, the bridge is wider than asked, in
widths: it holds with its ends what it cannot hold with its sides."""

_TURNS = (0, 90, 15, 30, 45, 60, 75, 105, 120, 135, 150, 165)
_ROUNDS = 8
"""Rounds of bridges beyond one for each island: more do not help."""

_FEW = 160
"""Sites of an island that are compared in pairs."""

# Prices of a pair, in widths of the bridge; chosen by eye on the faces that come with the service.
_NOT_OPPOSITE = 2.0
"""Both bridges on the same side of the island, instead of opposite each other."""
_NOT_IN_LINE = 0.7
"""The bridges are on two lines."""
_CHAINED = 2.0
"""A single bridge leads to another island, which hangs on a single bridge too."""
_BUNCHED = 3.0
"""A further bridge leaves the island on the side where there is one."""
_TOO_NEAR = 2.0
"""Distance between the middle lines of two bridges that is never gone below."""


@dataclass(frozen=True, slots=True)
class Bridge:
    """A bridge that was put in.

    Attributes:
        line: its middle line across the cut.
        region: what stays of the cut.
        width_mm: its width.

    """

    line: LineString
    region: Region
    width_mm: float

    @property
    def length_mm(self) -> float:
        """How long it is, from edge to edge of the cut."""
        return float(self.line.length)


def bridge_width(material: Material, thickness_mm: float) -> float:
    """Return the width of a bridge: about the thickness, and what the material needs.

    At least 3 mm in acrylic, 2 mm in wood and 1 mm in metal (common practice, no source), and
    never less than the least safe web of the material and thickness.
    """
    least = _LEAST_WIDTH_MM.get(material.kind, 2.0)
    return max(least, material.min_web(thickness_mm))


def islands_of(pieces: Sequence[Polygon]) -> list[int]:
    """Return the indices of the pieces that lie inside a hole of another one."""
    rims = np.array([Polygon(p.exterior) for p in pieces], dtype=object)
    if len(rims) < 2:
        return []
    inside, around = STRtree(rims).query(np.array(pieces, dtype=object), predicate="within")
    return sorted({i for i, j in zip(inside.tolist(), around.tolist(), strict=True) if i != j})


def bridge_islands(
    cut: Region,
    solid: Region,
    width_mm: float,
    *,
    angle_deg: float | None = None,
    count: int | None = None,
    upright_deg: float = 90.0,
    turn_of: Callable[[Polygon], float] | None = None,
) -> tuple[Region, tuple[Bridge, ...]]:
    """Return what is still cut, and the bridges that hold what would have dropped out.

    Args:
        cut: what is to be cut through.
        solid: the material before the cut.
        width_mm: width of every bridge; they come out a hair wider, never narrower.
        angle_deg: direction in which bridges run, where there is a way; None for the best.
        count: bridges for each island, where there is room; None for two in large ones, one in
            small ones.
        upright_deg: the direction that is up for the lettering.
        turn_of: says how far the letter round an island is turned, in degrees, on a baseline that
            bends; both directions turn with it.

    The cut minus the result is exactly the bridges. Dust (under 0.01 mm²) goes with the cut; what
    was an island before the cut stays one.

    """
    bridges: list[Bridge] = []
    left = cut
    # A hair wider than asked: what is measured on the grid must not fall short of it.
    width = width_mm + 4e-4
    held, freed = _state(solid, left)
    for _ in range(_ROUNDS + len(freed)):
        waiting = [i for i in freed if held[i].area >= _DUST_MM2]
        if not waiting:
            break
        turns = {i: turn_of(held[i]) if turn_of else 0.0 for i in waiting}
        # Where what was asked for leads nowhere, anything else will do.
        wish = (None, 1) if bridges else (angle_deg, count)
        added = _bridge_all(held, turns, left, width, upright_deg, *wish)
        if not added:
            added = [_shortest(held, waiting[0], left, width)]
        bridges += [bridge for bridge, _ in added]
        gone = shapely.union_all([blade for _, blade in added])
        left = as_region(shapely.difference(left, gone))
        held, freed = _state(solid, left)
    dust = [held[i] for i in freed if held[i].area < _DUST_MM2]
    return normalise(shapely.union_all([left, *dust])), tuple(bridges)


def _directions(angle_deg: float | None, upright_deg: float) -> tuple[float, ...]:
    if angle_deg is not None:
        return (angle_deg,)
    return tuple((upright_deg + turn) % 180 for turn in _TURNS)


def _state(solid: Region, cut: Region) -> tuple[tuple[Polygon, ...], list[int]]:
    """Return the pieces that a cut leaves, and which of them it has freed."""
    held = polygons(shapely.difference(solid, cut))
    return held, _freed(held, solid)


def _freed(held: Sequence[Polygon], solid: Region) -> list[int]:
    """Return the islands that the cut has freed: each was one with what lies round it."""
    at = np.array([p.representative_point() for p in held], dtype=object)
    piece, whole = STRtree(at).query(np.array(polygons(solid), dtype=object), "contains")[::-1]
    found: list[int] = []
    for each in np.unique(whole).tolist():
        members = piece[whole == each].tolist()
        found += [members[i] for i in islands_of([held[m] for m in members])]
    return sorted(found)


def _bridge_all(
    held: Sequence[Polygon],
    turns: Mapping[int, float],
    cut: Region,
    width: float,
    upright_deg: float,
    angle_deg: float | None,
    count: int | None,
) -> list[tuple[Bridge, BaseGeometry]]:
    """Return bridges for every island; they may still hold one another only.

    `turns` are the islands, each with the turn of its letter.
    """
    waiting = sorted(turns)
    tree = STRtree(held)
    pieces = polygons(cut)
    taken: list[Site] = []
    every: dict[int, list[Site]] = {}
    wanted: dict[int, int] = {}
    # The largest first: an island in an island comes after what it lies in.
    order = sorted(waiting, key=lambda i: (-_box_area(held[i]), held[i].bounds))
    for island in order:
        up = upright_deg + turns[island]
        directions = _directions(None if angle_deg is None else angle_deg + turns[island], up)
        sites = find_sites(island, held, tree, pieces, width, directions, up)
        # What lies in an island does not hold it.
        rim = Polygon(held[island].exterior)
        sites = [s for s in sites if not rim.contains(held[s.other])]
        own = [_seen_from(island, s) for s in taken if island in (s.island, s.other)]
        wanted[island] = count or (2 if _longer_side(held[island]) > _LARGE * width else 1)
        every[island] = sites
        if wanted[island] == 1:
            sites.sort(key=lambda s: s.cost + width * _CHAINED * (s.other in waiting))
        free = _clear_of(sites, taken, width)
        taken += _chosen(free, own, wanted[island] - len(own), _centre(held[island]), width)
    taken += _to_the_rim(held, waiting, every, wanted, taken, width)
    bridges = [_built(site, cut, width) for site in taken]
    return [b for b in bridges if not b[0].region.is_empty]


def _to_the_rim(
    held: Sequence[Polygon],
    waiting: Sequence[int],
    every: Mapping[int, list[Site]],
    wanted: Mapping[int, int],
    taken: Sequence[Site],
    width: float,
) -> list[Site]:
    """Return the sites that islands need which bridges to one another hold together.

    Such a group needs as many bridges to the rim as the neediest of its islands.
    """
    group = {i: {i} for i in waiting}
    for site in taken:
        if site.other in group:
            merged = group[site.island] | group[site.other]
            group.update(dict.fromkeys(merged, merged))
    added: list[Site] = []
    for members in {min(g): sorted(g) for g in group.values()}.values():
        there = [s for s in taken if s.island in members]
        missing = max(wanted[i] for i in members) - sum(s.other not in group for s in there)
        for _ in range(missing if len(members) > 1 else 0):
            sites = [s for i in members for s in every[i] if s.other not in group]
            free = _clear_of(sites, [*taken, *added], width)
            if not free:
                break
            costs = [
                s.cost
                + _mismatch(s, there, width)
                + _bunched(s, there, _centre(held[s.island]), width)
                for s in free
            ]
            added.append(free[int(np.argmin(costs))])
            there.append(added[-1])
    return added


def _centre(piece: Polygon) -> tuple[float, float]:
    at = piece.representative_point()
    return float(at.x), float(at.y)


def _chosen(
    sites: list[Site], own: list[Site], wanted: int, centre: tuple[float, float], width: float
) -> list[Site]:
    """Return up to `wanted` sites that go well together and with those that are there."""
    chosen: list[Site] = []
    if wanted <= 0 or not sites:
        return chosen
    if wanted >= 2 and not own:
        chosen = _best_pair(_pruned(sites), width)
    if not chosen and not own:
        chosen = [sites[0]]
    while len(chosen) < wanted:
        there = own + chosen
        free = _clear_of(sites, there, width)
        if not free:
            break
        costs = [
            s.cost + _mismatch(s, there, width) + _bunched(s, there, centre, width) for s in free
        ]
        chosen.append(free[int(np.argmin(costs))])
    return chosen


def _pruned(sites: list[Site]) -> list[Site]:
    """Return the cheapest sites, those opposite to one of them on its line included."""
    cheap = sites[:_FEW]
    lines = {(s.angle_deg, s.place) for s in cheap}
    return cheap + [s for s in sites[_FEW:] if (s.angle_deg, s.place) in lines]


def _best_pair(sites: list[Site], width: float) -> list[Site]:
    cost = np.array([s.cost for s in sites])
    heading = np.array([s.heading for s in sites])
    middle = np.array([s.middle for s in sites])
    angle = np.array([s.angle_deg for s in sites])
    place = np.array([s.place for s in sites])
    opposite = -(heading @ heading.T)
    in_line = (angle[:, None] == angle) & (np.abs(place[:, None] - place) < ROUNDING)
    apart = np.hypot(*(middle[:, None] - middle).transpose(2, 0, 1))
    pairs = (
        cost[:, None]
        + cost
        + width * (_NOT_OPPOSITE * (1 - opposite) / 2 + _NOT_IN_LINE * ~(in_line & (opposite > 0)))
    )
    pairs[apart <= _TOO_NEAR * width] = np.inf
    best = int(np.argmin(pairs))
    i, j = divmod(best, len(sites))
    return [sites[i], sites[j]] if np.isfinite(pairs[i, j]) else []


def _mismatch(site: Site, there: list[Site], width: float) -> float:
    """Return what a site costs when none of those that are there is opposite, on its line."""
    for other in there:
        dot = sum(a * b for a, b in zip(site.heading, other.heading, strict=True))
        same = site.angle_deg == other.angle_deg and abs(site.place - other.place) < 0.1 * width
        if same and dot < 0:
            return 0.0
    return _NOT_IN_LINE * width


def _bunched(site: Site, there: list[Site], centre: tuple[float, float], width: float) -> float:
    """Return what a site costs on the side of an island where there are bridges."""

    def direction(s: Site) -> tuple[float, float]:
        x, y = s.middle[0] - centre[0], s.middle[1] - centre[1]
        length = max(math.hypot(x, y), ROUNDING)
        return x / length, y / length

    own = direction(site)
    nearest = max(sum(a * b for a, b in zip(own, direction(t), strict=True)) for t in there)
    return _BUNCHED * width * max(nearest, 0.0)


def _seen_from(island: int, site: Site) -> Site:
    """Return a site as the island at its far end sees it."""
    if site.island == island:
        return site
    return Site(
        island, site.island, site.angle_deg, -site.outward, site.place,
        site.start, site.end, site.low, site.high, site.full, site.cost,
    )  # fmt: skip


def _clear_of(sites: list[Site], taken: list[Site], width: float) -> list[Site]:
    """Return the sites that keep their distance from those that are taken."""
    if not sites or not taken:
        return sites
    near = shapely.distance(_lines(sites), shapely.union_all(_lines(taken)))
    return [s for s, d in zip(sites, near.tolist(), strict=True) if d > _TOO_NEAR * width]


def _lines(sites: list[Site]) -> NDArray[np.object_]:
    ends = [(s.point(s.start), s.point(s.end)) for s in sites]
    lines: NDArray[np.object_] = shapely.linestrings(ends)
    return lines


def _built(site: Site, cut: Region, width: float) -> tuple[Bridge, BaseGeometry]:
    """Return the bridge at a site, and what to take from the cut for it.

    What is taken reaches a hair into the material at both ends: to cut along the very edge would
    leave slivers of rounding that part what they should join.
    """
    line = LineString([site.point(site.start), site.point(site.end)])
    strip = site.strip(width if site.full else _CRAMPED_WIDTH * width)
    filled = as_region(shapely.intersection(strip, cut))
    blade = shapely.intersection(shapely.buffer(filled, _HAIR_MM), strip)
    return Bridge(line, normalise(shapely.intersection(blade, cut)), width), blade


def _shortest(
    held: Sequence[Polygon], island: int, cut: Region, width: float
) -> tuple[Bridge, BaseGeometry]:
    """Return a bridge along the shortest line to other material, whatever it looks like."""
    others = [p for i, p in enumerate(held) if i != island]
    line = shapely.shortest_line(held[island], shapely.MultiPolygon(others))
    strip = shapely.buffer(line, width / 2, quad_segs=16)
    return Bridge(line, normalise(shapely.intersection(strip, cut)), width), strip


def _longer_side(piece: Polygon) -> float:
    box = shapely.minimum_rotated_rectangle(piece)
    corners = shapely.get_coordinates(box)
    return float(np.hypot(*np.diff(corners, axis=0).T).max())


def _box_area(piece: Polygon) -> float:
    left, low, right, high = piece.bounds
    return float((right - left) * (high - low))
