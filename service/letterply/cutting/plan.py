"""Sheets in, cut plans out: operations in order, programs, time and doubts.

Order on a sheet keeps parts held until last: scribe, groove (its flat floor first), pocket, drill,
detail of the profiles, then the profiles, inside before outside, and what lies in a part's counter
before that part. Work of one kind with one cutter is done in one go, with short ways between
(`letterply.cutting.order.ordering`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from letterply.catalogue import Catalogue, Cutter, CutterKind, Material, Shop
from letterply.cutting.context import SKIN_MM, TAB_WEB_MM, SheetContext
from letterply.cutting.model import CutPlan, Operation, Program, TimeSum
from letterply.cutting.operations import plan_operations
from letterply.cutting.order.ordering import in_short_order
from letterply.cutting.profile.cutter_choice import flat_cutters
from letterply.cutting.program import Tooling, write_program
from letterply.findings import by_severity
from letterply.requests import HoldDown
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.sheets import Sheet, containers_by_mark, least_spacing, least_spacing_for_beam

__all__ = ["THROUGH_MM", "part_spacing", "plan_sheet"]

THROUGH_MM = 0.2
"""How far a through cut goes into the spoil board: 0.1 mm to 0.5 mm, common practice, no source."""


def part_spacing(shop: Shop, material: Material, thickness_mm: float) -> float:
    """Return how far apart parts must lie so that their outlines can be cut, mm.

    Room for the kerf of the cutter that is likely to cut the outlines: the smallest of 3 mm or
    more that goes through, or else the largest. With tabs there are two kerfs side by side and a
    web between them for the tabs to hold on to.
    """
    if shop.machine.kind == "beam":
        kerf = max((c.diameter_mm for c in shop.cutters if c.kind is CutterKind.BEAM), default=0.2)
        return least_spacing_for_beam(kerf, thickness_mm)
    cutters = flat_cutters(shop.cutters, material, thickness_mm + THROUGH_MM)
    if not cutters:
        return least_spacing(_USUAL_CUTTER_MM)
    wide = [c.diameter_mm for c in cutters if c.diameter_mm >= _USUAL_CUTTER_MM]
    diameter = min(wide, default=cutters[-1].diameter_mm)
    if shop.hold_down is HoldDown.TABS:
        return 2 * diameter + TAB_WEB_MM
    return least_spacing(diameter)


_USUAL_CUTTER_MM = 3.0


def plan_sheet(
    sheet: Sheet,
    shop: Shop,
    catalogue: Catalogue,
    spacing_mm: float,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> CutPlan:
    """Return the cut plan of a sheet whose parts lie `spacing_mm` apart or more.

    Raises:
        InputError: `cutter-too-large` when no chosen cutter is smaller than a part;
            `beam-refused` for a material that must not be cut by beam.

    """
    material = catalogue.material(sheet.stock.material)
    through = THROUGH_MM
    if sheet.of_blanks:
        # Nothing is cut through, so nothing comes loose: blanks are held whole.
        shop, through = replace(shop, hold_down=HoldDown.TAPE), 0.0
    context = SheetContext(
        shop, material, sheet.stock.thickness_mm, through, spacing_mm, tolerances
    )
    work = plan_operations(context, sheet)
    sheet = work.sheet
    cutters = {c.key: c for c in shop.cutters}
    # A beam cuts the holes of a part by size, as listed.
    apart = shop.machine.kind != "beam"
    ordered = [
        op
        for _, ops in groupby(work.operations, key=lambda o: (o.kind, o.cutter, o.note))
        for op in in_short_order(list(ops), work.containers, apart=apart)
    ]
    programs = _programs(ordered, cutters, sheet, shop, catalogue)
    time = TimeSum(
        sum(p.time.cutting_s for p in programs),
        sum(p.time.travel_s for p in programs),
        sum(p.time.plunging_s for p in programs),
        sum(p.time.changes_s for p in programs),
    )
    tabs: dict[str, int] = {p.mark: 0 for p in sheet.parts}
    for op in ordered:
        tabs[op.mark] += op.tabs
    return CutPlan(
        sheet=sheet,
        hold_down=shop.hold_down,
        through_mm=context.through,
        operations=tuple(ordered),
        programs=tuple(programs),
        tabs=tabs,
        time=time,
        choice=work.choice,
        findings=by_severity(context.findings),
    )


def _programs(
    ordered: Sequence[Operation],
    cutters: dict[str, Cutter],
    sheet: Sheet,
    shop: Shop,
    catalogue: Catalogue,
) -> list[Program]:
    machine = shop.machine
    tooling = [
        Tooling(cutters[key], tuple(ops)) for key, ops in groupby(ordered, key=lambda o: o.cutter)
    ]
    header = _header(sheet, shop, catalogue)

    def write(name: str, lines: Sequence[str], tools: Sequence[Tooling]) -> Program:
        thick = sheet.stock.thickness_mm
        return write_program(name, lines, tools, machine, thick, zero_mm=sheet.zero_mm)

    if machine.tool_change == "automatic":
        if not tooling:
            return []
        name = f"sheet-{sheet.number}.{machine.extension}"
        lines = [*header, *_cutter_lines(tooling, numbered=True)]
        return [write(name, lines, tooling)]
    programs = []
    for number, tool in enumerate(tooling, start=1):
        name = f"sheet-{sheet.number}-{number}-{tool.cutter.key}.{machine.extension}"
        lines = [*header, f"program {number} of {len(tooling)}", *_cutter_lines([tool])]
        programs.append(write(name, lines, [tool]))
    return programs


def _cutter_lines(tooling: Sequence[Tooling], *, numbered: bool = False) -> list[str]:
    """Say which cutters are used, once each, with their number where the machine changes them."""
    lines: list[str] = []
    keys = list(dict.fromkeys(t.cutter.key for t in tooling))
    for number, key in enumerate(keys, start=1):
        cutter = next(t.cutter for t in tooling if t.cutter.key == key)
        operations = [op for t in tooling if t.cutter.key == key for op in t.operations]
        kinds: dict[tuple[float, float, float, float | None], list[str]] = {}
        for op in operations:
            feeds = op.feeds
            rates = feeds.spindle_rpm, feeds.feed_mm_per_min, feeds.plunge_mm_per_min
            told = kinds.setdefault((*rates, op.corner_feed_mm_per_min), [])
            if str(op.kind) not in told:
                told.append(str(op.kind))
        word = f"cutter T{number}" if numbered else "cutter"
        if cutter.kind is CutterKind.BEAM:
            word = "beam"
        lines.append(f"{word}: {cutter.name}")
        for (rpm, feed, plunge, corners), names in kinds.items():
            spindle = f"{rpm:.0f} rev/min" if rpm else "spindle off"
            figures = f"{spindle}, feed {feed:g} mm/min, plunge {plunge:g} mm/min"
            if corners is not None:
                figures += f", {corners:g} mm/min in full corners"
            if cutter.kind is CutterKind.BEAM:
                figures = f"feed {feed:g} mm/min"
            lines.append(f"  {' and '.join(names)}: {figures}")
    return lines


_CUTTER_CAUTION = (
    "caution: eye and ear protection, dust extraction, hands away from the cutter, never leave it "
    "running alone"
)
_BEAM_CAUTION = (
    "caution: enclosure closed, interlocks as built, fume extraction, extinguisher in reach, never "
    "leave it running alone"
)


def _blank_header(sheet: Sheet, shop: Shop, material: Material) -> list[str]:
    stock, machine = sheet.stock, shop.machine
    held = "held by the maker's own means"
    if sheet.fixture:
        x, y = sheet.zero_mm
        held = (
            f"in {sheet.fixture}, the middle of the first pocket {x:g} mm right of and {y:g} mm "
            "above its lower left corner"
        )
    count = len(sheet.parts)
    lines = [
        "letterply",
        f"sheet {sheet.number}: {count} blank{'s' * (count != 1)} of {material.name} "
        f"{stock.thickness_mm:g} mm" + (", worked on the back" if sheet.from_back else ""),
        "zero: x y at the middle of the first blank, z at "
        + ("its face" if machine.zero == "top" else "its underside"),
        f"safe height {machine.safe_height_mm:g} mm over the blanks, nothing is cut through",
        f"hold-down: {held}, with double-sided tape or clamps",
    ]
    if sheet.runs > 1:
        lines.append(f"run {sheet.runs} times, with {count} new blanks each time")
    caution = (
        "caution: the manual of the machine and local rules come first, and try the program above "
        "the blank before it cuts"
    )
    return [*lines, _CUTTER_CAUTION, caution, *(f"caution: {text}" for text in material.cautions)]


def _counter_lines(sheet: Sheet) -> list[str]:
    """Say how many parts lie in the counters of others, if any do."""
    count = len(containers_by_mark(sheet.parts))
    if not count:
        return []
    lie = "1 part lies in a counter" if count == 1 else f"{count} parts lie in counters"
    return [f"{lie}, cut before it: keep what drops out"]


def _header(sheet: Sheet, shop: Shop, catalogue: Catalogue) -> list[str]:
    stock, machine = sheet.stock, shop.machine
    material = catalogue.material(stock.material)
    face = "top face" if machine.zero == "top" else "bed"
    held = {
        HoldDown.TABS: "tabs hold the parts: cut them by hand afterwards",
        HoldDown.TAPE: "double-sided tape under the whole sheet holds the parts",
        HoldDown.SKIN: "a skin is left under the parts: cut it by hand afterwards",
        HoldDown.BED: "parts rest on the bed: set height and focus by the machine's manual",
    }[shop.hold_down]
    safe = f"safe height {machine.safe_height_mm:g} mm over the sheet"
    if sheet.of_blanks:
        return _blank_header(sheet, shop, material)
    if machine.kind == "beam":
        deep = "the beam goes through; its power is the maker's own preset"
    elif shop.hold_down is HoldDown.SKIN:
        deep = f"{safe}, a skin of {SKIN_MM:g} mm stays under the parts"
    else:
        deep = f"{safe}, through cuts go {THROUGH_MM:g} mm into the spoil board"
    lines = [
        "letterply",
        f"sheet {sheet.number}: {material.name} {stock.thickness_mm:g} mm, "
        f"{stock.width_mm:g} x {stock.height_mm:g} mm"
        + (", cut from the back" if sheet.from_back else ""),
        f"zero: x y at the lower left corner of the sheet, z at the {face}",
        deep,
        f"hold-down: {held}",
        *_counter_lines(sheet),
        _BEAM_CAUTION if machine.kind == "beam" else _CUTTER_CAUTION,
        "caution: the manual of the machine and local rules come first, and try the program "
        "above the stock before it cuts",
    ]
    return [*lines, *(f"caution: {text}" for text in material.cautions)]
