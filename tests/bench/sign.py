"""Planning and proof of one carved sign of 300 by 100 mm with about 20,000 moves.

`python tests/bench/sign.py` prints processor seconds, medians of three: planning, the bare native
kernels that planning asks for (recorded and replayed, `bench/kernels.py`), the proof, and the most
memory that the process held. The exit code is 1 when the proof takes longer than planning, planning
more than five times its kernels, or memory 500 MB.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

from kernels import recording, replay

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.model import CutPlan
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.jobs.plans import make_sheet_plan
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.recipe import parse_recipe
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks.build import build_stack

MOST_MB = 500


def sign() -> dict[str, Any]:
    """Return the recipe: three lines of carved script, a hatched line below."""
    hatched = {"text": "ROWING CLUB", "font": "oswald", "size": {"cap_height": 7}}
    return {
        "title": "Boathouse sign",
        "lettering": {
            "text": "Whimbrel & Turnstone\nSanderling & Godwit\nAvocet, Curlew, Dunlin",
            "font": "great-vibes",
            "size": {"fit": {"width": 280, "height": 78}},
        },
        "layers": [
            {
                "name": "sign",
                "material": "black-walnut",
                "thickness": 9,
                "outline": {"kind": "plate", "width": 300, "height": 100},
                "features": [
                    {"kind": "groove_lettering"},
                    {"kind": "scribe_lettering", "style": "hatch", "lettering": hatched,
                     "place": {"anchor": "bottom", "inset": 2}},
                ],
            }
        ],
    }  # fmt: skip


def median(what: Callable[[], Any]) -> float:
    """Return the processor seconds of three runs, the middle one."""
    spent = []
    for _ in range(3):
        begun = time.process_time()
        what()
        spent.append(time.process_time() - begun)
    return statistics.median(spent)


def main() -> int:
    """Measure and print."""
    catalogue = load_catalogue()
    shop = resolve_shop({}, catalogue)
    (layer,) = build_stack(parse_recipe(sign()), catalogue, FontLibrary()).layers
    stock = next(s for s in shop.stock if s.key == "walnut-9")
    placed = PlacedPart.at("1.sign", 1, layer.parts[0], Placement(0.0, 20.0, 20.0))
    sheet = Sheet(1, stock, (placed,))
    spacing = part_spacing(shop, catalogue.material("black-walnut"), 9)

    def plan() -> CutPlan:
        return plan_sheet(sheet, shop, catalogue, spacing)

    make_sheet_plan(sheet, shop, catalogue, spacing)  # compiled once
    with recording() as record:
        made = plan()
    kernels = sum(replay(record).values())
    cutters = {c.key: c for c in shop.cutters}
    sources = [ProgramSource(p.name, p.cutters, p.text) for p in made.programs]
    planning = median(plan)
    setup = Setup(cutters, shop.machine, made.through_mm, made.hold_down, made.tabs)
    proving = median(lambda: prove_sheet(made.sheet, sources, setup))
    moves = sum(len(path) for op in made.operations for path in op.paths)
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{moves} moves on cells of 0.1 mm")
    print(f"planning {planning:6.2f} s   {planning / kernels:4.1f} times its kernels")
    print(f"kernels  {kernels:6.2f} s")
    print(f"proof    {proving:6.2f} s   {proving / planning:4.2f} of planning")
    print(f"memory   {held:6.0f} MB")
    return int(proving > planning or planning > 5 * kernels or held > MOST_MB)


if __name__ == "__main__":
    sys.exit(main())
