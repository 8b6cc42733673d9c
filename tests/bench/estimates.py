"""Estimates of orders beside what their plans say: time, price, and how far off.

    .venv/bin/python tests/bench/estimates.py [NAME ...]

Every order is estimated as a dry run does it, and then built, laid and planned whole, line by
line, as the order is made (without drawings and proofs, of which no quote knows). Orders of few
designs are rehearsed whole; the others are sampled, and those are what the band is about.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Mapping
from typing import Any

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.plan import plan_sheet
from letterply.lettering.artwork.library import ArtworkLibrary
from letterply.lettering.fonts.library import FontLibrary
from letterply.orders.intake.estimating import estimate_order
from letterply.orders.intake.measuring import measure_designs
from letterply.orders.intake.reading import Order, read_order
from letterply.orders.intake.sampling import choose_sample
from letterply.orders.pipeline.lines import layers_of
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.rehearsal import rehearse
from letterply.orders.pipeline.sheets import planned_facts, sheet_of
from letterply.orders.pipeline.stages import OrderPipeline
from letterply.orders.pipeline.task_requests import LoadRequest, Sources
from letterply.orders.quote import SheetCost, make_quote
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack
from letterply.storage.vault import FolderVault

_BIRDS = (
    "Knot", "Ruff", "Dunlin", "Avocet", "Sora", "Stint", "Curlew", "Godwit", "Whimbrel", "Plover",
    "Turnstone", "Sanderling", "Redshank", "Greenshank", "Lapwing", "Snipe", "Woodcock", "Dotterel",
    "Phalarope", "Oystercatcher", "Stilt", "Pratincole", "Courser", "Tern", "Gull", "Skua", "Auk",
    "Puffin", "Razorbill", "Guillemot", "Heron", "Egret", "Bittern", "Spoonbill", "Ibis", "Crane",
    "Rail", "Crake", "Coot", "Moorhen", "Grebe", "Diver", "Teal", "Wigeon", "Gadwall", "Pintail",
    "Shoveler", "Pochard", "Scaup", "Eider",
)  # fmt: skip


def _layer(name: str, material: str, thickness: float, outline: Any, *features: Any) -> Any:
    return {"name": name, "material": material, "thickness": thickness, "outline": outline,
            "features": list(features)}  # fmt: skip


def _words(font: str, high: float) -> dict[str, Any]:
    return {"text": "{text}", "font": font, "size": {"cap_height": high}}


def _recipe(font: str, high: float, *layers: Any, **more: Any) -> dict[str, Any]:
    return {"title": "{text}", "lettering": _words(font, high), "layers": list(layers), **more}


def _tag(style: str, high: float = 8, **more: Any) -> dict[str, Any]:
    """Return a tag of two-coloured sheet whose words a drag point draws."""
    outline = {"kind": "plate", "shape": "rounded", "margin": 5, "corner": 3}
    scribe = {"kind": "scribe_lettering", "style": style, "hatch_gap": 0.4}
    if style != "hatch":
        del scribe["hatch_gap"]
    return _recipe("oswald", high, _layer("tag", "acrylic-cast", 3, outline, scribe), **more)


def _script(font: str, high: float) -> dict[str, Any]:
    outline = {"kind": "lettering", "grow": 1.0, "join": True, "fill_counters": True}
    return _recipe(font, high, _layer("script", "mdf", 6, outline))


def _letters(high: float) -> dict[str, Any]:
    return _recipe(
        "archivo-black", high,
        _layer("backer", "mdf", 6, {"kind": "lettering", "grow": 3.0}),
        _layer("face", "mdf", 3, {"kind": "lettering"}),
    )  # fmt: skip


def _board(feature: Mapping[str, Any], material: str = "mdf", high: float = 30) -> dict[str, Any]:
    outline = {"kind": "plate", "shape": "rectangle", "margin": 12}
    return _recipe("zilla-slab", high, _layer("board", material, 12, outline, feature))


def _disc(style: str, across: float) -> dict[str, Any]:
    fixture = {"columns": 4, "rows": 3, "material": "mdf", "thickness": 12}
    outline = {"kind": "blank", "shape": "circle", "diameter": across, "fixture": fixture}
    layer = _layer("disc", "brass", 1.5, outline, {"kind": "scribe_lettering", "style": style})
    words = {"text": "{text}", "font": "oswald", "size": {"fit_blank": True}}
    return {"title": "{text}", "lettering": words, "layers": [layer]}


_GROOVE = {"kind": "groove_lettering"}
_FLOOR = {"kind": "groove_lettering", "floor_at": 1.5}
_RECESS = {"kind": "recess", "depth": 3}
_TAPE, _SKIN = {"hold_down": "tape"}, {"hold_down": "skin"}

_ORDERS: dict[str, tuple[dict[str, Any], int, int, dict[str, Any]]] = {
    # name: recipe, lines, copies of each, shop
    "1 tag, hatched": (_tag("hatch"), 1, 1, {}),
    "50 tags of 1, hatched": (_tag("hatch"), 1, 50, {}),
    "6 tags, hatched": (_tag("hatch"), 6, 1, {}),
    "24 tags, outlined": (_tag("outline"), 24, 1, {}),
    "50 tags, hatched": (_tag("hatch"), 50, 1, {}),
    "50 tags, outlined, tape": (_tag("outline"), 50, 1, _TAPE),
    "50 tags, middle line, skin": (_tag("centre"), 50, 1, _SKIN),
    "12 tags of 3, outlined, tape": (_tag("outline"), 12, 3, _TAPE),
    "1 script sign": (_script("pacifico", 25), 1, 1, {}),
    "4 script signs": (_script("pacifico", 25), 4, 1, {}),
    "16 script signs, tape": (_script("pacifico", 22), 16, 1, _TAPE),
    "24 script signs": (_script("lobster", 20), 24, 1, {}),
    "30 script signs, skin": (_script("dancing-script", 24), 30, 1, _SKIN),
    "15 script signs of 4": (_script("lobster", 18), 15, 4, {}),
    "1 name in stacked letters": (_letters(30), 1, 1, {}),
    "3 names in stacked letters": (_letters(30), 3, 1, {}),
    "14 names in stacked letters, tape": (_letters(25), 14, 1, _TAPE),
    "20 names in stacked letters": (_letters(22), 20, 1, {}),
    "1 carved board": (_board(_GROOVE), 1, 1, {}),
    "3 carved boards, tape": (_board(_GROOVE), 3, 1, _TAPE),
    "14 carved boards": (_board(_GROOVE, high=18), 14, 1, {}),
    "2 boards with floors": (_board(_FLOOR, high=35), 2, 1, {}),
    "13 boards with floors, tape": (_board(_FLOOR, high=18), 13, 1, _TAPE),
    "2 boards with recesses": (_board(_RECESS, high=35), 2, 1, {}),
    "12 boards with recesses": (_board(_RECESS, high=25), 12, 1, {}),
    "15 boards with recesses, skin": (_board(_RECESS, high=20), 15, 1, _SKIN),
    "1 disc": (_disc("outline", 30), 1, 1, {}),
    "12 discs": (_disc("outline", 30), 12, 1, {}),
    "40 discs": (_disc("outline", 28), 40, 1, {}),
    "50 discs, middle line": (_disc("centre", 30), 50, 1, {}),
    "2 discs of 30": (_disc("outline", 30), 2, 30, {}),
    "50 discs of 6": (_disc("outline", 26), 50, 6, {}),
}


def _stock() -> list[dict[str, Any]]:
    """Return a rack that never runs out."""
    kinds = (("mdf", 3, 3), ("mdf", 6, 4), ("mdf", 12, 7), ("acrylic-cast", 3, 14))
    return [
        {"material": m, "thickness_mm": t, "width_mm": 600, "height_mm": 400, "count": 60,
         "price": p, "key": f"{m}-{t}"}
        for m, t, p in kinds
    ]  # fmt: skip


def order_called(name: str) -> Order:
    """Return one of the orders."""
    recipe, lines, copies, shop = _ORDERS[name]
    words = [{"text": _BIRDS[n], "quantity": copies} for n in range(lines)]
    wish = {"title": name, "recipe": "own", "recipes": {"own": recipe}, "lines": words,
            "shop": {"stock": _stock(), **shop}}  # fmt: skip
    return read_order(wish, load_catalogue(), lambda key: True)


def estimated(order: Order) -> dict[str, Any]:
    """Return what a dry run says of an order."""
    measures = measure_designs([line.recipe for line in order.lines], order.shop, (), {})
    wrong = [m for m in measures if m.code]
    if wrong:
        raise SystemExit(f"{order.title}: {wrong[0].message}")
    sample = choose_sample(order, measures)
    rehearsed = rehearse(sample.order, (), {}, {})
    return estimate_order(order, sample, rehearsed, resolve_shop(order.shop, load_catalogue()))


def planned(order: Order, vault: FolderVault) -> dict[str, Any]:
    """Return the quote of an order whose every line and sheet is planned by itself."""
    catalogue = load_catalogue()
    shop = resolve_shop(order.shop, catalogue)
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
        pool = work(request, vault, catalogue, shop)
        if pool.unplaced:
            raise SystemExit(f"{order.title}: {pool.unplaced[0].why}")
        pools.append(pool)
    costs = []
    by_hand = shop.machine.tool_change == "program"
    scribed = order.options.marks == "scribed"
    for spec in pipeline.sheets(pools):
        sheet = sheet_of(spec, vault, shop, catalogue, scribed=scribed)
        plan = plan_sheet(sheet, shop, catalogue, spec.spacing_mm)
        costs.append(SheetCost.of(planned_facts(spec, plan, shop), changes_by_hand=by_hand))
    return make_quote(costs, 0.0, order.prices, changes_by_hand=by_hand).facts()


def main(names: list[str]) -> None:
    """Print a line an order, and how far off estimates are in the median and at worst."""
    import tempfile
    from pathlib import Path

    print("| order | est. min | plan min | ratio | est. price | plan price | ratio | rehearsed "
          "| estimate, s | plan, s |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|", flush=True)
    off: dict[bool, list[float]] = {True: [], False: []}
    for name in names or list(_ORDERS):
        order = order_called(name)
        start = time.process_time()
        told = estimated(order)
        middle = time.process_time()
        with tempfile.TemporaryDirectory() as folder:
            plan = planned(order, FolderVault(Path(folder)))
        end = time.process_time()
        cells, whole = [name], told["rehearsed_whole"]
        for what in ("machine_minutes", "total"):
            guess, truth = told["quote"][what], plan[what]
            cells += [f"{guess:.1f}", f"{truth:.1f}", f"{guess / truth:.2f}"]
            off[whole].append(abs(guess / truth - 1))
        cells += ["whole" if whole else "sample", f"{middle - start:.1f}", f"{end - middle:.1f}"]
        print(f"| {' | '.join(cells)} |", flush=True)
    for whole, found in off.items():
        if found:
            kind = "rehearsed whole" if whole else "sampled"
            print(f"{kind}: {len(found) // 2} orders, off by {statistics.median(found):.1%} in the "
                  f"median, {max(found):.1%} at worst")  # fmt: skip
    every = [*off[True], *off[False]]
    print(f"all: {len(every) // 2} orders, off by {statistics.median(every):.1%} in the median, "
          f"{max(every):.1%} at worst")  # fmt: skip


if __name__ == "__main__":
    main(sys.argv[1:])
