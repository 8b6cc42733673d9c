"""Benchmark: words of 6, 24 and 96 letters, room by room, beside the native kernels inside them.

Run as a script. The kernels are HarfBuzz's shaping, Boost's Voronoi construction and the GEOS
functions that the engine calls, timed where they are called, on the same input. Printed are
ratios and, for size, seconds; the median of three runs.
"""

from __future__ import annotations

import platform
import statistics
import time
from collections.abc import Callable
from typing import Any

import pyvoronoi
import shapely
import uharfbuzz

from letterply.catalogue import load_catalogue, resolve_shop
from letterply.checks.run import check_stack
from letterply.lettering import FontShelf
from letterply.orders.making import make_plans
from letterply.stacks.build import build_stack
from letterply.stacks.recipe import parse_recipe

BIRDS = (
    "AvocetCurlewDunlinGodwitKnotsSandpipersTurnstonesWhimbrelsRedshanksOystercatchersPloversSnipes"
)
GEOS = (
    "buffer", "difference", "intersection", "union", "union_all", "distance", "set_precision",
    "contains", "intersects", "dwithin", "convex_hull", "simplify", "contains_xy",
)  # fmt: skip
STOCK = [
    {"material": m, "thickness_mm": t, "width_mm": 1240, "height_mm": 1240, "count": 4}
    for m, t in (("mdf", 6), ("acrylic-cast", 3))
]
RUNS = 3


class Clock:
    """Sums up the time spent inside native calls."""

    def __init__(self) -> None:
        self.spent = 0.0
        self.depth = 0

    def timed(self, function: Callable[..., Any]) -> Callable[..., Any]:
        """Return the function with its time added; calls within calls count once."""

        def call(*args: Any, **options: Any) -> Any:
            self.depth += 1
            began = time.perf_counter()
            try:
                return function(*args, **options)
            finally:
                self.depth -= 1
                if not self.depth:
                    self.spent += time.perf_counter() - began

        return call


def recipe(letters: int) -> dict[str, Any]:
    """Return stacked letters in lines of twelve."""
    text = (BIRDS * 2)[:letters]
    lines = "\n".join(text[i : i + 12] for i in range(0, letters, 12))
    return {
        "title": f"{letters} letters",
        "lettering": {"text": lines, "font": "archivo-black", "size": {"cap_height": 40},
                      "tracking": 9},
        "layers": [
            {"name": "backer", "material": "mdf", "thickness": 6,
             "outline": {"kind": "lettering", "grow": 3}},
            {"name": "face", "material": "acrylic-cast", "thickness": 3,
             "outline": {"kind": "lettering"}},
        ],
    }  # fmt: skip


def one_run(letters: int, clock: Clock) -> tuple[dict[str, float], float]:
    """Return seconds a room, and seconds inside the kernels."""
    catalogue, shelf = load_catalogue(), FontShelf()
    shop = resolve_shop({"machine": "shop-router", "stock": STOCK}, catalogue)
    clock.spent = 0.0
    marks = [time.perf_counter()]
    stack = build_stack(parse_recipe(recipe(letters)), catalogue, shelf)
    marks.append(time.perf_counter())
    check_stack(stack, catalogue, shop)
    marks.append(time.perf_counter())
    make_plans(stack, shop, catalogue)
    marks.append(time.perf_counter())
    names = ("lettering and stack", "checks", "sheets, plans, proofs")
    rooms = {n: b - a for n, a, b in zip(names, marks, marks[1:], strict=False)}
    return rooms, clock.spent


def main() -> None:
    """Print the table."""
    clock = Clock()
    for name in GEOS:
        setattr(shapely, name, clock.timed(getattr(shapely, name)))
    uharfbuzz.shape = clock.timed(uharfbuzz.shape)
    bare = pyvoronoi.Pyvoronoi

    class Timed(bare):  # type: ignore[misc, valid-type]
        """The diagram with its construction timed."""

        Construct = clock.timed(bare.Construct)
        AddSegment = clock.timed(bare.AddSegment)

    pyvoronoi.Pyvoronoi = Timed
    print(
        f"{platform.machine()}, Python {platform.python_version()}, shapely {shapely.__version__}"
    )
    one_run(6, clock)
    totals = {}
    for letters in (6, 24, 96):
        runs = [one_run(letters, clock) for _ in range(RUNS)]
        whole = [sum(rooms.values()) for rooms, _ in runs]
        ratio = statistics.median(w / kernels for w, (_, kernels) in zip(whole, runs, strict=True))
        totals[letters] = statistics.median(whole)
        shares = ", ".join(
            f"{name} {statistics.median(r[name] for r, _ in runs) / totals[letters]:.0%}"
            for name in runs[0][0]
        )
        print(f"{letters:3} letters: {ratio:.2f} x the kernels ({totals[letters]:.2f} s): {shares}")
    print(f"growth from 24 to 96 letters: {totals[96] / totals[24]:.2f} x for 4 x the letters")


if __name__ == "__main__":
    main()
