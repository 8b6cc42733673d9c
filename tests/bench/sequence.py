"""Order of work against a general routing library, on sheets with 200 contours.

`python tests/bench/sequence.py` takes twenty sheets. Each has 96 parts with 104 holes: a contour
is entered and left at one point, holes come before the outline of their part. OR-Tools (Apache-2.0)
gets the same points, the same precedence and thirty times the time that our order took. The exit
code is 1 when it finds a shorter way on any of them.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

from letterply.cutting.order.sequence import short_tour

Floats = NDArray[np.float64]
PARTS, HOLES = 96, 104
_UNIT = 1000  # the library counts in whole numbers: microns


@dataclass(frozen=True)
class Contours:
    """Points (n, 2) at which contours are entered; `part` tells whose each is.

    `out` (n, 2) is the direction in which the point lies from the middle of its part.
    """

    points: Floats
    out: Floats
    part: NDArray[np.int64]
    outline: NDArray[np.bool_]


def contours(seed: int) -> Contours:
    """Return a sheet of 600 by 400 mm: parts on a loose grid, each with up to four holes."""
    rng = np.random.default_rng(seed)
    cells = rng.permutation(12 * 8)[:PARTS]
    middles = np.column_stack((cells % 12 * 50.0 + 25, cells // 12 * 50.0 + 25))
    middles += rng.uniform(-6, 6, middles.shape)
    owners = np.concatenate((np.arange(PARTS), rng.integers(0, PARTS, HOLES)))
    outline = np.arange(PARTS + HOLES) < PARTS
    angle = rng.uniform(0, 2 * math.pi, PARTS + HOLES)
    reach = np.where(outline, 18.0, rng.uniform(2, 12, PARTS + HOLES))
    out = np.column_stack((np.cos(angle), np.sin(angle)))
    return Contours(middles[owners] + reach[:, None] * out, out, owners, outline)


def length(points: Floats, order: list[int]) -> float:
    """Return the way from the corner of the sheet through points in an order, mm."""
    way = np.vstack(([[0.0, 0.0]], points[order]))
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


def precedence(sheet: Contours) -> list[tuple[int, int]]:
    """Return each hole with the outline of its part, which comes after it."""
    outline_of = {int(sheet.part[k]): int(k) for k in np.flatnonzero(sheet.outline)}
    return [(k, outline_of[int(sheet.part[k])]) for k in np.flatnonzero(~sheet.outline).tolist()]


def ours(sheet: Contours) -> list[int]:
    """Return the order of contours as plans have it, each entered at its point."""
    order: list[int] = short_tour(sheet.points, sheet.points, before=precedence(sheet)).tolist()
    return order


def ours_free(sheet: Contours, places: int = 8) -> float:
    """Return the length of our way when contours may be entered at places round them, mm."""
    radius = np.where(sheet.outline, 18.0, 2.0)[:, None]
    middle = sheet.points - radius * sheet.out
    turn = 2 * math.pi * np.arange(places) / places
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x, y = (radius * sheet.out).T
    ring = np.stack((cos * x - sin * y, sin * x + cos * y), axis=2)
    every = (middle + ring).transpose(1, 0, 2).reshape(-1, 2)
    owner = np.repeat(np.arange(len(sheet.points)), places)
    way = short_tour(every, every, stops=owner, before=precedence(sheet))
    return length(every, way.tolist())


def theirs(sheet: Contours, limit_s: float, *, start: list[int] | None = None) -> list[int] | None:
    """Return the library's order, or None when it finds none in time."""
    n = len(sheet.points)
    every = np.vstack(([[0.0, 0.0]], sheet.points))
    away = np.hypot(*(every[:, None] - every[None, :]).transpose(2, 0, 1))
    whole = np.rint(away * _UNIT).astype(int)
    whole[:, 0] = 0  # the way ends anywhere
    manager = pywrapcp.RoutingIndexManager(n + 1, 1, 0)
    routing = pywrapcp.RoutingModel(manager)
    rows = whole.tolist()
    cost = routing.RegisterTransitMatrix(rows)
    routing.SetArcCostEvaluatorOfAllVehicles(cost)
    steps = routing.RegisterUnaryTransitVector([1] * (n + 1))
    routing.AddDimension(steps, 0, n + 2, True, "place")
    place = routing.GetDimensionOrDie("place")
    for hole, outline in precedence(sheet):
        before, after = manager.NodeToIndex(hole + 1), manager.NodeToIndex(outline + 1)
        routing.solver().Add(place.CumulVar(before) <= place.CumulVar(after))
    wish = pywrapcp.DefaultRoutingSearchParameters()
    wish.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    wish.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    wish.time_limit.FromMilliseconds(max(int(limit_s * 1000), 1))
    if start is None:
        found = routing.SolveWithParameters(wish)
    else:
        routing.CloseModelWithParameters(wish)
        given = routing.ReadAssignmentFromRoutes([[k + 1 for k in start]], True)
        found = routing.SolveFromAssignmentWithParameters(given, wish)
    if found is None:
        return None
    order, at = [], routing.Start(0)
    while not routing.IsEnd(at):
        at = found.Value(routing.NextVar(at))
        if not routing.IsEnd(at):
            order.append(manager.IndexToNode(at) - 1)
    return order


def greedy(sheet: Contours) -> list[int]:
    """Return the next contour that may be cut, always the nearest: where the library starts."""
    left, order, at = set(range(len(sheet.points))), [], np.zeros(2)
    while left:
        held = {int(sheet.part[k]) for k in left if not sheet.outline[k]}
        ready = [k for k in sorted(left) if not (sheet.outline[k] and int(sheet.part[k]) in held)]
        nearest = min(ready, key=lambda k: float(np.hypot(*(sheet.points[k] - at))))
        left.remove(nearest)
        order.append(nearest)
        at = sheet.points[nearest]
    return order


@dataclass(frozen=True)
class Compared:
    """Lengths in mm and our time in s."""

    ours_mm: float
    theirs_mm: float
    free_mm: float
    time_s: float


def compare(seed: int, times: float = 30.0) -> Compared:
    """Return both lengths on one sheet."""
    sheet = contours(seed)
    ours(sheet)  # compiled once
    begun = time.perf_counter()
    mine = ours(sheet)
    spent = time.perf_counter() - begun
    found = theirs(sheet, times * spent, start=greedy(sheet))
    return Compared(
        length(sheet.points, mine),
        math.inf if found is None else length(sheet.points, found),
        ours_free(sheet),
        spent,
    )


def main() -> int:
    """Compare on many sheets."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=20)
    shorter = 0
    for seed in range(parser.parse_args().sheets):
        one = compare(seed)
        shorter += one.theirs_mm < one.ours_mm
        print(
            f"{seed:3d}  ours {one.ours_mm:7.1f} mm in {one.time_s:.2f} s, "
            f"library {one.theirs_mm:7.1f} mm ({one.theirs_mm / one.ours_mm:.3f}), "
            f"free entries {one.free_mm:7.1f} mm ({one.free_mm / one.ours_mm:.3f})",
            flush=True,
        )
    return int(shorter > 0)


if __name__ == "__main__":
    sys.exit(main())
