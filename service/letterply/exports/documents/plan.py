"""Sheets, cut plans and proofs as JSON-ready documents: units in the names, a summary each."""

from __future__ import annotations

from collections.abc import Sequence

from letterply.catalogue import KeptClear, Stock
from letterply.cutting import CutPlan, CutterSet, Operation, Program, TimeSum
from letterply.exports.documents.stack import findings_document
from letterply.exports.documents.values import Document, plain
from letterply.exports.primitives.numbers import LEAST_ROUND_MM, rounded
from letterply.names import in_sentence
from letterply.proof import Fault, PartVerdict, ProgramReading, SheetProof
from letterply.requests import HoldDown
from letterply.sheets import Nesting, PlacedPart, Sheet, Unplaced
from letterply.stacks import rigid
from letterply.units import about_mm, counted, format_area, format_mm, listed

__all__ = ["plan_document", "proof_document", "time_words"]


def plan_document(plans: Sequence[CutPlan], nesting: Nesting) -> Document:
    """Return plans and the sheets they are for as a document.

    Args:
        plans: one a sheet, in any order; a sheet without a plan is listed without operations.
        nesting: all sheets, and what found no room.

    """
    by_sheet = {plan.sheet.number: plan for plan in plans}
    times = [p.whole_time for p in plans]
    total = TimeSum.summed(times)
    parts = sum(len(s.parts) * s.runs for s in nesting.sheets)
    programs = sum(len(p.programs) for p in plans)
    findings = [f for plan in plans for f in plan.findings]
    stocked = [s for s in nesting.sheets if not s.of_blanks]
    loads = len(nesting.sheets) - len(stocked)
    stock_area = sum(s.stock.material_area.area for s in stocked)
    part_area = sum(p.part.outline.area for s in stocked for p in s.parts)
    filled = f" and {counted(loads, 'load')} of blanks" if loads else ""
    summary = (
        f"{counted(parts, 'part')} on {counted(len(stocked), 'sheet')}{filled}, "
        f"{counted(programs, 'program')}, about {time_words(total.total_s)} on the machine."
        if programs
        else f"{counted(parts, 'part')} on {counted(len(stocked), 'sheet')}{filled}, no program."
    )
    if nesting.unplaced:
        summary += f" {counted(len(nesting.unplaced), 'part')} found no space on a sheet."
    return {
        "summary": summary,
        "totals": {
            "sheets": len(nesting.sheets),
            "parts": parts,
            "unplaced": len(nesting.unplaced),
            "programs": programs,
            "tabs": sum(n for p in plans for n in p.tabs.values()),
            "used_share": rounded(part_area / stock_area) if stock_area else 0.0,
            "stock_area_mm2": rounded(stock_area, 2),
            "price": rounded(sum(s.stock.price for s in stocked), 2),
            "time": _time(total),
        },
        "spacing_mm": rounded(nesting.spacing_mm),
        "sheets": [_sheet(s, by_sheet.get(s.number)) for s in nesting.sheets],
        "unplaced": [_unplaced(u) for u in nesting.unplaced],
        "findings": findings_document(findings),
    }


def proof_document(proofs: Sequence[SheetProof]) -> Document:
    """Return the proofs of all sheets as a document."""
    failed = [p.sheet_number for p in proofs if not p.passed]
    remarks = sum(len(p.faults) for p in proofs)
    if not proofs:
        summary = "There was nothing to prove."
    elif failed:
        sheets = "sheet" if len(failed) == 1 else "sheets"
        first = next(p for p in proofs if not p.passed)
        summary = f"The proof of {sheets} {listed([str(n) for n in failed])} did not pass."
        lone = len(failed) == 1 and first.faults and first.faults[0].code == "no-program"
        summary = first.summary if lone else f"{summary} {first.summary}"
    elif len(proofs) == 1:
        summary = f"The proof passed. {proofs[0].summary}"
    else:
        summary = f"The proof passed for all {len(proofs)} sheets."
        if remarks:
            summary += f" It has {counted(remarks, 'remark')}."
    return {
        "summary": summary,
        "passed": bool(proofs) and not failed,
        "sheets": [_proof(p) for p in proofs],
    }


def time_words(seconds: float) -> str:
    """Return a time for people.

    >>> time_words(42.4), time_words(400), time_words(2420), time_words(8040)
    ('42 s', '6 min 40 s', '40 min', '2 h 14 min')

    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 600:
        return f"{whole // 60} min {whole % 60} s" if whole % 60 else f"{whole // 60} min"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"


_HELD = {
    HoldDown.TABS: "held by tabs",
    HoldDown.TAPE: "held by double-sided tape",
    HoldDown.SKIN: "held by a thin skin",
    HoldDown.BED: "resting on the bed",
}


def _sheet(sheet: Sheet, plan: CutPlan | None) -> Document:
    stock = sheet.stock
    found: Document = {
        "number": sheet.number,
        "stock": {
            "key": stock.key,
            "material": stock.material,
            "thickness_mm": rounded(stock.thickness_mm),
            "width_mm": rounded(stock.width_mm),
            "height_mm": rounded(stock.height_mm),
            "margin_mm": rounded(stock.margin_mm),
            "beside_mm": rounded(stock.beside_mm),
            "keep_clear": [_kept_clear(k) for k in stock.keep_clear],
            **({"outline_mm": _rings(stock)} if stock.outline_mm else {}),
            "turned": stock.turned,
            "reach_mm": stock.reach_mm and [rounded(v) for v in stock.reach_mm],
            "offcut": stock.offcut,
            "price": rounded(stock.price, 2),
        },
        "from_back": sheet.from_back,
        "zero_mm": [rounded(v) for v in _zero_of(sheet, plan)],
        "fixture": sheet.fixture,
        "of_blanks": sheet.of_blanks,
        "runs": sheet.runs,
        "used_share": rounded(sheet.used_share),
        "parts": [_placed(p) for p in sheet.parts],
        "planned": plan is not None,
    }
    if plan is None:
        words = f"Sheet {sheet.number}: {counted(len(sheet.parts), 'part')}, without a plan."
        return {"summary": words, **found}
    found["hold_down"] = str(plan.hold_down)
    found["zero"] = {
        "x_mm": rounded(plan.zero.x_mm),
        "y_mm": rounded(plan.zero.y_mm),
        "face_above_mm": rounded(plan.zero.lift_mm),
        "at": plan.zero.at,
        "face": plan.zero.face,
        "why": plan.zero.why,
    }
    found["through_mm"] = rounded(plan.through_mm)
    found["tabs"] = {mark: plan.tabs[mark] for mark in sorted(plan.tabs)}
    for choice in plan.choices:
        found[_CHOICES[choice.work]] = {
            "reason": choice.reason,
            "compared": [_cutter_set(s) for s in choice.sets],
        }
    found["cautions"] = list(plan.cautions)
    found["measured"] = list(plan.measured)
    found["operations"] = [_operation(o) for o in plan.operations]
    found["programs"] = [_program(p) for p in plan.programs]
    found["time"] = _time(plan.time)
    return {"summary": _planned_words(sheet, plan), **found}


def _rings(stock: Stock) -> list[list[list[float]]]:
    return [[[rounded(x), rounded(y)] for x, y in ring] for ring in stock.outline_mm]


def _kept_clear(place: KeptClear) -> Document:
    return {
        "kind": place.kind,
        "x_mm": rounded(place.x_mm),
        "y_mm": rounded(place.y_mm),
        "width_mm": rounded(place.width_mm),
        "height_mm": rounded(place.height_mm),
        "diameter_mm": rounded(place.diameter_mm),
    }


def _zero_of(sheet: Sheet, plan: CutPlan | None) -> tuple[float, float]:
    return sheet.zero_mm if plan is None else (plan.zero.x_mm, plan.zero.y_mm)


def _planned_words(sheet: Sheet, plan: CutPlan) -> str:
    stock = sheet.stock
    deepest = stock.thickness_mm + plan.through_mm
    material = in_sentence(plan.names.get(stock.material, stock.material))
    what = f"{format_mm(stock.thickness_mm)} {material}"
    by_beam = plan.hold_down is HoldDown.BED
    down = "" if by_beam else f"; the deepest cut goes {format_mm(deepest)} down"
    if sheet.of_blanks:
        again = f" each time, {sheet.runs} times" if sheet.runs > 1 else ""
        return (
            f"Sheet {sheet.number}: {counted(len(sheet.parts), 'blank')} of {what}, in "
            f"{sheet.fixture or 'no fixture'}; "
            f"{counted(len(plan.programs), 'program')}, about {time_words(plan.time.total_s)}"
            f"{again}."
        )
    return (
        f"Sheet {sheet.number}: {counted(len(sheet.parts), 'part')} of {what}, "
        f"{_HELD[plan.hold_down]}; {counted(len(plan.programs), 'program')}, about "
        f"{time_words(plan.time.total_s)}{down}."
    )


def _placed(placed: PlacedPart) -> Document:
    move = placed.placement
    left, low, right, high = placed.part.outline.bounds
    return {
        "mark": placed.mark,
        "copy": placed.copy,
        "part": placed.source.name,
        "layer": placed.source.layer,
        "letters": placed.source.letters,
        "angle_deg": rounded(move.angle_deg),
        "x_mm": rounded(move.x_mm),
        "y_mm": rounded(move.y_mm),
        "matrix": [rounded(v, 6) for v in rigid(move.angle_deg, move.x_mm, move.y_mm)],
        "bounds_mm": [rounded(v) for v in (left, low, right, high)],
    }


_CHOICES = {"outlines": "cutter_choice", "floors": "floor_choice", "grooves": "groove_choice"}


def _cutter_set(one: CutterSet) -> Document:
    part, x, y = one.where or (None, None, None)
    carved: Document = {}
    told = {"left_round": about_mm(one.left_round_mm), "left_area": format_area(one.left_area_mm2)}
    if one.left_round_mm < LEAST_ROUND_MM:
        told["left_round"] = "none"
    if one.depth_mm is not None:
        carved["depth_mm"] = rounded(one.depth_mm)
        carved["flat_area_mm2"] = rounded(one.flat_area_mm2, 1)
        told |= {"depth": about_mm(one.depth_mm), "flat_area": format_area(one.flat_area_mm2)}
    return {
        "cutters": " + ".join(one.cutters),
        "chosen": one.chosen,
        "time_s": rounded(one.time_s, 1),
        "left_round_mm": rounded(one.left_round_mm),
        "left_area_mm2": rounded(one.left_area_mm2, 2),
        **carved,
        "told": told,
        "where": None
        if part is None or x is None or y is None
        else {"part": part, "x_mm": rounded(x), "y_mm": rounded(y)},
    }


def _operation(operation: Operation) -> Document:
    return {
        "kind": str(operation.kind),
        "cutter": operation.cutter,
        "mark": operation.mark,
        "inside": operation.inside,
        "depth_mm": rounded(operation.depth_mm),
        "tabs": operation.tabs,
        "note": operation.note,
        "paths": len(operation.paths),
        "moves": sum(len(p) for p in operation.paths),
        "path_length_mm": rounded(sum(p.length_mm for p in operation.paths), 2),
        "feeds": _feeds(operation),
    }


def _feeds(operation: Operation) -> Document:
    feeds, corners = operation.feeds, operation.corner_feed_mm_per_min
    return {
        "spindle_rpm": rounded(feeds.spindle_rpm, 1),
        "power_percent": rounded(feeds.power_percent, 2) if feeds.power_percent else None,
        "feed_mm_per_min": rounded(feeds.feed_mm_per_min, 1),
        "plunge_mm_per_min": rounded(feeds.plunge_mm_per_min, 1),
        "corner_feed_mm_per_min": None if corners is None else rounded(corners, 1),
        "depth_per_pass_mm": rounded(feeds.depth_per_pass_mm),
        "chip_load_mm": rounded(feeds.chip_load_mm),
        "reasons": [
            {"figure": r.figure, "value": plain(r.value), "why": r.why, "source": r.source}
            for r in feeds.reasons
        ],
    }


def _program(program: Program) -> Document:
    return {
        "file": program.name,
        "cutters": list(program.cutters),
        "lines": len(program.text.splitlines()),
        "time": _time(program.time),
    }


def _time(time: TimeSum) -> Document:
    return {
        "cutting_s": rounded(time.cutting_s, 1),
        "travel_s": rounded(time.travel_s, 1),
        "plunging_s": rounded(time.plunging_s, 1),
        "changes_s": rounded(time.changes_s, 1),
        "total_s": rounded(time.total_s, 1),
        "quick_s": rounded(time.quick_s, 1),
        "slow_s": rounded(time.slow_s, 1),
    }


def _unplaced(unplaced: Unplaced) -> Document:
    return {
        "mark": unplaced.mark,
        "material": unplaced.material,
        "thickness_mm": rounded(unplaced.thickness_mm),
        "why": unplaced.why,
    }


def _proof(proof: SheetProof) -> Document:
    return {
        "sheet": proof.sheet_number,
        "summary": proof.summary,
        "passed": proof.passed,
        "thickness_mm": rounded(proof.thickness_mm),
        "cell_mm": rounded(proof.carved.cell_mm),
        "faults": [_fault(n, f) for n, f in enumerate(proof.faults, start=1)],
        "parts": [_verdict(v) for v in proof.parts],
        "programs": [_reading(r) for r in proof.readings],
    }


def _fault(label: int, fault: Fault) -> Document:
    return {
        "number": label,
        "code": fault.code,
        "severity": str(fault.severity),
        "text": fault.text,
        "program": fault.program,
        "line": fault.line,
        "mark": fault.mark,
        "where_mm": [rounded(v) for v in fault.where] if fault.where else None,
        "measured": plain(fault.measured),
        "limit": plain(fault.limit),
        "unit": fault.unit,
    }


def _verdict(verdict: PartVerdict) -> Document:
    return {
        "mark": verdict.mark,
        "gouge_depth_mm": rounded(verdict.gouge_depth_mm),
        "gouge_area_mm2": rounded(verdict.gouge_area_mm2),
        "uncut_depth_mm": rounded(verdict.uncut_depth_mm),
        "uncut_area_mm2": rounded(verdict.uncut_area_mm2),
        "through": verdict.through,
        "tabs_found": verdict.tabs_found,
        "tabs_wanted": verdict.tabs_wanted,
        "held": verdict.held,
    }


def _reading(reading: ProgramReading) -> Document:
    return {
        "file": reading.name,
        "cutters": list(reading.cutters),
        "moves": reading.moves,
        "cut_length_mm": rounded(reading.cut_length_mm, 2),
        "travel_length_mm": rounded(reading.travel_length_mm, 2),
        "low_mm": [rounded(v) for v in reading.low] if reading.low else None,
        "high_mm": [rounded(v) for v in reading.high] if reading.high else None,
        "lowest_z_mm": rounded(reading.lowest_z_mm),
        "least_time_s": plain(reading.time_s),
        "chip_load_mm": plain(reading.chip_load_mm),
    }
