"""Benchmark: the survey of a whole font, beside the bare segment Voronoi diagrams of its outlines.

Run as a script: `python tests/bench/survey.py [--quick] [--runs N] [--json FILE]`.

Told are ratios: the first survey of a font, with everything that it does (reading outlines,
flattening, union, both axes, widths, counters, sizes, the weakest ones confirmed), over making
the diagrams alone, of every piece and of every shape (a letter comes back under its accents, and
is read once); and the first survey over the next one, for another cutter. Beside them, what
a raster costs: glyphs painted on cells and two exact distance transforms, ink and ground, on a
tenth of the glyphs, which gives widths to about a cell and neither exits nor loads.

The aims: a ratio of 3 at most on one core; another cutter 20 times faster; less than 600 MB.
Times are processor time of the process; each figure is the median of the runs, with least and
most.
"""

from __future__ import annotations

import argparse
import gc
import itertools
import json
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyvoronoi
from run import ratio, spread, where
from scipy.ndimage import distance_transform_edt

from letterply.catalogue.loading import load_catalogue
from letterply.checks.survey.measures import clear_measures
from letterply.checks.survey.selection import ALL, Selection
from letterply.checks.survey.survey import Survey, survey_font
from letterply.checks.survey.weakness import Terms
from letterply.lettering.fonts.library import FontLibrary
from letterply.shapes.tolerances import GRID_PER_MM

FONTS = ("playfair-display", "nunito")
AIM_RATIO = 3.0
AIM_AGAIN = 20.0
AIM_MB = 600
CELL_MM = 0.1
"""A thousandth of the em: a width is told to about 2 %."""


def terms(cutter: str) -> Terms:
    """Return acrylic of 3 mm and one cutter."""
    catalogue = load_catalogue()
    rack = (catalogue.cutter(cutter),)
    return Terms(catalogue.material("acrylic-cast"), 3.0, rack, supported=True)


def surveyed(font: Any, cutter: str, count: int) -> tuple[Survey, float]:
    """Return a survey and how long it took."""
    began = time.process_time()
    found = survey_font(font, Selection(name=ALL, count=count), terms(cutter), 50.0)
    return found, time.process_time() - began


def outlines(survey: Survey, *, once: bool) -> list[list[list[list[float]]]]:
    """Return the sides of every piece as the diagram takes them, or of every shape once."""
    pieces = [p for row in survey.rows if row.measures for p in row.measures.pieces]
    if once:
        pieces = list({id(p.intervals): p for p in pieces}.values())
    found = []
    for piece in pieces:
        sides = []
        for ring in (piece.outline.exterior, *piece.outline.interiors):
            points = [list(p) for p in ring.coords]
            sides += [[a, b] for a, b in itertools.pairwise(points)]
        found.append(sides)
    return found


def bare(pieces: Sequence[list[list[list[float]]]]) -> float:
    """Return how long the diagrams alone take."""
    began = time.process_time()
    for sides in pieces:
        diagram = pyvoronoi.Pyvoronoi(GRID_PER_MM)
        for side in sides:
            diagram.AddSegment(side)
        diagram.Construct()
    return time.process_time() - began


def raster(survey: Survey) -> float:
    """Return how long painting and two distance transforms take, for all glyphs."""
    rows = [row for row in survey.rows if row.measures][::10]
    began = time.process_time()
    for row in rows:
        ink = painted(row.measures.region)  # type: ignore[union-attr]
        distance_transform_edt(ink)
        distance_transform_edt(~ink)
    spent = time.process_time() - began
    return spent * sum(row.measures is not None for row in survey.rows) / max(len(rows), 1)


def painted(region: Any) -> np.ndarray:
    """Return the cells of a region whose middles are inside, by scan lines."""
    left, low, right, high = region.bounds
    width, height = (int(np.ceil(s / CELL_MM)) + 4 for s in (right - left, high - low))
    x0, y0 = left - 2 * CELL_MM, low - 2 * CELL_MM
    y = y0 + (np.arange(height) + 0.5) * CELL_MM
    ink = np.zeros((height, width + 1), dtype=np.int32)
    for piece in region.geoms:
        for ring in (piece.exterior, *piece.interiors):
            points = np.asarray(ring.coords)
            a, b = points[:-1], points[1:]
            way = np.where(a[:, 1] < b[:, 1], 1, -1)
            lower, upper = np.where((way > 0)[:, None], a, b), np.where((way > 0)[:, None], b, a)
            first = np.searchsorted(y, lower[:, 1])
            count = np.searchsorted(y, upper[:, 1]) - first
            side = np.repeat(np.arange(len(a)), count)
            rows = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
            rows = rows + first[side]
            rise = (upper - lower)[side]
            at = lower[side, 0] + (y[rows] - lower[side, 1]) * rise[:, 0] / rise[:, 1]
            column = np.ceil((at - x0) / CELL_MM - 0.5).astype(int).clip(0, width)
            np.add.at(ink, (rows, column), way[side])
    filled: np.ndarray = np.cumsum(ink, axis=1)[:, :width] != 0
    return filled


def peak_mb(key: str, count: int) -> int:
    """Return the memory that a process needs which does two surveys and nothing else, MB."""
    command = [sys.executable, __file__, "--memory", key, str(count)]
    return int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def tell_memory(key: str, count: int) -> None:
    """Survey a font twice and print the peak of memory, MB."""
    font = FontLibrary().load(key)
    for cutter in ("flat-1", "flat-2"):
        surveyed(font, cutter, count)
    print(round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024))


def measure(key: str, count: int, runs: int) -> dict[str, Any]:
    """Return the figures of one font."""
    first, again, alone, once, cells = [], [], [], [], []
    for _ in range(runs):
        clear_measures()
        gc.collect()
        font = FontLibrary().load(key)
        survey, spent = surveyed(font, "flat-1", count)
        first.append(spent)
        again.append(surveyed(font, "flat-2", count)[1])
        pieces, shapes = outlines(survey, once=False), outlines(survey, once=True)
        alone.append(bare(pieces))
        once.append(bare(shapes))
        cells.append(raster(survey))
        sides = sum(map(len, pieces))
    return {
        "font": key,
        "glyphs": len(survey.rows),
        "pieces": len(pieces),
        "shapes": len(shapes),
        "sides": sides,
        "first_s": spread(first),
        "again_s": spread(again),
        "diagrams_s": spread(alone),
        "diagrams_of_shapes_s": spread(once),
        "raster_s": spread(cells),
        "first_over_diagrams": ratio(first, alone),
        "first_over_diagrams_of_shapes": ratio(first, once),
        "first_over_again": ratio(first, again),
        "peak_mb": peak_mb(key, count),
    }


def table(found: dict[str, Any]) -> str:
    """Return the figures of a font as text."""
    lines = [
        f"{found['font']}: {found['glyphs']} glyphs, {found['pieces']} pieces, "
        f"{found['sides']} sides, {found['shapes']} shapes"
    ]
    for title, key in (
        ("first survey, s", "first_s"),
        ("diagrams alone, s", "diagrams_s"),
        ("diagrams of shapes, s", "diagrams_of_shapes_s"),
        ("another cutter, s", "again_s"),
        ("raster, s", "raster_s"),
        ("first / diagrams alone", "first_over_diagrams"),
        ("first / those of shapes", "first_over_diagrams_of_shapes"),
        ("first / another cutter", "first_over_again"),
    ):
        v = found[key]
        lines.append(f"  {title:24} {v['median']:8.2f}  ({v['least']:.2f} to {v['most']:.2f})")
    lines.append(f"  {'memory at its peak, MB':24} {found['peak_mb']:5d}")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, print the table, write the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="60 glyphs of one font, one run")
    parser.add_argument("--runs", type=int, default=3, help="runs of each font (3)")
    parser.add_argument("--json", type=Path, help="write all figures to this file")
    parser.add_argument("--memory", nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.memory:
        tell_memory(asked.memory[0], int(asked.memory[1]))
        return
    fonts, count, runs = (FONTS[:1], 60, 1) if asked.quick else (FONTS, 2000, asked.runs)
    here = where()
    print(", ".join(f"{name} {value}" for name, value in here.items()))
    # What is paid once a process: modules, compiled code.
    surveyed(FontLibrary().load("oswald"), "flat-1", 20)
    results = []
    for key in fonts:
        results.append(measure(key, count, runs))
        print(table(results[-1]), flush=True)
    print(
        f"aim: {AIM_RATIO:g} times the diagrams at most, another cutter {AIM_AGAIN:g} times "
        f"faster, less than {AIM_MB} MB"
    )
    if asked.json:
        asked.json.write_text(json.dumps({"where": here, "fonts": results}, indent=1) + "\n")


if __name__ == "__main__":
    main()
