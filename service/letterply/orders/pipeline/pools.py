"""Fan-in, as a task: the parts of all lines in one material, laid on the sheets in the rack.

Parts are taken a batch at a time, in the order of lines, so that the work grows with the number
of parts and not with its square, and the parts of a line lie near each other. The emptiest sheet
of a batch is opened again for the next one. Sheets of an earlier order are kept where all that
lies on them is still wanted, so that a small change touches few sheets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from letterply.catalogue import Catalogue, Shop, Stock
from letterply.cutting import part_spacing
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import Laid, PlacedSpec, SheetSpec, as_laid
from letterply.orders.pipeline.marks import mark_of, mark_order
from letterply.orders.pipeline.task_requests import PoolRequest
from letterply.sheets import (
    Nesting,
    Sheet,
    ToPlace,
    Unplaced,
    containers_by_mark,
    nest,
    spaced_for_overruns,
)
from letterply.stacks import Layer, Part
from letterply.storage import Vault

__all__ = ["lay_order", "pool_material"]

_BATCH_SHEETS = 4.0
"""Sheets' worth of parts, by area, that are laid at once."""

_SEARCHED_SHEETS = 8.0
"""The same when layouts are searched for: a longer strip loses less at its cuts."""


def pool_material(request: PoolRequest, vault: Vault, catalogue: Catalogue, shop: Shop) -> Laid:
    """Return the sheets of one material, and the parts that found no place with the reason.

    Args:
        request: the layers in it, and sheets of an earlier order.
        vault: has the layers.
        catalogue: for grain.
        shop: for the rack and the spacing, and whether counters may be used.

    """
    material = catalogue.material(request.material)
    parts, sources = _parts(request, vault, grain=material.grain)
    spacing = max(part_spacing(shop, material, t) for t in sorted({p.thickness_mm for p in parts}))
    spacing = spaced_for_overruns(spacing, (p.part for p in parts))
    stock = [s for s in shop.stock if s.material == material.key]
    old = [s for s in request.kept if shop.use_counters or not s.in_counters]
    kept, stock, parts = _keep(old, parts, sources, stock, spacing)
    nesting = lay_order(
        parts,
        stock,
        spacing_mm=spacing,
        search_seconds=request.search_s,
        use_counters=shop.use_counters,
    )
    return Laid(
        (*kept, *(_sheet(s, sources, spacing) for s in nesting.sheets)),
        tuple(sorted(nesting.unplaced, key=lambda u: mark_order(u.mark))),
    )


def _parts(
    request: PoolRequest, vault: Vault, *, grain: bool
) -> tuple[list[ToPlace], dict[str, PlacedSpec]]:
    parts: list[ToPlace] = []
    sources: dict[str, PlacedSpec] = {}
    read: dict[str, tuple[Layer, tuple[Part, ...]]] = {}
    for line in request.lines:
        for facts in line.layers:
            if facts.file not in read:
                layer = layer_from(vault.read(facts.file))
                views = tuple(p.cut_view(from_back=layer.from_back) for p in layer.parts)
                read[facts.file] = (layer, views)
            layer, views = read[facts.file]
            for copy in range(1, line.quantity + 1):
                for index, (told, view) in enumerate(zip(facts.parts, views, strict=True)):
                    mark = mark_of(line.number, copy, told.name)
                    sources[mark] = PlacedSpec(
                        mark, copy, told.key, facts.file, index, facts.hidden
                    )
                    parts.append(
                        ToPlace(
                            mark=mark,
                            copy=copy,
                            part=view,
                            material=layer.material,
                            thickness_mm=layer.thickness_mm,
                            grain=grain,
                            from_back=layer.from_back,
                        )
                    )
    return parts, sources


def _keep(
    old: Sequence[SheetSpec],
    parts: list[ToPlace],
    sources: dict[str, PlacedSpec],
    stock: list[Stock],
    spacing_mm: float,
) -> tuple[list[SheetSpec], list[Stock], list[ToPlace]]:
    """Return the old sheets that still hold, and what is left of the rack and of the parts."""
    left = {s.key: s.count for s in stock}
    by_key = {s.key: s for s in stock}
    wanted = {p.mark for p in parts}
    kept = []
    for sheet in old:
        key = sheet.stock.key
        same = all(p.mark in wanted and sources[p.mark].key == p.key for p in sheet.parts)
        rack = left.get(key, 0) and as_laid(by_key[key].as_it_lies()) == sheet.stock
        if not (same and rack and sheet.spacing_mm >= spacing_mm):
            continue
        left[key] -= 1
        wanted -= {p.mark for p in sheet.parts}
        # The files may have been made anew under other names: same part, this order's file.
        now = tuple(replace(sources[p.mark], placement=p.placement) for p in sheet.parts)
        kept.append(replace(sheet, parts=now))
    rest = [replace(s, count=left[s.key]) for s in stock]
    return kept, rest, [p for p in parts if p.mark in wanted]


def lay_order(
    parts: Sequence[ToPlace],
    stock: Sequence[Stock],
    *,
    spacing_mm: float,
    search_seconds: int = 0,
    use_counters: bool = False,
) -> Nesting:
    """Return many parts on stock sheets, a batch at a time (see `letterply.sheets.nesting.nest`).

    Sheets are numbered in the order in which they were finished.
    """
    left = {s.key: s.count for s in stock}
    sheets: list[Sheet] = []
    unplaced: list[Unplaced] = []
    groups: dict[tuple[float, bool], list[ToPlace]] = {}
    for part in parts:
        groups.setdefault((part.thickness_mm, part.from_back), []).append(part)
    area = sum(_grown_mm2(p, spacing_mm) for p in parts)
    for (thickness, _), members in sorted(groups.items()):
        waiting = list(members)
        again: list[ToPlace] = []
        while waiting or again:
            many = _SEARCHED_SHEETS if search_seconds else _BATCH_SHEETS
            room = many * _largest_mm2(stock, left, thickness)
            batch, waiting = _batch(again, waiting, room, spacing_mm)
            rack = [replace(s, count=left[s.key]) for s in stock]
            share = sum(_grown_mm2(p, spacing_mm) for p in batch) / area
            seconds = math.ceil(search_seconds * share)
            found = nest(
                batch,
                rack,
                spacing_mm=spacing_mm,
                search_seconds=seconds,
                use_counters=use_counters,
            )
            unplaced += found.unplaced
            done, again = list(found.sheets), []
            if waiting and len(done) > 1:
                emptiest = min(done, key=lambda s: (s.used_share, -s.number))
                done.remove(emptiest)
                there = {p.mark for p in emptiest.parts}
                again = [p for p in batch if p.mark in there]
            for sheet in done:
                left[sheet.stock.key] -= 1
                sheets.append(replace(sheet, number=len(sheets) + 1))
    return Nesting(tuple(sheets), tuple(unplaced), spacing_mm)


def _batch(
    again: list[ToPlace], waiting: list[ToPlace], room_mm2: float, spacing_mm: float
) -> tuple[list[ToPlace], list[ToPlace]]:
    """Return what is laid next, and what waits on."""
    batch = list(again)
    area = sum(_grown_mm2(p, spacing_mm) for p in batch)
    taken = 0
    for part in waiting:
        area += _grown_mm2(part, spacing_mm)
        if taken and area > room_mm2:
            break
        taken += 1
    return batch + waiting[:taken], waiting[taken:]


def _grown_mm2(part: ToPlace, spacing_mm: float) -> float:
    ring = part.part.outline.exterior
    left, low, right, high = part.part.outline.bounds
    box = (right - left + spacing_mm) * (high - low + spacing_mm)
    return min(box, box * 0.5 + ring.length * spacing_mm / 4 + math.pi * spacing_mm**2 / 4)


def _largest_mm2(stock: Sequence[Stock], left: dict[str, int], thickness_mm: float) -> float:
    areas = [
        s.material_area.area
        for s in stock
        if left[s.key] and abs(s.thickness_mm - thickness_mm) < 0.05
    ]
    return max(areas, default=0.0)


def _sheet(sheet: Sheet, sources: dict[str, PlacedSpec], spacing_mm: float) -> SheetSpec:
    parts = sorted(sheet.parts, key=lambda p: mark_order(p.mark))
    return SheetSpec(
        number=0,
        stock=as_laid(sheet.stock),
        from_back=sheet.from_back,
        spacing_mm=spacing_mm,
        parts=tuple(
            replace(
                sources[p.mark],
                placement=(p.placement.angle_deg, p.placement.x_mm, p.placement.y_mm),
            )
            for p in parts
        ),
        in_counters=bool(containers_by_mark(sheet.parts)),
    )
