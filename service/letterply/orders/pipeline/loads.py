"""Loads of blanks, as a task: the blanks of all lines of one kind, laid into their fixture.

Each load is a sheet whose places are the pockets of the fixture (`letterply.sheets.fixture_loads`),
filled row by row in the order of lines. Copies of one line that fill whole loads are one sheet that
is run several times. Loads of an earlier order are kept where all that lies in them is still
wanted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from letterply.catalogue import Catalogue, Shop
from letterply.orders.pipeline.answers import BlankAnswer
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import Laid, PlacedSpec, SheetSpec, as_laid
from letterply.orders.pipeline.marks import mark_of
from letterply.orders.pipeline.task_requests import LoadLine, LoadRequest
from letterply.sheets import blank_stock, first_middle, pocket_places
from letterply.stacks import is_turned
from letterply.storage import Vault

__all__ = ["load_blanks"]


@dataclass(frozen=True, slots=True)
class _Blank:
    """One blank: as it is laid, its line, its middle in the frame of its stack."""

    spec: PlacedSpec
    line: int
    middle_mm: tuple[float, float]


def load_blanks(request: LoadRequest, vault: Vault, catalogue: Catalogue, shop: Shop) -> Laid:
    """Return the loads of one kind of blank, as sheets.

    Args:
        request: the blanks, and loads of an earlier order.
        vault: has the layers.
        catalogue: not asked.
        shop: for the bed of its machine.

    """
    layer = request.lines[0].layer
    told = _told(request.lines[0])
    fixture = told.fixture
    blanks = [layer_from(vault.read(line.layer.file)) for line in request.lines]
    turned = any(is_turned(blank, fixture, shop.machine.bed_mm) for blank in blanks)
    stock = blank_stock(blanks[0], fixture, turned=turned)
    empty = SheetSpec(
        number=0,
        # What is paid for is a blank, not the board that holds it.
        stock=replace(as_laid(stock), price=told.price),
        from_back=layer.from_back,
        spacing_mm=0.0,
        zero_mm=first_middle(fixture, turned=turned),
        fixture=request.fixture,
        pocket_mm=fixture.depth_mm if request.fixture else 0.0,
    )
    wanted = {b.spec.mark: b for line in request.lines for b in _blanks(line)}
    sheets = []
    for old in request.kept:
        same = replace(old, number=0, runs=1, parts=(), pocket_mm=empty.pocket_mm) == empty
        if same and all(
            m in wanted and wanted[m].spec.key == p.key for p in old.parts for m in p.marks
        ):
            # The files may have been made anew under other names: same part, this order's file.
            now = tuple(
                replace(wanted[p.mark].spec, placement=p.placement, also=p.also) for p in old.parts
            )
            sheets.append(replace(old, parts=now, pocket_mm=empty.pocket_mm))
            for mark in (m for p in old.parts for m in p.marks):
                del wanted[mark]
    for runs, load in _loads(list(wanted.values()), fixture.columns * fixture.rows):
        parts = []
        for at, (blank, also) in enumerate(load):
            place = pocket_places(fixture, blank.middle_mm, turned=turned)[at]
            placement = (place.angle_deg, place.x_mm, place.y_mm)
            parts.append(replace(blank.spec, also=also, placement=placement))
        sheets.append(replace(empty, runs=runs, parts=tuple(parts)))
    return Laid(tuple(sheets))


def _told(line: LoadLine) -> BlankAnswer:
    blank = line.layer.blank
    if blank is None:
        raise ValueError(f"layer {line.layer.name!r} of line {line.number} is not of blanks")
    return blank


def _blanks(line: LoadLine) -> Iterator[_Blank]:
    layer = line.layer
    (part,) = layer.parts
    for copy in range(1, line.quantity + 1):
        mark = mark_of(line.number, copy, part.name)
        spec = PlacedSpec(mark, copy, part.key, layer.file, 0, layer.hidden)
        yield _Blank(spec, line.number, _told(line).fixture.middle_mm)


def _loads(
    blanks: Sequence[_Blank], size: int
) -> Iterator[tuple[int, list[tuple[_Blank, tuple[str, ...]]]]]:
    """Yield how often a load is run, and its blanks, each with the marks of its later runs."""
    rest: list[_Blank] = []
    for _, group in groupby(blanks, key=lambda b: b.line):
        mine = list(group)
        full = len(mine) // size
        if full:
            yield (
                full,
                [
                    (mine[k], tuple(mine[k + run * size].spec.mark for run in range(1, full)))
                    for k in range(size)
                ],
            )
        rest += mine[full * size :]
    for start in range(0, len(rest), size):
        yield 1, [(blank, ()) for blank in rest[start : start + size]]
