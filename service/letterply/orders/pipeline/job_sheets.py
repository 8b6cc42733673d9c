"""The job sheet of one sheet: how it is set up, what is run on it, what of it stays uncut.

A planned sheet in, the page of it out; its picture is drawn when the page is.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Protocol

from letterply.catalogue import Catalogue, Shop, power_for
from letterply.exports import (
    LEAST_ROUND_MM,
    JobProgram,
    JobSet,
    JobSheet,
    is_worth_showing,
    time_words,
)
from letterply.names import in_sentence
from letterply.orders.pipeline.answers import ComparedSet, SheetAnswer
from letterply.orders.pipeline.layouts import StockFacts
from letterply.requests import HoldDown
from letterply.sheets import WorkZero
from letterply.units import (
    about_mm,
    counted,
    decimal_text,
    format_area,
    format_mm,
    format_sides,
    listed,
)

__all__ = ["ShownSheets", "job_sheet", "share_words", "stock_words"]

_HOLD = {
    HoldDown.TABS: "Clamp it at its edges. Tabs hold the parts: cut them by hand afterwards.",
    HoldDown.TAPE: "Stick all of it down with double-sided tape.",
    HoldDown.SKIN: "Clamp it at its edges. A thin skin holds the parts: cut it by hand afterwards.",
    HoldDown.BED: "Lay it flat on the bed. Set height and focus by the machine's manual.",
}

_IN_TURN = (
    "Run the programs in this order. After each: wait until the spindle stands still, change the "
    "cutter, zero z again."
)

_WORK = {"outlines": "outlines", "floors": "pockets and floors", "grooves": "grooves"}

_LEAST_LEFT_MM2 = 0.05


class ShownSheets(Protocol):
    """Gives pictures of sheets, as PNG."""

    def sheet(self, planned: SheetAnswer) -> bytes:
        """Return the picture of a sheet."""

    def sets(self, planned: SheetAnswer) -> bytes:
        """Return the picture of the sets of cutters compared for a sheet, where there are some."""


def job_sheet(sheet: SheetAnswer, shown: ShownSheets, catalogue: Catalogue, shop: Shop) -> JobSheet:
    """Return the page of a sheet."""
    facts = [time_words(sheet.time_s), counted(len(sheet.marks), "part")]
    if sheet.of_blanks:
        facts[1] = counted(len(sheet.marks), "blank")
    else:
        facts.append(f"parts fill {share_words(sheet.used_share)} of the sheet")
    if sheet.scribed:
        facts.append(f"{counted(len(sheet.scribed), 'label')} scribed")
    return JobSheet(
        number=sheet.number,
        stock=stock_words(sheet, catalogue),
        set_up=tuple(_set_up(sheet, catalogue, shop)),
        programs=tuple(
            JobProgram(p.name, ", ".join(p.cutters), time_words(p.time_s)) for p in sheet.programs
        ),
        facts=" · ".join(facts),
        proof=sheet.proof,
        passed=sheet.passed,
        cautions=sheet.cautions,
        measured=sheet.measured,
        picture=partial(shown.sheet, sheet),
        # Where each set does all of the work there is nothing to weigh: the quickest is taken.
        compared=tuple(_job_set(one) for one in sheet.compared)
        if any(one.depth_mm or one.left_area_mm2 >= _LEAST_LEFT_MM2 for one in sheet.compared)
        else (),
        sets_picture=partial(shown.sets, sheet)
        if is_worth_showing((one.left_area_mm2, one.flat_area_mm2) for one in sheet.compared)
        else None,
    )


def _job_set(one: ComparedSet) -> JobSet:
    stays = "nothing"
    if one.left_area_mm2 >= _LEAST_LEFT_MM2:
        stays = format_area(one.left_area_mm2)
        if one.left_round_mm >= LEAST_ROUND_MM:
            stays += f", {about_mm(one.left_round_mm)} from what it reaches"
    if one.depth_mm is not None:
        stays = f"up to {about_mm(one.depth_mm)} deep"
    cutters = listed([in_sentence(name) for name in one.cutters])
    return JobSet(_WORK[one.work], cutters, time_words(one.time_s), stays, one.chosen)


def _set_up(sheet: SheetAnswer, catalogue: Catalogue, shop: Shop) -> Iterator[str]:
    if sheet.of_blanks:
        yield from _set_up_blanks(sheet)
        return
    stock = sheet.stock
    along = "y" if stock.turned else "x"
    grain = f" and the grain along {along}" if catalogue.material(stock.material).grain else ""
    turned = "good side down" if sheet.from_back else "good side up"
    yield (
        f"Lay the sheet with its {format_mm(stock.width_mm)} side along x{grain}, {turned}. "
        + _HOLD[shop.hold_down]
    )
    if stock.reach_mm is not None:
        width, height = (format_mm(v) for v in stock.reach_mm)
        yield (
            f"The machine does not reach all of the sheet: only {width} × {height}, from its lower "
            "left corner, are used."
        )
    if shop.machine.kind == "beam":
        yield from _set_up_zero(sheet.zero, beam=True)
        yield from _set_up_power(stock, shop)
        return
    if shop.hold_down in (HoldDown.TABS, HoldDown.SKIN):
        edges = " and of its holes" if len(stock.outline_mm) > 1 else ""
        yield f"Put clamps only on the outer {format_mm(stock.margin_mm)} of the sheet{edges}."
    if stock.outline_mm:
        yield (
            f"It is the left-over {stock.key}, not an oblong: lay it as the picture shows it, the "
            "corner of the box round it at zero."
        )
    if stock.keep_clear:
        places = listed([place.words for place in stock.keep_clear])
        yield f"The program keeps clear of these, which must be where you said: {places}."
    yield from _set_up_zero(sheet.zero)
    if len(sheet.programs) > 1:
        yield _IN_TURN


def _set_up_zero(zero: WorkZero, *, beam: bool = False) -> Iterator[str]:
    height = "" if beam else f", z to zero on {zero.face}"
    yield f"Set x and y to zero at {zero.at}{height}. The picture marks the place."
    if zero.why:
        yield f"That is not where you usually set it: {zero.why}."


def _set_up_power(stock: StockFacts, shop: Shop) -> Iterator[str]:
    power = power_for(shop.power, stock.material, stock.thickness_mm)
    if power is None:
        yield "There is no program: enter the power for this sheet in the shop, then order again."
        return
    often = {1: "once", 2: "twice"}.get(power.passes, f"{power.passes} times")
    percent = decimal_text(power.cut_percent, 2)
    yield f"The program cuts at {percent} % of full power, {often} along each cut."


def _set_up_blanks(sheet: SheetAnswer) -> Iterator[str]:
    turned = "front down" if sheet.from_back else "front up"
    if sheet.fixture:
        edge = "left" if sheet.stock.turned else "lower"
        yield f"Fix the fixture {sheet.fixture} to the bed, its {edge} edge along x."
    else:
        edge = "its left edge along" if sheet.stock.turned else "square to"
        yield f"Hold the blank by your own means, {turned}, level and {edge} x."
    yield from _set_up_zero(sheet.zero)
    if sheet.fixture:
        yield f"Tape a blank into each pocket that the picture shows filled, {turned}."
    if len(sheet.programs) > 1:
        yield _IN_TURN
    if sheet.runs > 1:
        yield f"Do this {sheet.runs} times, with new blanks each time."


def stock_words(sheet: SheetAnswer, catalogue: Catalogue) -> str:
    """Return what a sheet is of: material, thickness and size, or its blanks."""
    stock = sheet.stock
    name = catalogue.material(stock.material).name
    if sheet.of_blanks:
        held = f" in {sheet.fixture}" if sheet.fixture else ""
        return f"blanks of {name} {format_mm(stock.thickness_mm)}{held}"
    sides = (stock.width_mm, stock.height_mm)
    size = format_sides(*(sides[::-1] if stock.turned else sides), places=2, times="×")
    offcut = ", offcut" if stock.offcut else ""
    return f"{name} {format_mm(stock.thickness_mm)}, {size}{offcut}"


def share_words(share: float) -> str:
    """Return a share of one, in percent."""
    return f"{100 * share:.0f} %" if share >= 0.01 else "less than 1 %"
