"""Random recipes and shops from a seed; every plan that its planner calls good must be proved.

`python tests/fuzz/random_plans.py 200` takes two hundred seeds from 0, `... 200 --from 1000`
others. Printed is a line for each plan whose proof fails although nothing in planning blocked it:
a false alarm of the proof, or a fault of the plan; either is to be repaired.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.findings import Severity
from letterply.jobs.plans import Made, make_plans
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

BOATS = (
    "Avocet", "Curlew", "Dunlin", "Godwit", "Knot", "Sanderling", "Turnstone", "Whimbrel", "27",
    "AB", "O8", "Ruff & Reeve", "Stint", "Plover",
)  # fmt: skip
FONTS = (
    "archivo-black", "atkinson-hyperlegible", "black-ops-one", "dancing-script", "great-vibes",
    "lobster", "nunito", "oswald", "pacifico", "playfair-display", "varela-round",
    "zilla-slab-bold",
)  # fmt: skip
SHEETS = (
    ("mdf", 3.0), ("mdf", 6.0), ("mdf", 12.0), ("birch-plywood", 6.5), ("birch-plywood", 9.0),
    ("birch-plywood", 12.0), ("acrylic-cast", 3.0), ("acrylic-cast", 5.0), ("black-walnut", 9.0),
    ("sugar-maple", 12.0), ("aluminium-6061", 1.0), ("brass", 1.0),
)  # fmt: skip
MACHINES = ("bench-router", "plain-router-inch", "shop-router", "bench-beam")


@dataclass(frozen=True)
class Outcome:
    """What became of one seed.

    Attributes:
        seed: the seed.
        kind: `proved`; `planner` when planning itself found a blocker; `refused` with an error;
            `false alarm` when only the proof objects.
        why: first reason.

    """

    seed: int
    kind: str
    why: str = ""


NEWER = 10_000
"""Seeds from here on also ask for blanks, frames, inlays, helices and the like."""


def random_request(seed: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a recipe and a shop."""
    recipe, shop = _request(seed)
    if seed >= NEWER and shop["machine"] != "bench-beam":
        _ask_for_more(recipe, shop, np.random.default_rng(seed + 1))
    return recipe, shop


def _ask_for_more(recipe: dict[str, Any], shop: dict[str, Any], rng: np.random.Generator) -> None:
    def chance(share: float) -> bool:
        return bool(rng.random() < share)

    if chance(0.5):
        shop["entry"] = "helix"
    if chance(0.3):
        shop["tab_shape"] = "triangular"
    if chance(0.4):
        shop["groove_passes"] = 2
    layers = recipe["layers"]
    for layer in layers:
        for feature in layer["features"]:
            if feature["kind"] == "scribe_lettering" and chance(0.5):
                feature["style"] = "centre"
    if chance(0.3):
        recipe["align"] = {"kind": "frame", "clearance": round(float(rng.uniform(0.1, 0.4)), 2)}
    if len(layers) > 1 and chance(0.4):
        layers[0]["outline"] = {"kind": "plate", "shape": "arch", "margin": 12}
        deep = round(float(rng.uniform(0.2, 0.5)) * layers[0]["thickness"], 2)
        corner = round(float(rng.uniform(0.5, 1.0)), 2)
        inlay = {"kind": "recess", "depth": deep, "of": layers[1]["name"], "corner": corner}
        layers[0]["features"] = [inlay]
        layers[1]["outline"] = {"kind": "lettering", "grow": 1.5}
    elif chance(0.5):
        shape = ("circle", "rounded", "tag", "oval")[int(rng.integers(4))]
        size = {"diameter": 60} if shape == "circle" else {"width": 90, "height": 50}
        fixture = {"columns": int(rng.integers(1, 4)), "rows": int(rng.integers(1, 3))}
        kind = ("scribe_lettering", "groove_lettering")[int(rng.integers(2))]
        layers[:] = [
            layers[0]
            | {
                "outline": {"kind": "blank", "shape": shape, **size, "fixture": fixture},
                "features": [{"kind": kind}],
            }
        ]
        layers[0]["thickness"] = min(layers[0]["thickness"], 9.0)
        recipe["lettering"]["size"] = {"fit_blank": True}
        recipe["align"] = {"kind": "none"}
    if chance(0.4):
        shop["detail"] = round(float(rng.uniform(0.1, 0.8)), 2)
    for layer in layers:
        if chance(0.2):
            layer["detail"] = round(float(rng.uniform(0.1, 0.8)), 2)


def _request(seed: int) -> tuple[dict[str, Any], dict[str, Any]]:
    rng = np.random.default_rng(seed)

    def pick(options: tuple[Any, ...]) -> Any:
        return options[int(rng.integers(len(options)))]

    def chance(share: float) -> bool:
        return bool(rng.random() < share)

    def between(low: float, high: float) -> float:
        return round(float(rng.uniform(low, high)), 2)

    machine = pick(MACHINES)
    beam = machine == "bench-beam"
    tall = between(14, 60)
    layers: list[dict[str, Any]] = []
    for number in range(int(rng.integers(1, 4))):
        material, thickness = pick(SHEETS[:9] if beam else SHEETS)
        outline: dict[str, Any]
        if chance(0.6):
            outline = {"kind": "lettering", "grow": between(-0.3, 5) if chance(0.7) else 0}
            if chance(0.4):
                outline["join"] = pick((True, "letters"))
            if chance(0.2):
                outline["fill_counters"] = True
            if chance(0.3):
                outline["soften"] = between(0.2, 1.5)
        else:
            outline = {
                "kind": "plate",
                "shape": pick(("rectangle", "rounded", "circle", "oval", "tag")),
                "margin": between(4, 14),
            }
        layer: dict[str, Any] = {
            "name": f"layer{number + 1}",
            "material": material,
            "thickness": thickness,
            "outline": outline,
            "features": [],
        }
        if not beam:
            for _ in range(int(rng.integers(0, 3))):
                layer["features"].append(_feature(pick, chance, between, outline, thickness))
        layers.append(layer)
    align = {"kind": "none"} if beam else pick(
        ({"kind": "none"}, {"kind": "dowels", "diameter": between(2, 4)},
         {"kind": "placement_lines"})
    )  # fmt: skip
    recipe = {
        "title": f"plan {seed}",
        "copies": int(rng.integers(1, 3)),
        "lettering": {
            "text": pick(BOATS),
            "font": pick(FONTS),
            "size": {"cap_height": tall},
            "tracking": between(0, 6) if chance(0.3) else 0,
        },
        "layers": layers,
        "align": align,
    }
    shop: dict[str, Any] = {"machine": machine}
    if beam:
        sheets = sorted({(la["material"], la["thickness"]) for la in layers})
        shop["power"] = [{"material": m, "thickness": t, "cut": 75} for m, t in sheets]
    if not beam:
        shop["hold_down"] = pick(("tabs", "tabs", "tape", "skin"))
        if chance(0.25):
            shop["finish"] = between(0.1, 0.3)
        if chance(0.3):
            flats = ["flat-6", "flat-3175", "flat-2", "flat-1588", "flat-1"]
            kept = [c for c in flats if chance(0.6)] or ["flat-2"]
            shop["cutters"] = [*kept, "vbit-60", "vbit-90", "drag-120", "drill-3"]
    return recipe, shop


def _feature(
    pick: Any, chance: Any, between: Any, outline: dict[str, Any], thickness: float
) -> dict[str, Any]:
    own = {
        "text": pick(("CLUB", "Row", "1", "No 7")),
        "font": pick(FONTS),
        "size": {"cap_height": between(6, 14)},
    }
    plate = outline["kind"] == "plate"
    kind = pick(
        ("holes", "through_lettering", "groove_lettering", "scribe_lettering", "recess")
        if plate
        else ("holes", "groove_lettering", "scribe_lettering")
    )
    if kind == "holes":
        made: dict[str, Any] = {"kind": "holes", "diameter": between(1.5, 8), "at": "centre"}
        if chance(0.3):
            made["depth"] = between(0.3, 0.8) * thickness
        return made
    made = {"kind": kind}
    if kind == "recess":
        made |= {"depth": round(between(0.2, 0.6) * thickness, 2), "of": "lettering"}
    elif kind == "groove_lettering":
        if chance(0.4):
            made["floor_at"] = between(0.5, 2.5)
        if plate and chance(0.5):
            made |= {"lettering": own}
    elif kind == "scribe_lettering":
        made |= {"style": pick(("outline", "hatch"))}
    elif chance(0.5):
        made["bridges"] = True
    return made


def made_from(seed: int, catalogue: Catalogue, library: FontLibrary) -> Made:
    """Return the plans of a seed.

    Raises:
        InputError: the request cannot be met.

    """
    raw, shop = random_request(seed)
    stack = build_stack(parse_recipe(raw), catalogue, library)
    return make_plans(stack, resolve_shop(shop, catalogue), catalogue)


def try_seed(seed: int, catalogue: Catalogue, library: FontLibrary) -> Outcome:
    """Return what becomes of a seed."""
    try:
        made = made_from(seed, catalogue, library)
    except InputError as exc:
        return Outcome(seed, "refused", f"{exc.code}: {exc.message}")
    planning = [f for plan in made.plans for f in plan.findings]
    stops = [f for f in planning if f.severity is Severity.BLOCKER]
    if stops or made.nesting.unplaced:
        return Outcome(seed, "planner", stops[0].why if stops else "unplaced")
    for proof in made.proofs:
        if not proof.passed:
            return Outcome(seed, "false alarm", proof.summary)
    return Outcome(seed, "proved")


def main() -> int:
    """Try many seeds; the exit code is 1 when any of them is a false alarm."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--all", action="store_true", help="print every seed")
    wanted = parser.parse_args()
    catalogue, library = load_catalogue(), FontLibrary()
    kinds: Counter[str] = Counter()
    begun = time.perf_counter()
    for seed in range(wanted.first, wanted.first + wanted.count):
        found = try_seed(seed, catalogue, library)
        kinds[found.kind] += 1
        if wanted.all or found.kind == "false alarm":
            print(found.seed, found.kind, found.why, flush=True)
    print(dict(kinds), f"{time.perf_counter() - begun:.0f} s")
    return int(kinds["false alarm"] > 0)


if __name__ == "__main__":
    sys.exit(main())
