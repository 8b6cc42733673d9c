"""Benchmark: the whole way, room by room, beside the bare native kernels on the same input.

Run as a script: `python tests/bench/run.py [--quick] [--runs N] [--json FILE] [--profile]`.

Told are ratios: the whole way, but for nesting, over the kernels; and the exponent with which the
time grows from 24 to 96 letters. Seconds are printed beside them for the sake of size. The aim is
a ratio of 4 at most and a growth no worse than n log n, which is an exponent of 1.26 over that
span. Times are processor time of the process, so that other work on the machine counts as little
as can be; each figure is the median of the runs, with the least and the most.
"""

from __future__ import annotations

import argparse
import cProfile
import gc
import importlib.metadata
import json
import math
import os
import platform
import pstats
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import shapely
from kernels import KERNELS, recording, replay
from situations import FONTS, SIZES, Situation

import letterply
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.checks.run import check_stack
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.jobs import plans as making
from letterply.jobs.files import Answer, later_paths, make_files, packed
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.recipe import parse_recipe
from letterply.sheets.nesting import nest
from letterply.stacks.build import build_stack

ROOMS = ("lettering", "stacks", "checks", "nesting", "cutting", "proof", "exports")
AIM_RATIO = 4.0
AIM_GROWTH = math.log(96 * math.log(96) / (24 * math.log(24))) / math.log(4)


class Stopwatch:
    """Seconds spent in each room."""

    def __init__(self) -> None:
        self.rooms = dict.fromkeys(ROOMS, 0.0)

    @contextmanager
    def room(self, name: str) -> Iterator[None]:
        """Add the time of the block to a room."""
        began = time.process_time()
        try:
            yield
        finally:
            self.rooms[name] += time.process_time() - began

    def inside(self, name: str, out_of: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """Return the function with its time moved from one room to another."""

        def call(*args: Any, **options: Any) -> Any:
            began = time.process_time()
            try:
                return function(*args, **options)
            finally:
                spent = time.process_time() - began
                self.rooms[name] += spent
                self.rooms[out_of] -= spent

        return call


def walk(situation: Situation) -> tuple[dict[str, float], dict[str, int]]:
    """Go the whole way of a plan once; return seconds a room, and how much there was."""
    catalogue, library = load_catalogue(), FontLibrary()
    shop = resolve_shop(situation.shop, catalogue)
    recipe = parse_recipe(situation.recipe)
    cutters = {c.key: c for c in shop.cutters}
    watch = Stopwatch()
    # Fonts are read and lettering is set from within the stacks' room.
    library.load = watch.inside("lettering", "stacks", library.load)  # type: ignore[method-assign]
    homes = [
        module
        for name, module in sorted(sys.modules.items())
        if name.startswith("letterply.stacks.") and hasattr(module, "set_lettering")
    ]
    setter = homes[0].set_lettering
    for module in homes:
        setattr(module, "set_lettering", watch.inside("lettering", "stacks", setter))  # noqa: B010
    try:
        with watch.room("stacks"):
            stack = build_stack(recipe, catalogue, library)
    finally:
        for module in homes:
            setattr(module, "set_lettering", setter)  # noqa: B010
    with watch.room("checks"):
        findings = check_stack(stack, catalogue, shop)
    spacing = max(
        part_spacing(shop, catalogue.material(layer.material), layer.thickness_mm)
        for layer in stack.layers
    )
    with watch.room("nesting"):
        nesting = nest(making.to_place(stack, catalogue), shop.stock, spacing_mm=spacing)
    plans, proofs = [], []
    for sheet in nesting.sheets:
        with watch.room("cutting"):
            plan = plan_sheet(sheet, shop, catalogue, spacing)
        with watch.room("proof"):
            proof = prove_sheet(
                plan.sheet,
                [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs],
                Setup(
                    cutters=cutters,
                    machine=shop.machine,
                    through_mm=plan.through_mm,
                    hold_down=plan.hold_down,
                    tabs=plan.tabs,
                ),
            )
        plans.append(plan)
        proofs.append(proof)
    with watch.room("exports"):
        shown = Answer(stack, findings, catalogue, None, tuple(plans), tuple(proofs))
        files = make_files(packed(shown), later_paths(shown))
    size = {
        "parts": sum(len(layer.parts) for layer in stack.layers),
        "vertices": sum(
            int(shapely.get_num_coordinates(p.outline)) for la in stack.layers for p in la.parts
        ),
        "sheets": len(nesting.sheets),
        "unplaced": len(nesting.unplaced),
        "lines_of_program": sum(p.text.count("\n") for plan in plans for p in plan.programs),
        "bytes": sum(len(data) for data in files.values()),
    }
    return watch.rooms, size


def measure(situation: Situation, runs: int) -> dict[str, Any]:
    """Return medians and spread of rooms, kernels and ratios for a situation."""
    with recording() as record:
        _, size = walk(situation)
    # What was recorded is no work for the collector while the runs are timed.
    gc.collect()
    gc.freeze()
    rooms, bare = [], []
    for _ in range(runs):
        rooms.append(walk(situation)[0])
        bare.append(replay(record))
    gc.unfreeze()
    way = [sum(r.values()) - r["nesting"] for r in rooms]
    plain = [w - r["exports"] for w, r in zip(way, rooms, strict=True)]
    native = [sum(b.values()) for b in bare]
    native_plain = [n - b["resvg"] for n, b in zip(native, bare, strict=True)]
    return {
        "situation": situation.name,
        "font": situation.font,
        "letters": situation.letters,
        "size": size,
        "calls": record.counts(),
        "rooms_s": {name: spread([r[name] for r in rooms]) for name in ROOMS},
        "kernels_s": {name: spread([b[name] for b in bare]) for name in KERNELS},
        "way_s": spread(way),
        "way_without_exports_s": spread(plain),
        "all_kernels_s": spread(native),
        "ratio": ratio(way, native),
        "ratio_without_exports": ratio(plain, native_plain),
    }


def spread(values: Sequence[float]) -> dict[str, float]:
    """Return median, least and most."""
    return {
        "median": round(statistics.median(values), 5),
        "least": round(min(values), 5),
        "most": round(max(values), 5),
    }


def ratio(over: Sequence[float], under: Sequence[float]) -> dict[str, float]:
    """Return median, least and most of the ratios of each run."""
    return spread([a / b for a, b in zip(over, under, strict=True)])


def growth(results: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return for each font the exponents from 24 to 96 letters: way, kernels, every room."""
    found = []
    for font in FONTS:
        by_size = {r["letters"]: r for r in results if r["font"] == font}
        if not {24, 96} <= set(by_size):
            continue
        small, large = by_size[24], by_size[96]

        def exponent(*path: str, a: Any = small, b: Any = large) -> float:
            for step in path:
                a, b = a[step], b[step]
            return round(math.log(b["median"] / a["median"]) / math.log(4), 3)

        found.append(
            {
                "font": font,
                "way": exponent("way_s"),
                "way_without_exports": exponent("way_without_exports_s"),
                "kernels": exponent("all_kernels_s"),
                "rooms": {room: exponent("rooms_s", room) for room in ROOMS},
            }
        )
    return found


def where() -> dict[str, Any]:
    """Return machine and versions."""
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [ln for ln in info.read_text().splitlines() if ln.startswith("model name")]
        cpu = names[0].partition(":")[2].strip() if names else cpu
    packages = ("letterply", "numpy", "shapely", "numba", "pyvoronoi", "uharfbuzz", "resvg_py")
    return {
        "cpu": cpu,
        "cores": os.cpu_count(),
        "load": [round(x, 2) for x in os.getloadavg()],
        "system": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        "geos": shapely.geos_version_string,
        **{name: importlib.metadata.version(name) for name in packages},
    }


def table(results: Sequence[dict[str, Any]]) -> str:
    """Return the figures of situations as text."""
    lines = []
    for r in results:
        lines.append(
            f"{r['situation']} ({r['size']['parts']} parts, {r['size']['vertices']} vertices)"
        )
        for title, key in (("rooms", "rooms_s"), ("kernels", "kernels_s")):
            shares = "  ".join(f"{name} {v['median']:.3f}" for name, v in r[key].items())
            lines.append(f"  {title + ', s':11} {shares}")
        for title, key in (
            ("whole way / kernels", "ratio"),
            ("without exports and pictures", "ratio_without_exports"),
        ):
            v = r[key]
            lines.append(f"  {title:30} {v['median']:6.2f}  ({v['least']:.2f} to {v['most']:.2f})")
    return "\n".join(lines)


def conclusion(grown: Sequence[dict[str, Any]]) -> str:
    """Return growth and aim as text."""
    lines = []
    for g in grown:
        rooms = ", ".join(f"{room} {value:.2f}" for room, value in g["rooms"].items())
        lines.append(
            f"growth of {g['font']} from 24 to 96 letters: exponent {g['way']:.2f} "
            f"(kernels {g['kernels']:.2f}; n log n {AIM_GROWTH:.2f}): {rooms}"
        )
    lines.append(f"aim: a ratio of {AIM_RATIO:g} at most, growth no worse than n log n")
    return "\n".join(lines)


def hot_spots(situation: Situation, count: int = 25) -> str:
    """Return the functions of the engine in which most time is spent, with where they stand.

    What a function calls outside the engine, native or not, counts as its own.
    """
    profile = cProfile.Profile()
    profile.runcall(walk, situation)
    stats: Any = pstats.Stats(profile).stats  # type: ignore[attr-defined]
    home = str(Path(letterply.__file__).parent)
    own: dict[Any, float] = {}
    for place, (_, _, self_time, _, callers) in stats.items():
        if place[0].startswith(home):
            own[place] = own.get(place, 0.0) + self_time
            continue
        for caller, (_, _, _, whole_time) in callers.items():
            if caller[0].startswith(home):
                own[caller] = own.get(caller, 0.0) + whole_time
    total = sum(own.values())
    lines = [f"hot spots of {situation.name}, {total:.1f} s under the profiler"]
    for place, spent in sorted(own.items(), key=lambda item: -item[1])[:count]:
        file, line, name = place
        whole = stats[place][3]
        lines.append(
            f"  {spent:7.3f} s  {spent / total:4.0%}  of {whole:7.3f} s  "
            f"letterply{file.removeprefix(home)}:{line} {name}"
        )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, print the table, write the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="six letters of one font, one run")
    parser.add_argument("--runs", type=int, default=3, help="runs of each situation (3)")
    parser.add_argument("--json", type=Path, help="write all figures to this file")
    parser.add_argument("--profile", action="store_true", help="print where the time goes instead")
    asked = parser.parse_args(arguments)
    fonts, sizes = (FONTS[:1], SIZES[:1]) if asked.quick else (FONTS, SIZES)
    runs = 1 if asked.quick else asked.runs
    situations = [Situation(font, letters) for font in fonts for letters in sizes]
    if asked.profile:
        walk(situations[0])  # compiled kernels are loaded, modules imported
        for situation in situations[-1:] if asked.quick else situations[1:2]:
            print(hot_spots(situation))
        return
    here = where()
    print(", ".join(f"{name} {value}" for name, value in here.items()))
    results = []
    for situation in situations:
        results.append(measure(situation, runs))
        print(table(results[-1:]), flush=True)
    grown = growth(results)
    print(conclusion(grown))
    if asked.json:
        found = {"where": here, "runs": runs, "situations": results, "growth": grown}
        asked.json.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
