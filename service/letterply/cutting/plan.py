"""Sheets in, cut plans out: operations in order, programs, time and doubts.

Order on a sheet keeps parts held until last: scribe, groove (its flat floor first), pocket, drill,
detail of the profiles, then the profiles, inside before outside, and what lies in a part's counter
before that part. Work of one kind with one cutter is done in one go, with short ways between
(`letterply.cutting.order.ordering`).
"""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby

from letterply.catalogue import (
    NOTHING_MEASURED,
    SKIN_MM,
    THROUGH_MM,
    Catalogue,
    Cutter,
    CutterKind,
    CutterRack,
    Machine,
    Material,
    Shop,
    Stock,
    Work,
    machine_cautions,
    measured_words,
    out_of_flat,
    power_for,
    through_depth,
)
from letterply.cutting.context import TAB_WEB_MM, SheetContext
from letterply.cutting.edges import judge_margins
from letterply.cutting.model import CutPlan, Operation, OperationKind, Program, TimeSum
from letterply.cutting.operations import plan_operations
from letterply.cutting.order.ordering import in_short_order
from letterply.cutting.program import Tooling, write_program
from letterply.findings import by_severity
from letterply.names import file_name
from letterply.requests import HoldDown
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.sheets import (
    Sheet,
    WorkZero,
    containers_by_mark,
    least_spacing,
    least_spacing_for_beam,
    work_zero,
)
from letterply.units import decimal_text, format_feed, format_mm

__all__ = ["part_spacing", "plan_sheet"]


_USUAL_CUTTER_MM = 3.0


def part_spacing(shop: Shop, material: Material, thickness_mm: float) -> float:
    """Return how far apart parts must lie so that their outlines can be cut, mm.

    Room for the kerf of the cutter that is likely to cut the outlines: the smallest of 3 mm or
    more that goes through, or else the largest. With tabs there are two kerfs side by side and a
    web between them for the tabs to hold on to.
    """
    rack = CutterRack.of(shop, material)
    if rack.by_beam:
        kerf = max((c.diameter_mm for c in rack.able(Work.OUTLINE)), default=0.2)
        return least_spacing_for_beam(kerf, thickness_mm)
    cutters = rack.able(Work.POCKET, through_depth(thickness_mm, HoldDown.TABS))
    if not cutters:
        return least_spacing(_USUAL_CUTTER_MM)
    wide = [c.diameter_mm for c in cutters if c.diameter_mm >= _USUAL_CUTTER_MM]
    diameter = min(wide, default=cutters[-1].diameter_mm)
    if shop.hold_down is HoldDown.TABS:
        return 2 * diameter + TAB_WEB_MM
    return least_spacing(diameter)


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
    racked = sheet.stock
    if sheet.of_blanks:
        # Nothing is cut through, so nothing comes loose: blanks are held whole.
        shop, through = replace(shop, hold_down=HoldDown.TAPE), 0.0
    else:
        sheet = replace(sheet, stock=shop.measured.true_stock(racked))
    context = SheetContext(
        shop,
        material,
        sheet.stock.thickness_mm,
        through,
        spacing_mm,
        tolerances,
        sheet.stock.beside_mm,
    )
    work = plan_operations(context, sheet)
    sheet = work.sheet
    cutters = {c.key: c for c in shop.cutters}
    profiles = (o for o in work.operations if o.kind is OperationKind.PROFILE)
    judge_margins(
        context, sheet, max((cutters[o.cutter].diameter_mm for o in profiles), default=0.0)
    )
    # A beam cuts the holes of a part by size, as listed.
    apart = shop.machine.kind != "beam"
    ordered = [
        op
        for _, ops in groupby(work.operations, key=lambda o: (o.kind, o.cutter, o.note))
        for op in in_short_order(list(ops), work.containers, apart=apart)
    ]
    cautions = machine_cautions(
        shop.machine,
        material,
        hold_down=shop.hold_down,
        tabs=sum(op.tabs for op in ordered),
        of_blanks=sheet.of_blanks,
    )
    cautions += shop.cautions
    zero = work_zero(sheet, shop.machine)
    measured = _measured(sheet, racked, {o.cutter for o in ordered}, shop, catalogue)
    if not sheet.of_blanks:
        context.findings += out_of_flat(shop.measured, racked)
    header = [
        *_header(sheet, shop, material, zero),
        *(f"measured: {text}" for text in measured),
        *(f"caution: {text}" for text in cautions),
    ]
    coolant = material.kind in shop.machine.coolant_for
    write = partial(write_program, machine=shop.machine, zero=zero, coolant=coolant)
    programs = _programs(ordered, cutters, sheet.number, shop.machine, header, write)
    time = TimeSum.summed(p.time for p in programs)
    tabs: dict[str, int] = {p.mark: 0 for p in sheet.parts}
    for op in ordered:
        tabs[op.mark] += op.tabs
    return CutPlan(
        sheet=sheet,
        zero=zero,
        hold_down=shop.hold_down,
        through_mm=context.through,
        operations=tuple(ordered),
        programs=tuple(programs),
        tabs=tabs,
        tab_foot_mm={op.mark: op.tab_foot_mm for op in ordered if op.tabs},
        tab_height_mm=max((op.tab_height_mm for op in ordered if op.tabs), default=None),
        time=time,
        choices=work.choices,
        findings=by_severity(context.findings),
        cautions=cautions,
        names={material.key: material.name, **{c.key: c.name for c in shop.cutters}},
        measured=measured,
    )


def _measured(
    sheet: Sheet, racked: Stock, used: Container[str], shop: Shop, catalogue: Catalogue
) -> tuple[str, ...]:
    """Say which measured figures count on a sheet, which the rack knows as `racked`."""
    cutters = [c for c in shop.cutters if c.key in used]
    known = NOTHING_MEASURED if sheet.of_blanks else shop.measured
    own = shop.feeds_in.get(racked.material, {})
    words = measured_words(cutters, racked, known, own, catalogue)
    parts = [p.source for p in sheet.parts]
    told = {p.fit for part in parts for p in part.pockets} | {h.fit for p in parts for h in p.holes}
    return (*words, *sorted(told - {""}))


def _programs(
    ordered: Sequence[Operation],
    cutters: dict[str, Cutter],
    sheet: int,
    machine: Machine,
    header: Sequence[str],
    write: Callable[..., Program],
) -> list[Program]:
    tooling = [
        Tooling(cutters[key], tuple(ops)) for key, ops in groupby(ordered, key=lambda o: o.cutter)
    ]
    if machine.tool_change == "automatic":
        if not tooling:
            return []
        name = f"sheet-{sheet}.{machine.extension}"
        return [write(name, [*header, *_cutter_lines(tooling, numbered=True)], tooling)]
    programs = []
    for number, tool in enumerate(tooling, start=1):
        name = f"sheet-{sheet}-{number}-{file_name(tool.cutter.key)}.{machine.extension}"
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
            speed = feeds.power_percent or feeds.spindle_rpm
            rates = speed, feeds.feed_mm_per_min, feeds.plunge_mm_per_min
            told = kinds.setdefault((*rates, op.corner_feed_mm_per_min), [])
            if str(op.kind) not in told:
                told.append(str(op.kind))
        word = f"cutter T{number}" if numbered else "cutter"
        lines.append(f"{word}: {cutter.name}")
        for (rpm, feed, plunge, corners), names in kinds.items():
            spindle = f"spindle {rpm:.0f} rev/min" if rpm else "spindle off"
            figures = f"{spindle}, feed {format_feed(feed)}, plunge {format_feed(plunge)}"
            if corners is not None:
                figures += f", feed {format_feed(corners)} where it cuts more"
            if cutter.kind is CutterKind.BEAM:
                figures = f"{decimal_text(rpm, 2)} percent of full power, feed {format_feed(feed)}"
            lines.append(f"  {' and '.join(names)}: {figures}")
    return lines


def _zero_lines(zero: WorkZero) -> list[str]:
    """Say where the zero is, and why it is not where it usually is."""
    lines = [f"zero: x and y at {zero.at}, z at {zero.face}"]
    return [*lines, f"not as usual: {zero.why}"] if zero.why else lines


def _blank_header(sheet: Sheet, shop: Shop, material: Material, zero: WorkZero) -> list[str]:
    stock, machine = sheet.stock, shop.machine
    means = f"in {sheet.fixture}" if sheet.fixture else "by your own means"
    count = len(sheet.parts)
    lines = [
        "letterply",
        f"sheet {sheet.number}: {count} blank{'s' * (count != 1)} of {material.name} "
        f"{format_mm(stock.thickness_mm)}" + (", worked on the back" if sheet.from_back else ""),
        *_zero_lines(zero),
        f"travel height: {format_mm(machine.safe_height_mm)} over the blanks; nothing is cut "
        "through",
        f"hold-down: {means}, with double-sided tape or clamps",
    ]
    lines += _shop_lines(shop)
    if sheet.runs > 1:
        lines.append(f"run {sheet.runs} times, with {count} new blanks each time")
    return lines


def _shop_lines(shop: Shop) -> list[str]:
    """Say for which shop it is made, where that is a stored one."""
    return [f"shop: {shop.called}"] if shop.called else []


def _counter_lines(sheet: Sheet) -> list[str]:
    """Say how many parts lie in the counters of others, if any do."""
    count = len(containers_by_mark(sheet.parts))
    if not count:
        return []
    lie = "1 part lies in a counter" if count == 1 else f"{count} parts lie in counters"
    return [f"{lie}, cut before the part around: keep what drops out"]


def _lying_lines(stock: Stock) -> list[str]:
    """Say how a sheet lies that does not lie as it stands on the rack, or is not used whole."""
    lines: list[str] = []
    if stock.turned:
        lines.append(f"turn the sheet: its {format_mm(stock.width_mm)} side lies along x")
    if stock.reach_mm is not None:
        width, height = (format_mm(v) for v in stock.reach_mm)
        lines.append(f"the machine reaches only {width} x {height} of it, from its lower left")
    return lines


def _header(sheet: Sheet, shop: Shop, material: Material, zero: WorkZero) -> list[str]:
    if sheet.of_blanks:
        return _blank_header(sheet, shop, material, zero)
    stock, machine = sheet.stock, shop.machine
    held = {
        HoldDown.TABS: "tabs, cut by hand afterwards",
        HoldDown.TAPE: "double-sided tape under the whole sheet",
        HoldDown.SKIN: "a thin skin under the parts, cut by hand afterwards",
        HoldDown.BED: "none, set height and focus by the machine's manual",
    }[shop.hold_down]
    safe = f"travel height: {format_mm(machine.safe_height_mm)} over the sheet"
    zeros = _zero_lines(zero)
    if machine.kind == "beam":
        zeros[0] = f"zero: x and y at {zero.at}; the program does not move z"
        deep = "the beam cuts right through, at the power that you entered"
        power = power_for(shop.power, stock.material, stock.thickness_mm)
        if power is not None and power.passes > 1:
            deep += f", {power.passes} times over along each cut"
    elif shop.hold_down is HoldDown.SKIN:
        deep = f"{safe}; a skin of {format_mm(SKIN_MM)} stays under the parts"
    else:
        deep = f"{safe}; through cuts go {format_mm(THROUGH_MM)} into the spoil board"
    return [
        "letterply",
        f"sheet {sheet.number}: {material.name} {format_mm(stock.thickness_mm)}, "
        f"{format_mm(stock.width_mm)} x {format_mm(stock.height_mm)}"
        + (", cut from the back" if sheet.from_back else ""),
        *_lying_lines(stock),
        *(["an irregular left-over: see the drawing of the sheet"] if stock.outline_mm else []),
        *(f"keeps clear of {place.words}" for place in stock.keep_clear),
        *zeros,
        deep,
        f"hold-down: {held}",
        *_counter_lines(sheet),
        *_shop_lines(shop),
    ]
