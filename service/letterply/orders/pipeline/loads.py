"""Loads of blanks, as a task: the blanks of all lines of one kind, laid into their fixture.

Each load is a sheet whose places are the pockets of the fixture (`letterply.sheets.fixture_loads`),
filled row by row in the order of lines. Copies of one line that fill whole loads are one sheet that
is run several times. Loads of an earlier order are kept where all that lies in them is still
wanted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from letterply.catalogue import Catalogue, Shop
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.marks import mark_of
from letterply.orders.pipeline.pools import stock_facts
from letterply.sheets import blank_stock, first_middle, pocket_places
from letterply.stacks import Fixture, is_turned
from letterply.storage import Vault

__all__ = ["load_blanks"]


@dataclass(frozen=True, slots=True)
class _Blank:
    """One blank: what the sheet is told of it, its line, its middle in the frame of its stack."""

    told: Mapping[str, Any]
    line: int
    middle_mm: tuple[float, float]

    @property
    def mark(self) -> str:
        return str(self.told["mark"])


def load_blanks(
    args: dict[str, Any], vault: Vault, catalogue: Catalogue, shop: Shop
) -> dict[str, Any]:
    """Return the loads of one kind of blank, as sheets.

    Args:
        args: `lines` (number, quantity, layer as `linework` told of it), `fixture` (what it is
            called on paper), `kept` (sheets of an earlier order).
        vault: has the layers.
        catalogue: not asked.
        shop: for the bed of its machine.

    """
    layer = args["lines"][0]["layer"]
    fixture = _fixture(layer)
    blanks = [layer_from(vault.read(line["layer"]["file"])) for line in args["lines"]]
    turned = any(is_turned(blank, fixture, shop.machine.bed_mm) for blank in blanks)
    stock = blank_stock(blanks[0], fixture, turned=turned)
    common = {
        # What is paid for is a blank, not the board that holds it.
        "stock": {**stock_facts(stock), "price": layer["blank"]["price"]},
        "from_back": layer["from_back"],
        "spacing_mm": 0.0,
        "zero_mm": list(first_middle(fixture, turned=turned)),
        "fixture": args["fixture"],
    }
    wanted = {b.mark: b for line in args["lines"] for b in _blanks(line)}
    sheets = []
    for old in args["kept"]:
        marks = [m for p in old["parts"] for m in (p["mark"], *p["also"])]
        same = all(old[name] == common[name] for name in common)
        if same and all(m in wanted and wanted[m].told["key"] == p["key"]
                        for p in old["parts"] for m in (p["mark"], *p["also"])):  # fmt: skip
            now = [{**p, **wanted[p["mark"]].told} for p in old["parts"]]
            sheets.append({**old, "parts": now})
            wanted = {m: b for m, b in wanted.items() if m not in marks}
    for runs, load in _loads(list(wanted.values()), fixture.columns * fixture.rows):
        parts = []
        for at, (blank, also) in enumerate(load):
            place = pocket_places(fixture, blank.middle_mm, turned=turned)[at]
            placement = [place.angle_deg, place.x_mm, place.y_mm]
            parts.append({**blank.told, "also": also, "placement": placement})
        sheets.append({**common, "number": 0, "runs": runs, "parts": parts})
    return {"sheets": sheets, "unplaced": []}


def _fixture(layer: Mapping[str, Any]) -> Fixture:
    facts = layer["blank"]["fixture"]
    pairs = {k: (v[0], v[1]) for k, v in facts.items() if k.endswith("_mm") and k != "depth_mm"}
    return Fixture(**{**facts, **pairs})


def _blanks(line: Mapping[str, Any]) -> Iterator[_Blank]:
    layer = line["layer"]
    (part,) = layer["parts"]
    for copy in range(1, line["quantity"] + 1):
        told = {
            "mark": mark_of(line["number"], copy, part["name"]),
            "copy": copy,
            "key": part["key"],
            "file": layer["file"],
            "hidden": layer["hidden"],
            "index": 0,
        }
        yield _Blank(told, line["number"], _fixture(layer).middle_mm)


def _loads(
    blanks: Sequence[_Blank], size: int
) -> Iterator[tuple[int, list[tuple[_Blank, list[str]]]]]:
    """Yield how often a load is run, and its blanks, each with the marks of its later runs."""
    rest: list[_Blank] = []
    for _, group in groupby(blanks, key=lambda b: b.line):
        mine = list(group)
        full = len(mine) // size
        if full:
            yield (
                full,
                [
                    (mine[k], [mine[k + run * size].mark for run in range(1, full)])
                    for k in range(size)
                ],
            )
        rest += mine[full * size :]
    for start in range(0, len(rest), size):
        yield 1, [(blank, []) for blank in rest[start : start + size]]
