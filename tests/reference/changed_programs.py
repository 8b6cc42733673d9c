"""Random changes of good programs: what the proof lets pass, judged by a simulation of its own.

    .venv/bin/python tests/reference/changed_programs.py --blocks 1000 --coordinates 1000

Single blocks are removed and single coordinates changed, at random, in programs of real plans with
every hold-down. Where the proof still passes, what the changed programs leave of the sheet is
worked out a second way, which shares no code with the proof: a reader of a few words, and cutters
stamped point by point on a fine grid. A change is harmless when that surface differs from the one
of the good programs nowhere on a part by more than `DEPTH_MM`, and nowhere beside a part by more
stock than `DETAIL_MM` behind what is cut; the rest is printed, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numba
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.jobs.plans import make_plans, prove_plan
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

CELL_MM = 0.1
STEP_MM = 0.05

DEPTH_MM = 0.06
"""Depths that differ by less are the same: what the proof allows on slopes, and grain."""

DETAIL_MM = 0.25 + 0.05 + 2 * CELL_MM
"""How deep a corner may stay round, what the proof adds, and two cells."""

EDGE_MM = 0.15
"""Cells so near to an edge are no measure: its wall may fall on either side of them."""

SPECK_MM2 = 0.06
"""Area of what may differ by more: what the proof leaves out, and a cell."""

LINE_MM = 0.25
"""Length of scribed line that may be missing, and a cell."""


@dataclass(frozen=True, eq=False)
class Base:
    """A sheet with its good programs and what they leave."""

    name: str
    plan: Any
    shop: Any
    texts: dict[str, str]
    surface: NDArray[np.float32]
    outlines: list[shapely.Polygon]

    @property
    def cutters(self) -> dict[str, Any]:
        """Return the cutters of the shop by key."""
        return {c.key: c for c in self.shop.cutters}


_BOARD: dict[str, Any] = {
    "name": "board",
    "material": "birch-plywood",
    "thickness": 6.5,
    "outline": {"kind": "plate", "shape": "rounded", "margin": 7, "corner": 4},
    "features": [
        {"kind": "recess", "of": "lettering", "depth": 2},
        {"kind": "holes", "diameter": 3, "at": "top-corners", "inset": 4},
    ],
}
_GROOVED = _BOARD | {
    "features": [{"kind": "groove_lettering", "floor_at": 1.2}, {"kind": "scribe_lettering"}],
    "material": "mdf",
    "thickness": 6,
}
_LETTER = {
    "name": "face",
    "material": "acrylic-cast",
    "thickness": 3,
    "outline": {"kind": "lettering", "grow": 1},
}
BASES: dict[str, tuple[dict[str, Any], str]] = {
    "pocket, tabs": (_BOARD, "tabs"),
    "grooves, tape": (_GROOVED, "tape"),
    "letters, tabs": (_LETTER, "tabs"),
    "letters, skin": (_LETTER, "skin"),
}


@cache
def base(name: str) -> Base:
    """Return one of the sheets, its programs proved."""
    layer, hold_down = BASES[name]
    lettering = {"text": "27", "font": "zilla-slab-bold", "size": {"cap_height": 18}}
    recipe = {"title": name, "lettering": lettering, "layers": [layer]}
    catalogue = load_catalogue()
    shop = resolve_shop({"machine": "bench-router", "hold_down": hold_down}, catalogue)
    made = make_plans(build_stack(parse_recipe(recipe), catalogue, FontLibrary()), shop, catalogue)
    if not all(p.passed for p in made.proofs):
        raise RuntimeError(f"{name}: {made.proofs[0].summary}")
    plan = made.plans[0]
    texts = {p.name: p.text for p in plan.programs}
    outlines = [p.part.outline for p in plan.sheet.parts]
    bare = Base(name, plan, shop, texts, np.zeros((0, 0), np.float32), outlines)
    return Base(name, plan, shop, texts, surface(bare, texts), outlines)


_WORD = re.compile(r"([A-Z])(-?[0-9.]+)")


def points(text: str) -> Iterator[tuple[NDArray[np.float64], bool]]:
    """Yield the points that each move of a program passes, (n, 3), and whether it is a rapid."""
    at = np.array([0.0, 0.0, 50.0])
    mode = 0
    for line in text.splitlines():
        words = dict(_WORD.findall(re.sub(r"\(.*?\)", "", line)))
        if "G" in words and words["G"] in ("0", "1", "2", "3"):
            mode = int(words["G"])
        if line.startswith("G17") or not set(words) & set("XYZ"):
            continue
        to = np.array([float(words.get(axis, at[k])) for k, axis in enumerate("XYZ")])
        if mode < 2:
            count = max(2, math.ceil(float(np.linalg.norm(to - at)) / STEP_MM) + 1)
            way = np.linspace(at, to, count)
        else:
            centre = at[:2] + (float(words.get("I", 0)), float(words.get("J", 0)))
            a, b = at[:2] - centre, to[:2] - centre
            first = math.atan2(a[1], a[0])
            turn = (math.atan2(b[1], b[0]) - first) * (1 if mode == 3 else -1) % (2 * math.pi)
            turn = turn if turn > 1e-9 else 2 * math.pi
            radius = float(np.hypot(*a))
            count = max(3, math.ceil(radius * turn / STEP_MM) + 1)
            angles = first + (1 if mode == 3 else -1) * turn * np.linspace(0, 1, count)
            way = np.column_stack((
                centre[0] + radius * np.cos(angles), centre[1] + radius * np.sin(angles),
                np.linspace(at[2], to[2], count),
            ))  # fmt: skip
        yield way, mode == 0
        at = to


@numba.njit(cache=False)
def _stamp(z, way, radius, tip, rise, cell):  # type: ignore[no-untyped-def]
    ny, nx = z.shape
    for i in range(way.shape[0]):
        x, y, deep = way[i]
        if deep >= 0:
            continue
        for j in range(max(0, int((y - radius) / cell)), min(ny, int((y + radius) / cell) + 2)):
            for k in range(max(0, int((x - radius) / cell)), min(nx, int((x + radius) / cell) + 2)):
                away = math.hypot((k + 0.5) * cell - x, (j + 0.5) * cell - y)
                if away <= radius:
                    height = deep + max(0.0, away - tip) * rise
                    if height < z[j, k]:
                        z[j, k] = height


def surface(of: Base, texts: dict[str, str]) -> NDArray[np.float32]:
    """Return what programs leave of a sheet, heights on a grid from its lower left corner."""
    right, high = np.array([o.bounds for o in of.outlines])[:, 2:].max(axis=0) + 25.0
    z = np.zeros((math.ceil(high / CELL_MM), math.ceil(right / CELL_MM)), dtype=np.float32)
    for program in of.plan.programs:
        cutter = of.cutters[program.cutters[0]]
        pointed = cutter.included_angle_deg > 0
        rise = 1 / math.tan(math.radians(cutter.included_angle_deg / 2)) if pointed else 0.0
        tip = cutter.tip_diameter_mm / 2 if pointed else cutter.diameter_mm / 2
        for way, _ in points(texts.get(program.name, "")):
            _stamp(z, way, cutter.diameter_mm / 2, tip, rise, CELL_MM)
    # Where the sheet is cut through, how deep the spoil board is cut is no matter.
    return np.maximum(z, np.float32(-of.plan.sheet.stock.thickness_mm))


def harm(of: Base, texts: dict[str, str]) -> str:
    """Return in what way changed programs spoil the parts; empty when they do not."""
    left = surface(of, texts)
    difference = left - of.surface
    ny, nx = left.shape
    xs, ys = np.meshgrid((np.arange(nx) + 0.5) * CELL_MM, (np.arange(ny) + 0.5) * CELL_MM)
    on = np.zeros(left.shape, dtype=bool)
    inner = np.zeros(left.shape, dtype=bool)
    beside = np.zeros(left.shape, dtype=bool)
    for outline in of.outlines:
        shapely.prepare(outline)
        on |= shapely.contains_xy(outline, xs, ys)
        inner |= shapely.contains_xy(outline.buffer(-EDGE_MM), xs, ys)
        beside |= shapely.contains_xy(outline.buffer(1.0), xs, ys)
    lines = [ln for p in of.plan.sheet.parts for s in p.part.scribes for ln in s.lines]
    drawn = np.zeros(left.shape, dtype=bool)
    if lines:
        drawn = shapely.contains_xy(shapely.union_all(lines).buffer(0.3), xs, ys)
    deep = inner & (difference < -DEPTH_MM)
    # A wall inside a part may lie a cell to either side, as its edge may.
    deep &= of.surface - ndimage.minimum_filter(of.surface, 3) < DEPTH_MM
    if deep.sum() * CELL_MM**2 > SPECK_MM2:
        return f"{deep.sum() * CELL_MM**2:.2f} mm2 of a part are too deep"
    high = (inner | (beside & ~on)) & (difference > DEPTH_MM) & ~drawn
    high &= ndimage.maximum_filter(of.surface, 3) - of.surface < DEPTH_MM
    cut = (of.surface < -DEPTH_MM) & (difference <= DEPTH_MM)
    behind = np.where(high, ndimage.distance_transform_edt(~cut, sampling=CELL_MM), 0.0)
    if behind.max() > DETAIL_MM and high.sum() * CELL_MM**2 > SPECK_MM2:
        return f"{high.sum() * CELL_MM**2:.2f} mm2 stay, up to {behind.max():.2f} mm behind"
    missing = drawn & inner & (difference > DEPTH_MM)
    if missing.sum() * CELL_MM > 4 * LINE_MM:  # a line is up to four cells wide
        return f"{missing.sum()} cells of scribed lines are missing"
    return ""


def without_a_block(rng: random.Random, text: str) -> tuple[str, str]:
    """Return a text without one of its lines, and the line."""
    lines = text.split("\n")
    blocks = [i for i, line in enumerate(lines) if line and line[0] not in "(%"]
    at = rng.choice(blocks)
    return "\n".join(lines[:at] + lines[at + 1 :]), f"{at + 1}: {lines[at]}"


def with_a_coordinate_changed(rng: random.Random, text: str) -> tuple[str, str]:
    """Return a text with one coordinate changed by 0.1 to 5 mm, and what was done."""
    lines = text.split("\n")
    moves = [i for i, line in enumerate(lines) if re.match(r"G[0123] .*[XYZ]", line)]
    at = rng.choice(moves)
    letter, value = rng.choice([w for w in _WORD.findall(lines[at]) if w[0] in "XYZ"])
    by = rng.choice((-1, 1)) * 10 ** rng.uniform(-1, 0.7)
    new = lines[at].replace(f"{letter}{value}", f"{letter}{float(value) + by:.4f}", 1)
    return "\n".join([*lines[:at], new, *lines[at + 1 :]]), f"{at + 1}: {lines[at]} -> {new}"


@dataclass
class Tally:
    """What came of changes: how many were found, harmless, missed."""

    found: int = 0
    harmless: int = 0
    missed: int = 0


def try_changes(kind: str, count: int, seed: int, catalogue: Any) -> Tally:
    """Change programs so many times and judge each; missed ones are printed."""
    change = without_a_block if kind == "blocks" else with_a_coordinate_changed
    tally, codes = Tally(), Counter[str]()
    for number in range(count):
        rng = random.Random(f"{kind} {seed} {number}")
        of = base(rng.choice(list(BASES)))
        name = rng.choice(list(of.texts))
        changed, what = change(rng, of.texts[name])
        texts = of.texts | {name: changed}
        sources = [ProgramSource(p.name, p.cutters, texts[p.name]) for p in of.plan.programs]
        proof = prove_plan(of.plan, sources, of.shop, catalogue)
        if not proof.passed:
            tally.found += 1
            codes[proof.faults[0].code] += 1
            continue
        why = harm(of, texts)
        tally.harmless += not why
        tally.missed += bool(why)
        if why:
            print(f"{kind} {seed} {number}: {of.name}, {name}, line {what}: {why}", flush=True)
    print(f"{kind}: {tally} {dict(codes.most_common())}", flush=True)
    return tally


def main() -> int:
    """Try changes of both kinds; the exit code is 1 when a harmful one passes the proof."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blocks", type=int, default=100)
    parser.add_argument("--coordinates", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    wanted = parser.parse_args()
    catalogue, begun = load_catalogue(), time.process_time()
    missed = try_changes("blocks", wanted.blocks, wanted.seed, catalogue).missed
    missed += try_changes("coordinates", wanted.coordinates, wanted.seed, catalogue).missed
    print(f"{time.process_time() - begun:.0f} s of processor time")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
