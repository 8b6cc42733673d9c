"""Layouts against others: boxes on shelves, and a strip packer that knows no sheets.

Situations are script letters and names from the order of the boathouse, and public instances.
Lengths are mm. `python tests/bench/packings.py [SECONDS]` prints the table of `DEVELOPERS.md`; the
strip packer searches so many seconds for each line, 60 without a number.

The shelves are first fit by decreasing width: a box lies on the first shelf with room for it,
shelves are columns as wide as their first box, and boxes lie so that they are narrow. Boxes as
drawn, or lying wide, and next fit gave longer shelves or hardly shorter ones.
"""

from __future__ import annotations

import json
import math
import resource
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np
import shapely
import spyrrow
from shapely import Polygon

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Stock
from letterply.lettering.fonts.library import FontLibrary
from letterply.orders.pipeline.pools import lay_order
from letterply.requests.recipe import parse_recipe
from letterply.sheets.model import Nesting, Sheet
from letterply.sheets.nested.counters import containers_by_mark
from letterply.sheets.nesting import FREE_TURNS_DEG, GRAIN_TURNS_DEG, ToPlace
from letterply.sheets.verifying import least_gap
from letterply.stacks.build import build_stack
from letterply.stacks.model import Part

INSTANCE_NAMES = ("albano", "jakobs1", "shirts", "swim")

T = TypeVar("T")

INSTANCES = Path(__file__).parents[1] / "reference" / "packing"
NAMES = (
    "Avocet", "Bittern", "Curlew", "Dotterel", "Dunlin", "Egret", "Gannet", "Godwit", "Grebe",
    "Greenshank", "Knot", "Lapwing", "Osprey", "Oystercatcher", "Phalarope", "Plover", "Redshank",
    "Ruff", "Sanderling", "Shelduck", "Snipe", "Tern", "Turnstone", "Whimbrel",
)  # fmt: skip


def script_names(
    cap_height_mm: float = 26.0, font: str = "dancing-script", grow_mm: float = 3.0
) -> list[Part]:
    """Return the backers of the boat names: script words, grown and joined, a part each."""
    catalogue, library = load_catalogue(), FontLibrary()
    found: list[Part] = []
    for name in NAMES:
        recipe = parse_recipe(
            {
                "title": name,
                "lettering": {"text": name, "font": font, "size": {"cap_height": cap_height_mm}},
                "layers": [
                    {
                        "name": "backer",
                        "material": "mdf",
                        "thickness": 6,
                        "outline": {
                            "kind": "lettering",
                            "grow": grow_mm,
                            "join": True,
                            "fill_counters": True,
                        },
                    }
                ],
            }
        )
        found.extend(build_stack(recipe, catalogue, library).layers[0].parts)
    return found


def script_letters(cap_height_mm: float = 40.0, font: str = "great-vibes") -> list[Part]:
    """Return script letters, each a part of its own: the letters of the boat names."""
    catalogue, library = load_catalogue(), FontLibrary()
    found: list[Part] = []
    made: dict[str, tuple[Part, ...]] = {}
    for letter in "".join(NAMES):
        if letter not in made:
            recipe = parse_recipe(
                {
                    "title": letter,
                    "lettering": {
                        "text": letter,
                        "font": font,
                        "size": {"cap_height": cap_height_mm},
                    },
                    "layers": [
                        {
                            "name": "face",
                            "material": "mdf",
                            "thickness": 6,
                            "outline": {"kind": "lettering", "grow": 1.0, "join": True},
                        }
                    ],
                }
            )
            made[letter] = build_stack(recipe, catalogue, library).layers[0].parts
        found.extend(made[letter])
    return found


def to_place(parts: Sequence[Part], *, grain: bool = False) -> list[ToPlace]:
    """Return parts as an order hands them to the layout, a mark each."""
    return [
        ToPlace(f"{n}.1.0.layer", 1, part, "mdf", 6.0, grain=grain)
        for n, part in enumerate(parts, start=1)
    ]


def sheet_stock(width_mm: float, height_mm: float, count: int, margin_mm: float = 8.0) -> Stock:
    """Return the rack: one kind of sheet."""
    return Stock("sheet", "mdf", 6.0, width_mm, height_mm, count, margin_mm)


def length_used(nesting: Nesting) -> float:
    """Return the length of sheet that is used: whole sheets, and the last one up to its end."""
    ends = [max(p.part.outline.bounds[2] for p in s.parts) for s in nesting.sheets]
    margins = [s.stock.margin_mm for s in nesting.sheets]
    usable = [s.stock.width_mm - 2 * s.stock.margin_mm for s in nesting.sheets]
    emptiest = int(np.argmin(ends))
    whole = sum(u for n, u in enumerate(usable) if n != emptiest)
    return whole + ends[emptiest] - margins[emptiest]


def shelf_length(
    outlines: Sequence[Polygon], width_mm: float, height_mm: float, spacing_mm: float
) -> float:
    """Return the length of sheet that boxes on shelves use: first fit, widest first.

    A shelf is a column of the sheet, as wide as its widest box; boxes lie so that they are narrow,
    where they are not too long for it.
    """
    boxes = []
    for outline in outlines:
        left, low, right, high = outline.bounds
        sides = sorted((right - left, high - low))
        boxes.append((sides[0], sides[1]) if sides[1] <= height_mm else (sides[1], sides[0]))
    boxes.sort(key=lambda b: (-b[0], -b[1]))
    columns: list[list[float]] = []  # width, height used
    for wide, tall in boxes:
        for column in columns:
            if wide <= column[0] and column[1] + spacing_mm + tall <= height_mm:
                column[1] += spacing_mm + tall
                break
        else:
            columns.append([wide, tall])
    used, full = 0.0, 0
    for wide, _ in columns:
        longer = used + (spacing_mm if used else 0.0) + wide
        if longer > width_mm:
            full, longer = full + 1, wide
        used = longer
    return full * width_mm + used


def strip_length(
    outlines: Sequence[Polygon],
    height_mm: float,
    spacing_mm: float,
    turns_deg: Sequence[float],
    seconds: int,
    seed: int = 1,
) -> float:
    """Return the length that a strip packer finds for the same parts, without sheets."""
    items = []
    for number, outline in enumerate(outlines):
        coarse = Polygon(outline.exterior).simplify(0.1)
        points = shapely.get_coordinates(coarse.exterior)[:-1].tolist()
        items.append(spyrrow.Item(str(number), [tuple(p) for p in points], 1, list(turns_deg)))
    # Its separation also holds to the edges of the strip, ours does not.
    strip = spyrrow.StripPackingInstance("strip", height_mm + 2 * spacing_mm, items)

    def search(clock_s: int) -> float:
        config = spyrrow.StripPackingConfig(
            total_computation_time=clock_s,
            min_items_separation=spacing_mm or None,
            num_workers=1,
            seed=seed,
        )
        return float(strip.solve(config).width) - 2 * spacing_mm

    return fairly(search, seconds)[0]


LONGEST = 20
"""How many times its seconds a search may take by the clock on busy cores."""

ENOUGH = 0.8
"""Share of its seconds that a search must have had of the processor."""


def fairly(search: Callable[[int], T], seconds: int) -> tuple[T, float]:
    """Return what a search finds that had its seconds of processor, and how many it had.

    Searches are limited by the clock; on busy cores the clock is given more, until it is enough.
    """
    clock = seconds
    while True:
        before = _processor_s()
        found = search(clock)
        had = _processor_s() - before
        if had >= ENOUGH * seconds or clock >= LONGEST * seconds or had < 0.1:
            return found, had
        clock = min(LONGEST * seconds, math.ceil(1.1 * clock * seconds / had))


def _processor_s() -> float:
    """Return the processor time of this process and of those that it waited for, s."""
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(u.ru_utime + u.ru_stime for u in used)


def read_instance(
    name: str, height_mm: float = 400.0
) -> tuple[list[Part], tuple[float, ...], float]:
    """Return the parts of a public instance, scaled to a strip of this height; turns; height."""
    data = json.loads((INSTANCES / f"{name}.json").read_text())
    scale = height_mm / data["strip_height"]
    parts: list[Part] = []
    turns: tuple[float, ...] = (0.0,)
    for item in data["items"]:
        outline = shapely.orient_polygons(
            Polygon(np.array(item["shape"]["data"]) * scale).buffer(0)
        )
        turns = tuple(float(t) for t in item["allowed_orientations"])
        parts += [Part(f"p{item['id']}", "layer", outline)] * item["demand"]
    return parts, turns, height_mm


def remeasure(sheets: Sequence[Sheet], spacing_mm: float, *, grain: bool) -> None:
    """Assert distance, margin and grain of every placement on the true outlines."""
    for sheet in sheets:
        outlines = [p.part.outline for p in sheet.parts]
        assert least_gap(outlines, up_to_mm=spacing_mm + 1) >= spacing_mm - 2e-5
        margin = sheet.stock.margin_mm - 2e-5
        inner = shapely.box(
            margin, margin, sheet.stock.width_mm - margin, sheet.stock.height_mm - margin
        )
        assert all(inner.covers(outline) for outline in outlines)
        if grain:
            assert {p.placement.angle_deg % 180 for p in sheet.parts} == {0.0}
        for placed in sheet.parts:
            assert np.isclose(placed.part.outline.area, placed.source.outline.area)


SPACING_MM = 5.175
"""Of a 1/8 in end mill, parts held by tape."""


def compare(
    parts: Sequence[Part], size: tuple[float, float], seconds: int, *, grain: bool = False
) -> tuple[float, float, float]:
    """Return our length and the strip packer's over that of the shelves, and our time in s."""
    stock = sheet_stock(*size, 60)
    width, height = (side - 2 * stock.margin_mm for side in size)
    outlines = [p.outline for p in parts]
    shelves = shelf_length(outlines, width, height, SPACING_MM)
    start = time.process_time()
    nesting = lay_order(to_place(parts, grain=grain), [stock], spacing_mm=SPACING_MM)
    took = time.process_time() - start
    remeasure(nesting.sheets, SPACING_MM, grain=grain)
    turns = GRAIN_TURNS_DEG if grain else FREE_TURNS_DEG
    strip = strip_length(outlines, height, SPACING_MM, turns, seconds)
    return length_used(nesting) / shelves, strip / shelves, took


def compare_instance(name: str, seconds: int) -> str:
    """Return a line on a public instance: our lengths, quick and searched, over the strip packer's.

    Sheets take a strip of 400 mm, 1200 mm long; parts lie 1 mm apart, with the instance's turns.
    """
    parts, turns, height = read_instance(name)
    grain = len(turns) == 2
    strip = strip_length([p.outline for p in parts], height, 1.0, turns, seconds)
    told = f"{name:32} {len(parts):4} parts  strip {strip:7.1f} mm"

    def laid(search: int) -> Nesting:
        stock = [sheet_stock(1216, height + 16, 60)]
        places = to_place(parts, grain=grain)
        return lay_order(places, stock, spacing_mm=1.0, search_seconds=search)

    for search in (0, seconds):
        nesting, took = fairly(laid, search)
        remeasure(nesting.sheets, 1.0, grain=grain)
        ours = length_used(nesting)
        told += f"  {'search' if search else 'quick'} {ours:7.1f} {ours / strip - 1:+6.1%}"
        told += f" {took:.1f} s on {len(nesting.sheets)}"
    return told


def counters_used(large: Sequence[Part], small: Sequence[Part]) -> tuple[float, float, int]:
    """Return the length of sheet without and with counters, mm, and how many parts lie in them."""
    lengths, inside = [], 0
    for use in (False, True):
        stock = [sheet_stock(600, 400, 60)]
        places = to_place([*large, *small])
        nesting = lay_order(places, stock, spacing_mm=SPACING_MM, use_counters=use)
        inside = sum(len(containers_by_mark(sheet.parts)) for sheet in nesting.sheets)
        lengths.append(length_used(nesting))
    return lengths[0], lengths[1], inside


def face_parts(text: str, font: str, cap_height_mm: float) -> list[Part]:
    """Return the parts of a text as it is drawn."""
    recipe = parse_recipe(
        {
            "title": text,
            "lettering": {"text": text, "font": font, "size": {"cap_height": cap_height_mm}},
            "layers": [
                {
                    "name": "face",
                    "material": "mdf",
                    "thickness": 6,
                    "outline": {"kind": "lettering"},
                }
            ],
        }
    )
    return list(build_stack(recipe, load_catalogue(), FontLibrary()).layers[0].parts)


def main() -> None:
    """Print how long our layouts are, beside others."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    letters = script_letters(80.0)
    lay_order(to_place(letters[:9]), [sheet_stock(600, 400, 1)], spacing_mm=SPACING_MM)  # compiles
    cases: list[tuple[str, list[Part], bool]] = [
        ("letters, Great Vibes 80 mm", letters, False),
        ("the same, with grain", letters, True),
        ("letters, Dancing Script 60 mm", script_letters(60.0, "dancing-script"), False),
        ("letters, Lobster 60 mm", script_letters(60.0, "lobster"), False),
        ("letters, Pacifico 60 mm", script_letters(60.0, "pacifico"), False),
        ("names, Dancing Script 26 mm", script_names(), False),
    ]
    print("length over shelves on 600 x 400 mm         ours  strip  loss  time")
    for name, parts, grain in cases:
        ours, strip, took = compare(parts, (600, 400), seconds, grain=grain)
        print(
            f"{name:32} {len(parts):4} parts  {ours:.3f}  {strip:.3f} {ours / strip - 1:+6.1%} "
            f"{took:.1f} s"
        )
    print("public instances on 1216 x 416 mm, over the strip packer's length")
    for name in INSTANCE_NAMES:
        print(compare_instance(name, seconds))
    print("length without and with counters, parts in them")
    for font in ("playfair-display", "great-vibes"):
        small = [part for name in NAMES for part in face_parts(name, font, 25.0)]
        without, used, inside = counters_used(face_parts("Oodea", font, 200.0), small)
        print(
            f"{font}, Oodea 200 mm, 24 names 25 mm: {without:.0f} mm, {used:.0f} mm "
            f"({used / without - 1:+.1%}), {inside}"
        )


if __name__ == "__main__":
    main()
