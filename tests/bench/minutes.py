"""Machine minutes of the demo and of a few usual jobs, as planned and proved.

    .venv/bin/python tests/bench/minutes.py [NAME ...] [--no-proof] [--sets]

Told are, for each job: the minutes on the machine with changes of cutter, those of its longest
sheet, what stays round in corners by the proof (largest distance), and whether the proof passes.
The plan alone needs no proof; with one it takes some minutes of processor time for all of them.
"""

from __future__ import annotations

import argparse
import csv
import json
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from estimates import order_called

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.catalogue.shop import Shop, resolve_shop
from letterply.cutting.model import CutPlan
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.jobs.plans import make_sheet_plan, to_place
from letterply.lettering.artwork.library import ArtworkLibrary
from letterply.lettering.fonts.library import FontLibrary
from letterply.orders.intake.reading import Order, read_order
from letterply.orders.pipeline.lines import layers_of
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.sheets import sheet_of
from letterply.orders.pipeline.stages import OrderPipeline
from letterply.orders.pipeline.task_requests import LoadRequest, Sources
from letterply.requests import CatalogueFile
from letterply.requests.recipe import parse_recipe
from letterply.sheets.fixture_loads import blank_sheets
from letterply.sheets.model import Sheet
from letterply.sheets.nesting import nest
from letterply.sheets.spacing import spaced_for_overruns
from letterply.stacks.build import build_stack
from letterply.storage.vault import FolderVault

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"

PINE_BOARD: dict[str, Any] = {
    "title": "Boathouse",
    "lettering": {
        "text": "BOATHOUSE",
        "font": "zilla-slab-bold",
        "size": {"cap_height": "50 mm"},
    },
    "layers": [
        {
            "name": "board",
            "material": "ponderosa-pine",
            "thickness": "18 mm",
            "outline": {
                "kind": "blank",
                "width": "480 mm",
                "height": "120 mm",
                "fixture": {"depth": "6 mm"},
            },
            "features": [{"kind": "groove_lettering", "floor_at": "3 mm", "angle": 30}],
        }
    ],
}
"""A bought board, carved with a flat floor by the slender bit."""

BOAT_NAME: dict[str, Any] = {
    "title": "Dunlin",
    "lettering": {
        "text": "DUNLIN",
        "font": "frank-ruhl-libre",
        "size": {"cap_height": "120 mm"},
    },
    "layers": [
        {
            "name": "board",
            "material": "ponderosa-pine",
            "thickness": "18 mm",
            "outline": {
                "kind": "blank",
                "width": "900 mm",
                "height": "220 mm",
                "fixture": {"depth": "6 mm"},
            },
            "features": [{"kind": "groove_lettering", "floor_at": "5 mm", "angle": 30}],
        }
    ],
}
"""A bought board with a boat's name in large letters, thick and thin, by the slender bit."""

_QUARTER_INCH = {
    "like": "flat-6",
    "name": "1/4 in end mill, 2 flutes",
    "diameter": "1/4 in",
}

_INCH_RACK: dict[str, Any] = {
    "machine": "shop-router",
    "cutters": ["flat-635", "flat-3175", "flat-1588", "vbit-30"],
    "catalogue": {"cutters": {"flat-635": _QUARTER_INCH}},
}
"""Three end mills and one bit."""

INLAY: dict[str, Any] = {
    "title": "Curlew inlay",
    "lettering": {"text": "Curlew", "font": "zilla-slab-bold", "size": {"cap_height": "40 mm"}},
    "layers": [
        {
            "name": "board",
            "material": "mdf",
            "thickness": "12 mm",
            "outline": {"kind": "plate", "margin": "15 mm"},
            "features": [{"kind": "recess", "depth": "3 mm"}],
        },
        {
            "name": "plug",
            "material": "acrylic-cast",
            "thickness": "3 mm",
            "outline": {"kind": "lettering"},
        },
    ],
}

STACKED: dict[str, Any] = {
    "title": "Sandpipers",
    "lettering": {"text": "SANDPIPERS", "font": "archivo-black", "size": {"cap_height": "60 mm"}},
    "layers": [
        {
            "name": "backer",
            "material": "mdf",
            "thickness": "6 mm",
            "outline": {"kind": "lettering", "grow": "3 mm"},
        },
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": "3 mm",
            "outline": {"kind": "lettering"},
        },
    ],
}

_WIDE = {"machine": "shop-router"}


@dataclass(frozen=True, slots=True)
class Job:
    """What is planned: sheets, with the shop and the distance between parts on them."""

    sheets: tuple[tuple[Sheet, float], ...]
    shop: Shop
    catalogue: Catalogue


def of_recipe(recipe: Mapping[str, Any], wish: Mapping[str, Any] | None = None) -> Job:
    """Return the sheets of a recipe, nested as a plan nests them."""
    said = dict(wish or {})
    own = said.pop("catalogue", None)
    catalogue = load_catalogue(*([] if own is None else [_laid_over(own)]))
    shop = resolve_shop(said, catalogue)
    stack = build_stack(parse_recipe(recipe), catalogue, FontLibrary({}))
    cut = [la for la in (*stack.layers, *stack.fixtures) if la.fixture is None]
    spacing = max(
        (part_spacing(shop, catalogue.material(la.material), la.thickness_mm) for la in cut),
        default=0.0,
    )
    spacing = spaced_for_overruns(spacing, (p for la in cut for p in la.parts))
    nesting = nest(to_place(stack, catalogue), shop.stock, spacing_mm=spacing)
    sheets = list(nesting.sheets)
    for layer in stack.layers:
        if layer.fixture is not None:
            sheets += blank_sheets(layer, stack.copies, len(sheets) + 1, shop.machine.bed_mm)
    return Job(tuple((s, spacing) for s in sheets), shop, catalogue)


def _laid_over(tables: Mapping[str, Any]) -> CatalogueFile:
    return CatalogueFile.model_validate(tables, by_name=False)


def boat_name() -> Job:
    """Return the blank of a boat's name alone: its fixture has outlines only."""
    job = of_recipe(BOAT_NAME, _INCH_RACK)
    return replace(job, sheets=tuple(s for s in job.sheets if s[0].of_blanks))


def of_order(order: Order) -> Job:
    """Return the sheets of an order."""
    catalogue = load_catalogue()
    shop = resolve_shop(order.shop, catalogue)
    found: list[tuple[Sheet, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        vault = FolderVault(Path(folder))
        pipeline = OrderPipeline(order, Sources({}, (), {}), vault)
        library, artworks = FontLibrary({}), ArtworkLibrary({})
        answers = []
        for line in order.lines:
            recipe = parse_recipe(line.recipe)
            stack = build_stack(recipe, catalogue, library, artworks=artworks)
            answers.append(layers_of(recipe, stack, vault))
        pools = []
        for request in pipeline.pool_requests(answers):
            work = load_blanks if isinstance(request, LoadRequest) else pool_material
            pools.append(work(request, vault, catalogue, shop))
        scribed = order.options.marks == "scribed"
        for spec in pipeline.sheets(pools):
            sheet = sheet_of(spec, vault, shop, catalogue, scribed=scribed)
            found.append((sheet, spec.spacing_mm))
    return Job(tuple(found), shop, catalogue)


def demo_order() -> Order:
    """Return the order of the demo."""
    with (DEPLOY / "orders" / "boat-names.csv").open(encoding="utf-8") as table:
        lines = [{**row, "quantity": int(row["quantity"])} for row in csv.DictReader(table)]
    wish = {
        "title": "Boat names",
        "recipe": "rack-sign",
        "lines": lines,
        "marks": "scribed",
        "shop": {"hold_down": "tabs"},
    }
    return read_order(wish, load_catalogue(), lambda key: True)


def _demo(name: str) -> Job:
    recipe = json.loads((DEPLOY / "recipes" / f"{name}.json").read_text("utf-8"))
    shop = DEPLOY / "shops" / f"{name}.json"
    return of_recipe(recipe, json.loads(shop.read_text("utf-8")) if shop.exists() else None)


JOBS = {
    "demo: rack sign": lambda: _demo("avocet-rack-sign"),
    "demo: rack letters": lambda: _demo("rack-letters"),
    "demo: locker tag": lambda: _demo("locker-tag"),
    "demo: race board": lambda: _demo("race-board"),
    "24 names": lambda: of_order(demo_order()),
    "pine board": lambda: of_recipe(PINE_BOARD),
    "boat's name": boat_name,
    "inlay": lambda: of_recipe(INLAY),
    "ten stacked letters": lambda: of_recipe(STACKED, _WIDE),
    "50 tags": lambda: of_order(order_called("50 tags, hatched")),
}


def drawn(plan: CutPlan) -> tuple[int, float, float, float]:
    """Return what a drag point draws: lines, their length in mm, and the least it can take, min.

    The least is that of the lines alone at their feed, without the way to them; the last figure
    adds the millimetre over the face that the point comes down to each at its plunge rate.
    """
    lines = [(op, path) for op in plan.operations if op.kind == "scribe" for path in op.paths]
    length = sum(path.length_mm for _, path in lines)
    least = sum(path.length_mm / op.feeds.feed_mm_per_min for op, path in lines)
    up = 1.0 / (lines[0][0].feeds.plunge_mm_per_min if lines else 1.0)
    return len(lines), length, least, least + len(lines) * up


def measured(name: str, *, proof: bool = True) -> Iterator[dict[str, Any]]:
    """Yield for each sheet of a job what its plan takes and leaves."""
    job = JOBS[name]()
    catalogue = job.catalogue
    for sheet, spacing in job.sheets:
        began = time.process_time()
        if proof:
            plan, shown, _ = make_sheet_plan(sheet, job.shop, catalogue, spacing)
            rounded = [f for f in shown.faults if f.code == "rounded"]
            told = {
                "passed": shown.passed,
                "round_mm": max((float(f.measured or 0) for f in rounded), default=0.0),
                "faults": sorted({f.code for f in shown.faults}),
            }
        else:
            plan, told = plan_sheet(sheet, job.shop, catalogue, spacing), {}
        yield {
            "sheet": sheet.number,
            "parts": len(sheet.parts),
            "minutes": plan.whole_time.total_s / 60,
            "programs": {p.name: round(p.time.total_s / 60, 1) for p in plan.programs},
            "drawn": drawn(plan),
            "tabs": sum(plan.tabs.values()),
            "sets": [
                f"{'> ' if s.chosen else ''}{choice.work}: {' + '.join(s.cutters)} "
                f"{s.time_s / 60:.1f} min, {s.left_area_mm2:.1f} mm² stay, "
                f"{s.left_round_mm:.2f} mm from what is reached"
                for choice in plan.choices
                for s in choice.sets
            ],
            "cpu_s": time.process_time() - began,
            **told,
        }


def main() -> None:
    """Print a line a job, and a line a sheet below it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="jobs; all without")
    parser.add_argument("--no-proof", action="store_true", help="plan only")
    parser.add_argument("--sets", action="store_true", help="tell the sets of cutters compared")
    asked = parser.parse_args()
    for name in asked.names or JOBS:
        sheets = list(measured(name, proof=not asked.no_proof))
        total = sum(s["minutes"] for s in sheets)
        worst = max(sheets, key=lambda s: s["minutes"])
        print(f"{name}: {total:.0f} min, longest sheet {worst['minutes']:.0f} min", flush=True)
        for s in sheets:
            programs = ", ".join(f"{key} {m}" for key, m in s["programs"].items())
            told = ""
            if not asked.no_proof:
                told = f"; proof {'passes' if s['passed'] else 'FAILS'} {s['faults']}, "
                told += f"round by {s['round_mm']:.2f} mm"
            print(
                f"  {s['sheet']}: {s['parts']} parts, {s['minutes']:.1f} min ({programs}), "
                f"{s['tabs']} tabs{told}; {s['cpu_s']:.1f} s of processor",
                flush=True,
            )
            lines, length, least, lifted = s["drawn"]
            if lines:
                print(
                    f"     drawn: {lines} lines, {length / 1000:.1f} m, {least:.1f} min at their "
                    f"feed, {lifted:.1f} min with the last millimetre down to each"
                )
            for words in s["sets"] if asked.sets else ():
                print(f"     {words}")


if __name__ == "__main__":
    main()
