r"""Random changes of good programs: what the proof lets pass, judged by a simulation of its own.

    .venv/bin/python tests/reference/changed_programs.py --blocks 1000 --coordinates 1000 \
        --log FILE

Single blocks are removed and single coordinates changed, at random, in programs of real plans with
every operation and every hold-down. What became of each is a line of FILE; begun again, the run
goes on where it was cut off. Where the proof still passes, what the changed programs leave of the
sheet is worked out a second way, in `cut_again`, which shares no code with the proof. A change is
harmless when that surface differs from the one of the good programs nowhere on a part by more than
`cut_again.DEPTH_MM`, nowhere beside a part by more stock than the job's detail behind what is cut,
and tabs and skin are still there; the rest is printed, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.jobs.plans import make_plans, prove_plan
from letterply.lettering.fonts.library import FontLibrary
from letterply.proof.model import ProgramSource, SheetProof
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack
from reference.cut_again import Base, harm

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


@lru_cache(maxsize=2)
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


def prove(of: Base, texts: dict[str, str], catalogue: Any) -> SheetProof:
    """Return the proof of programs of a base."""
    sources = [ProgramSource(p.name, p.cutters, texts[p.name]) for p in of.plan.programs]
    return prove_plan(of.plan, sources, of.shop, catalogue)


def drawn(kind: str, seed: int, number: int) -> tuple[str, random.Random]:
    """Return the sheet of a change, and what draws the rest of it."""
    rng = random.Random(f"{kind} {seed} {number}")
    return rng.choice(list(BASES)), rng


def try_change(kind: str, seed: int, number: int, catalogue: Any) -> dict[str, Any]:
    """Change a program; return what was changed, the fault found first, and the harm if none is."""
    change = without_a_block if kind == "blocks" else with_a_coordinate_changed
    sheet, rng = drawn(kind, seed, number)
    of = base(sheet)
    name = rng.choice(list(of.texts))
    changed, what = change(rng, of.texts[name])
    texts = of.texts | {name: changed}
    proof = prove(of, texts, catalogue)
    code = "" if proof.passed else proof.faults[0].code
    harmed = "" if code else harm(of, texts)
    line = {"base": of.name, "program": name, "line": what, "code": code, "harm": harmed}
    return {"kind": kind, "seed": seed, "number": number} | line


def try_changes(kind: str, count: int, seed: int, catalogue: Any, log: Path | None = None) -> Tally:
    """Change programs so many times and judge each; what a log tells already is not done again.

    Sheet by sheet, so that no more than one is kept.
    """
    tally, done = Tally(), set[int]()
    for outcome in map(json.loads, log.read_text().splitlines() if log and log.exists() else ()):
        if (outcome["kind"], outcome["seed"]) == (kind, seed) and outcome["number"] < count:
            done.add(outcome["number"])
            tally.add(outcome)
    left = [number for number in range(count) if number not in done]
    for number in sorted(left, key=lambda n: list(BASES).index(drawn(kind, seed, n)[0])):
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
