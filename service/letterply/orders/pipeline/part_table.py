"""The table of an order's parts: answers in, a row for each part out, in the order of marks."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, fields

from shapely.affinity import affine_transform

from letterply.names import visible
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import Problem
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import PlacedSpec, SheetSpec
from letterply.orders.pipeline.marks import mark_order
from letterply.orders.pipeline.parts import Listed, Made, board_parts, line_parts
from letterply.orders.pipeline.task_requests import Pooled
from letterply.stacks import Layer, rigid
from letterply.storage import Vault
from letterply.units import column_in_units

__all__ = ["PartRow", "part_rows", "parts_csv"]

_GUARDED = ("=", "+", "-", "@", "\t", "\r")
"""A cell that starts so would be computed by a spreadsheet."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part, as the table has it.

    Attributes:
        mark: what it is called.
        line, copy: 0 for what belongs to no line; which copy of it.
        reference, text: of its line.
        letters: what it carries.
        layer, material, thickness_mm: what it is cut from.
        width_mm, height_mm, area_mm2: how large it is.
        sheet: number of its sheet; None for a part without a place, as all that follows.
        x_mm, y_mm: lower left corner of its box on the sheet.
        turn_deg: how far it is turned.
        cut_from: `front` or `back`.
        not_placed: why it has no place; empty for one that has.

    """

    mark: str
    line: int
    copy: int
    reference: str
    text: str
    letters: str
    layer: str
    material: str
    thickness_mm: float
    width_mm: float
    height_mm: float
    area_mm2: float
    sheet: int | None
    x_mm: float | None
    y_mm: float | None
    turn_deg: float | None
    cut_from: str
    not_placed: str


def part_rows(
    order: Order,
    lines: Sequence[Made],
    sheets: Sequence[SheetSpec],
    pools: Sequence[Pooled],
    vault: Vault,
) -> tuple[PartRow, ...]:
    """Return a row for each part, in the order of marks.

    Args:
        order: the order.
        lines: what came of its lines.
        sheets: what lies where.
        pools: what found no room.
        vault: has the layers.

    """
    corners = _Corners(vault)
    on_sheet = {
        mark: (sheet, part) for sheet in sheets for part in sheet.parts for mark in part.marks
    }
    unplaced = {u.mark: u.why for pool in pools for u in pool.unplaced}
    unlaid = {p.material: p.problem.message for p in pools if p.problem is not None}

    def row(listed: Listed, line: int, reference: str, text: str) -> PartRow:
        layer, part = listed.layer, listed.part
        sheet, placed = on_sheet.get(listed.mark, (None, None))
        x, y = corners.of(placed) if placed else (None, None)
        return PartRow(
            mark=listed.mark,
            line=line,
            copy=listed.copy,
            reference=reference,
            text=text,
            letters=part.letters,
            layer=layer.name,
            material=layer.material,
            thickness_mm=layer.thickness_mm,
            width_mm=part.size_mm[0],
            height_mm=part.size_mm[1],
            area_mm2=part.area_mm2,
            sheet=sheet.number if sheet else None,
            x_mm=x,
            y_mm=y,
            turn_deg=placed.placement[0] if placed else None,
            cut_from="back" if layer.from_back else "front",
            not_placed=unplaced.get(listed.mark) or unlaid.get(layer.material, ""),
        )

    rows = [row(listed, 0, "", "") for listed in board_parts(order.lines, lines)]
    for line, made in zip(order.lines, lines, strict=True):
        if not isinstance(made, Problem):
            parts = line_parts(line, made)
            rows += [row(listed, line.number, line.reference, line.text) for listed in parts]
    return tuple(sorted(rows, key=lambda r: mark_order(r.mark)))


class _Corners:
    """Tells where parts lie; a layer is read once."""

    def __init__(self, vault: Vault) -> None:
        self._vault = vault
        self._layers: dict[str, Layer] = {}

    def of(self, placed: PlacedSpec) -> tuple[float, float]:
        """Return the lower left corner of a part, from that of its sheet, mm."""
        if placed.file not in self._layers:
            self._layers[placed.file] = layer_from(self._vault.read(placed.file))
        layer = self._layers[placed.file]
        seen = layer.parts[placed.index].cut_view(from_back=layer.from_back)
        lying = affine_transform(seen.outline, rigid(*placed.placement))
        left, low, _, _ = lying.bounds
        return round(left, 3), round(low, 3)


def parts_csv(rows: Sequence[PartRow]) -> bytes:
    """Return rows as CSV (RFC 4180), UTF-8 with a mark, no cell that a spreadsheet computes."""
    out = io.StringIO()
    names = [f.name for f in fields(PartRow)]
    writer = csv.writer(out, lineterminator="\r\n")
    told = [column_in_units(name) for name in names]
    writer.writerow([name for name, _ in told] if rows else names[:1])
    for row in rows:
        values = (getattr(row, name) for name in names)
        pairs = zip(values, told, strict=True)
        writer.writerow([_harmless(in_units(value)) for value, (_, in_units) in pairs])
    return out.getvalue().encode("utf-8-sig")


def _harmless(value: str | float | None) -> str | float | None:
    if not isinstance(value, str):
        return value
    seen = visible(value)
    return f"'{seen}" if seen.startswith(_GUARDED) else seen
