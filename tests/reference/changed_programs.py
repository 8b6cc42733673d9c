r"""Random changes of good programs: what the proof lets pass, judged by a simulation of its own.

    .venv/bin/python tests/reference/changed_programs.py --blocks 1000 --coordinates 1000 \
        --log FILE

Single blocks are removed and single coordinates changed, at random, in programs of real plans with
every operation and every hold-down. What became of each is a line of FILE; begun again, the run
goes on where it was cut off. Where the proof still passes, what the changed programs leave of the
sheet is worked out a second way, which shares no code with the proof: a reader of a few words, and
cutters stamped point by point on a fine grid. A change is harmless when that surface differs from
the one of the good programs nowhere on a part by more than `DEPTH_MM`, nowhere beside a part by
more stock than the job's detail behind what is cut, and tabs and skin are still there; the rest is
printed, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
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

from letterply.catalogue import CutterKind
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.jobs.plans import make_plans, prove_plan
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

CELL_MM = 0.05
STEP_MM = 0.05

DEPTH_MM = 0.06
"""Depths that differ by less are the same: what the proof allows on slopes, and grain."""

CORNER_MM = 0.05 + 2 * CELL_MM
"""What the proof adds to how deep a corner may stay round, and two cells."""

EDGE_MM = 0.1
"""Cells so near to an edge are no measure: its wall may fall on either side of them."""

SPECK_MM2 = 0.06
"""Area of what may differ by more: what the proof leaves out, and a cell."""

LINE_MM = 0.25
"""Length of scribed line that may be missing, and a cell."""

LINE_WIDTH_MM = 0.4
"""As wide as the widest line, with a cell: of a drag point, or of a beam's kerf."""

HELD_SHARE, SKIN_MM2 = 0.5, 1.0
"""Share of a tab that must be left of it, and area of a skin that may be cut through."""


@dataclass(frozen=True, eq=False)
class Base:
    """A sheet with its good programs and what they leave."""

    name: str
    plan: Any
    shop: Any
    texts: dict[str, str]
    outlines: list[shapely.Polygon]

    @property
    def surface(self) -> NDArray[np.float32]:
        """What the good programs leave."""
        return surface(self, self.texts)

    @property
    def beam(self) -> bool:
        """Whether a beam cuts it."""
        return any(self.cutters[p.cutters[0]].kind is CutterKind.BEAM for p in self.plan.programs)

    @property
    def thickness(self) -> float:
        """Thickness of the sheet."""
        found: float = self.plan.sheet.stock.thickness_mm
        return found

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
_DRILLED = _BOARD | {
    "features": [
        {"kind": "through_lettering"},
        {"kind": "holes", "diameter": 3, "at": "top-corners", "inset": 4},
        {"kind": "holes", "diameter": 3, "at": "bottom-corners", "inset": 4, "depth": 2.5},
    ],
}
_BOTH = _GROOVED | {"features": [{"kind": "groove_lettering"}, *_BOARD["features"][1:]]}
_BLANK = _GROOVED | {
    "thickness": 9,
    "outline": {"kind": "blank", "shape": "rounded", "width": 60, "height": 34,
                "fixture": {"columns": 1, "rows": 1}},
    "features": [{"kind": "groove_lettering"}],
}  # fmt: skip
_CORNERS = {"cutters": ["flat-3175", "flat-1588", "flat-1", "vbit-60", "drag-120", "drill-3"]}
BASES: dict[str, tuple[list[dict[str, Any]], dict[str, Any]]] = {
    "pocket, tabs": ([_BOARD], {"hold_down": "tabs"}),
    "pocket, skin, helix": ([_BOARD], {"hold_down": "skin", "entry": "helix"}),
    "pocket, tape, small cutters": ([_BOARD], {"hold_down": "tape", "detail": 0.1} | _CORNERS),
    "grooves, lines, tape": ([_GROOVED], {"hold_down": "tape"}),
    "grooves, lines, skin": ([_GROOVED], {"hold_down": "skin"}),
    "grooves, holes, tabs": ([_BOTH], {"hold_down": "tabs", "finish": 0.2}),
    "stencil, holes, tabs": ([_DRILLED], {"hold_down": "tabs"} | _CORNERS),
    "blank and fixture": ([_BLANK], {"hold_down": "tabs"}),
    "letters, tabs": ([_LETTER], {"hold_down": "tabs"}),
    "letters, skin": ([_LETTER], {"hold_down": "skin"}),
    "letters, tape": ([_LETTER], {"hold_down": "tape"} | _CORNERS),
    "letters, beam": (
        [_LETTER],
        {"machine": "bench-beam",
         "power": [{"material": "acrylic-cast", "thickness": 3, "cut": 75}]},
    ),
}  # fmt: skip
"""Layers and shop of each sheet: every operation, every way to hold a sheet down, a beam."""


@cache
def base(name: str) -> Base:
    """Return one of the sheets, its programs proved."""
    layers, said = BASES[name]
    lettering = {"text": "27", "font": "zilla-slab-bold", "size": {"cap_height": 18}}
    if layers[0]["outline"]["kind"] == "blank":
        lettering |= {"size": {"fit_blank": True}}
    recipe = {"title": name, "lettering": lettering, "layers": layers, "align": {"kind": "none"}}
    catalogue = load_catalogue()
    shop = resolve_shop({"machine": "bench-router"} | said, catalogue)
    made = make_plans(build_stack(parse_recipe(recipe), catalogue, FontLibrary()), shop, catalogue)
    if not all(p.passed for p in made.proofs):
        raise RuntimeError(f"{name}: {made.proofs[0].summary}")
    plan = made.plans[-1]  # of a blank that is worked, its fixture's is another
    texts = {p.name: p.text for p in plan.programs}
    outlines = [p.part.outline for p in plan.sheet.parts]
    return Base(name, plan, shop, texts, outlines)


_WORD = re.compile(r"([A-Z])(-?[0-9.]+)")


def points(text: str, lit_mm: float = 0.0) -> Iterator[NDArray[np.float64]]:
    """Yield the points that each move of a program passes, (n, 3); a beam that is lit is so low."""
    at = np.array([0.0, 0.0, 50.0])
    mode, lit = 0, False
    for line in text.splitlines():
        words = dict(_WORD.findall(re.sub(r"\(.*?\)", "", line)))
        lit = words["M"] in ("3", "4") if "M" in words else lit
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
        if lit_mm:
            way[:, 2] = lit_mm if lit and mode else 50.0
        yield way
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


def cut_by(of: Base, name: str, text: str) -> NDArray[np.float32]:
    """Return what one program alone cuts of a sheet, heights on a grid from its lower left."""
    right, high = np.array([o.bounds for o in of.outlines])[:, 2:].max(axis=0) + 25.0
    z = np.zeros((math.ceil(high / CELL_MM), math.ceil(right / CELL_MM)), dtype=np.float32)
    cutter = of.cutters[next(p for p in of.plan.programs if p.name == name).cutters[0]]
    pointed = cutter.included_angle_deg > 0
    rise = 1 / math.tan(math.radians(cutter.included_angle_deg / 2)) if pointed else 0.0
    tip = cutter.tip_diameter_mm / 2 if pointed else cutter.diameter_mm / 2
    for way in points(text, -of.thickness if of.beam else 0.0):
        way[:, :2] += of.plan.sheet.zero_mm
        _stamp(z, way, cutter.diameter_mm / 2, tip, rise, CELL_MM)
    # Where the sheet is cut through, how deep the spoil board is cut is no matter.
    return np.maximum(z, np.float32(-of.thickness))


@cache
def good_cut(base_name: str, name: str) -> NDArray[np.float32]:
    """Return what a good program of a base cuts."""
    of = base(base_name)
    return cut_by(of, name, of.texts[name])


def surface(of: Base, texts: dict[str, str]) -> NDArray[np.float32]:
    """Return what programs leave of a sheet."""
    cuts = [
        good_cut(of.name, name) if texts.get(name) == text else cut_by(of, name, texts[name])
        for name, text in of.texts.items()
    ]
    left: NDArray[np.float32] = np.minimum.reduce(cuts)
    return left


def harm(of: Base, texts: dict[str, str]) -> str:
    """Return in what way changed programs spoil the parts; empty when they do not."""
    left, good = surface(of, texts), of.surface
    difference = left - good
    # A wall or a slope may lie a cell to either side, as the edge of a part may.
    too_deep = left < ndimage.minimum_filter(good, 3) - DEPTH_MM
    too_high = left > ndimage.maximum_filter(good, 3) + DEPTH_MM
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
    if of.beam:
        lines, inner_or_kerf = [o.boundary for o in of.outlines], beside
    else:
        inner_or_kerf = inner
    drawn = np.zeros(left.shape, dtype=bool)
    if lines:
        drawn = shapely.contains_xy(shapely.union_all(lines).buffer(0.3), xs, ys)
    deep = inner & too_deep
    if deep.sum() * CELL_MM**2 > SPECK_MM2:
        return f"{deep.sum() * CELL_MM**2:.2f} mm2 of a part are too deep"
    high = (inner | (beside & ~on)) & too_high & ~drawn
    cut = (good < -DEPTH_MM) & (difference <= DEPTH_MM)
    behind = np.where(high, ndimage.distance_transform_edt(~cut, sampling=CELL_MM), 0.0)
    if behind.max() > of.shop.detail_mm + CORNER_MM and high.sum() * CELL_MM**2 > SPECK_MM2:
        return f"{high.sum() * CELL_MM**2:.2f} mm2 stay, up to {behind.max():.2f} mm behind"
    missing = drawn & inner_or_kerf & (difference > DEPTH_MM)
    if missing.sum() * CELL_MM**2 > LINE_MM * LINE_WIDTH_MM:
        return f"{missing.sum() * CELL_MM**2:.2f} mm2 of lines are missing"
    return "" if of.beam else _let_go(of, left, good, beside & ~on)


def _let_go(
    of: Base, left: NDArray[np.float32], good: NDArray[np.float32], beside: NDArray[np.bool_]
) -> str:
    """Return what of tabs and skin is gone beside the parts."""
    held = -of.thickness + 0.1
    stood = beside & (good > held)
    if of.plan.hold_down == "skin":
        gone = (stood & (left < held)).sum() * CELL_MM**2
        return f"{gone:.1f} mm2 of the skin are cut through" if gone > SKIN_MM2 else ""
    tabs, count = ndimage.label(stood)
    sizes = np.bincount(tabs.ravel(), minlength=count + 1)
    kept = np.bincount(tabs[left > held].ravel(), minlength=count + 1)
    lost = (kept < HELD_SHARE * sizes) & (sizes * CELL_MM**2 > 1.0)
    return f"{lost[1:].sum()} tabs are gone" if lost[1:].any() else ""


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
    """What came of changes: how many were found, harmless, missed, and what was found first."""

    found: int = 0
    harmless: int = 0
    missed: int = 0
    codes: Counter[str] = field(default_factory=Counter)

    def add(self, outcome: dict[str, Any]) -> None:
        """Count what became of a change."""
        self.found += bool(outcome["code"])
        self.harmless += not (outcome["code"] or outcome["harm"])
        self.missed += bool(outcome["harm"])
        if outcome["code"]:
            self.codes[outcome["code"]] += 1


def try_change(kind: str, seed: int, number: int, catalogue: Any) -> dict[str, Any]:
    """Change a program; return what was changed, the fault found first, and the harm if none is."""
    change = without_a_block if kind == "blocks" else with_a_coordinate_changed
    rng = random.Random(f"{kind} {seed} {number}")
    of = base(rng.choice(list(BASES)))
    name = rng.choice(list(of.texts))
    changed, what = change(rng, of.texts[name])
    texts = of.texts | {name: changed}
    sources = [ProgramSource(p.name, p.cutters, texts[p.name]) for p in of.plan.programs]
    proof = prove_plan(of.plan, sources, of.shop, catalogue)
    code = "" if proof.passed else proof.faults[0].code
    harmed = "" if code else harm(of, texts)
    line = {"base": of.name, "program": name, "line": what, "code": code, "harm": harmed}
    return {"kind": kind, "seed": seed, "number": number} | line


def try_changes(kind: str, count: int, seed: int, catalogue: Any, log: Path | None = None) -> Tally:
    """Change programs so many times and judge each; what a log tells already is not done again."""
    tally, done = Tally(), set[int]()
    for outcome in map(json.loads, log.read_text().splitlines() if log and log.exists() else ()):
        if (outcome["kind"], outcome["seed"]) == (kind, seed) and outcome["number"] < count:
            done.add(outcome["number"])
            tally.add(outcome)
    for number in range(count):
        if number in done:
            continue
        outcome = try_change(kind, seed, number, catalogue)
        tally.add(outcome)
        if log is not None:
            with log.open("a") as file:
                file.write(json.dumps(outcome) + "\n")
        if outcome["harm"]:
            print(outcome, flush=True)
    print(f"{kind}: {tally}", flush=True)
    return tally


def main() -> int:
    """Try changes of both kinds; the exit code is 1 when a harmful one passes the proof."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blocks", type=int, default=100)
    parser.add_argument("--coordinates", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--log", type=Path, help="file that keeps what was done")
    wanted = parser.parse_args()
    catalogue, begun = load_catalogue(), time.process_time()
    missed = try_changes("blocks", wanted.blocks, wanted.seed, catalogue, wanted.log).missed
    coordinates = wanted.coordinates, wanted.seed, catalogue, wanted.log
    missed += try_changes("coordinates", *coordinates).missed
    print(f"{time.process_time() - begun:.0f} s of processor time")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
