"""A sheet and the text of its programs in, a proof out.

The programs are run one after another on the same stock, each from an unknown position with the
spindle off. What they remove is compared with what the parts ask for. Only the text of the
programs, the parts, the cutters and the machine are known here, never how the programs came to
be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from letterply.findings import Finding, Severity
from letterply.proof.judging.conduct import judge_conduct
from letterply.proof.judging.gravity import worst_first
from letterply.proof.judging.holding import TabsWanted, find_nested_parts
from letterply.proof.judging.loosening import find_cuts_in_loose_stock
from letterply.proof.judging.parts import Evidence, judge_part
from letterply.proof.judging.surface import compare
from letterply.proof.judging.target import build_target
from letterply.proof.judging.webs import find_adrift
from letterply.proof.model import (
    Fault,
    HeightField,
    PartVerdict,
    ProgramSource,
    Setup,
    SheetProof,
)
from letterply.proof.reading.interpreter import ReadProgram
from letterply.proof.reading.motion import motion_of
from letterply.proof.reading.programs import judge_programs, sum_up
from letterply.proof.reading.toolpath import Toolpath, carve_toolpath, lay_out, read_all
from letterply.proof.removal.exact import side_cuts
from letterply.proof.removal.levels import Levels
from letterply.proof.removal.swept import CHORD_SHARE, blank_field
from letterply.requests import HoldDown
from letterply.said import as_it_is
from letterply.sheets import Sheet, work_zero
from letterply.side_by_side import both, side_by_side

__all__ = ["MOST_CELLS", "choose_cell", "faults_as_findings", "prove_sheet"]

MOST_CELLS = 25_000_000
"""Cells of one field: 100 MB a field in float32, of which there are three."""

_FINE_MM, _FINE_CELLS = 0.05, 4_000_000
_COMMON_MM = 0.1
_MOST_SAGITTA_MM = 0.002
_MARGIN_MM = 0.5

Bounds = tuple[float, float, float, float]


def prove_sheet(
    sheet: Sheet,
    programs: Sequence[ProgramSource],
    setup: Setup,
    *,
    cell_mm: float | None = None,
    absent: Sequence[str] = (),
) -> SheetProof:
    """Read the programs of a sheet back and judge what they do to it.

    Args:
        sheet: stock and parts, in the sheet's frame.
        programs: in the order in which they are run.
        setup: machine, cutters and how the sheet is to be cut.
        cell_mm: width of a cell of the fields; None to choose by size.
        absent: names of programs that belong to the sheet and are not there.

    Raises:
        UnknownName: a program names a cutter that the setup has not.

    """
    machine = setup.machine
    readings = read_all(programs, machine)
    toolpath, carved = _laid_out(sheet, programs, readings, setup, cell_mm)
    bites, (target, levels) = both(
        lambda: carve_toolpath(carved, toolpath),
        lambda: (
            build_target(sheet.parts, toolpath, carved, setup),
            Levels.of(toolpath, setup, sheet.stock.thickness_mm),
        ),
    )
    evidence = Evidence(
        toolpath,
        carved,
        target,
        misfits=compare(carved, target),
        levels=levels,
        sides=side_cuts(toolpath),
    )
    nested_parts = find_nested_parts(sheet.parts)

    def judged(index: int) -> tuple[PartVerdict, tuple[Fault, ...]]:
        placed = sheet.parts[index]
        wanted = TabsWanted(
            setup.tabs.get(placed.mark, 0), setup.tab_foot_mm.get(placed.mark, math.inf)
        )
        nested = nested_parts[index]
        return judge_part(index, placed, evidence, tabs=wanted, nested_parts=nested)

    def judged_whole() -> tuple[list[Fault], list[Fault], list[Fault]]:
        """Judge how the cutter moves, whether waste holds what it should, what comes loose."""
        ways = [*judge_programs(programs, readings, machine)]
        ways += judge_conduct(toolpath, bites, sheet, setup, target)
        if setup.hold_down is not HoldDown.TABS:
            return ways, [], []
        adrift = find_adrift(carved, sheet.parts, setup.tabs, levels.held_mm, nested_parts)
        return ways, adrift, find_cuts_in_loose_stock(toolpath, levels, sheet.parts, carved.bounds)

    judgements, (faults, adrift, late) = both(
        lambda: side_by_side(judged, range(len(sheet.parts))), judged_whole
    )
    faults += [fault for _, found in judgements for fault in found] + adrift
    if not any(f.code == "loose" for f in faults):
        faults += late
    if sheet.parts and not programs:  # then nothing is cut, and one sentence says so
        faults = [_no_program(sheet)]
    faults += [
        Fault("no-program", Severity.BLOCKER, f"The program {name} is not there.", program=name)
        for name in absent
    ]
    ordered = worst_first(faults)
    return SheetProof(
        sheet_number=sheet.number,
        thickness_mm=sheet.stock.thickness_mm,
        passed=all(f.severity is not Severity.BLOCKER for f in ordered),
        faults=ordered,
        parts=tuple(verdict for verdict, _ in judgements),
        readings=sum_up(toolpath, machine),
        carved=carved,
        wanted=target.wanted,
        summary=_summarise(sheet, ordered),
        motion=motion_of(toolpath, machine),
    )


def _laid_out(
    sheet: Sheet,
    programs: Sequence[ProgramSource],
    readings: Sequence[ReadProgram],
    setup: Setup,
    cell_mm: float | None,
) -> tuple[Toolpath, HeightField]:
    """Return the moves on the sheet, and the untouched field whose cells their chords suit."""

    def toolpath_with(sagitta_mm: float) -> Toolpath:
        return lay_out(
            programs,
            readings,
            setup,
            thickness_mm=sheet.stock.thickness_mm,
            sagitta_mm=sagitta_mm,
            zero=work_zero(sheet, setup.machine),
        )

    toolpath = toolpath_with(_MOST_SAGITTA_MM)
    bounds = _grid_bounds(sheet, toolpath)
    cell = choose_cell(bounds) if cell_mm is None else max(cell_mm, _least_cell(bounds))
    if cell / CHORD_SHARE < _MOST_SAGITTA_MM:
        toolpath = toolpath_with(cell / CHORD_SHARE)
    return toolpath, blank_field(bounds, cell)


def _no_program(sheet: Sheet) -> Fault:
    text = f"Sheet {sheet.number} has no program, so there is nothing to prove and nothing to cut."
    return Fault("no-program", Severity.BLOCKER, text)


def choose_cell(bounds: Bounds) -> float:
    """Return the width of a cell for an area: 0.05 when small, 0.1, or what memory allows.

    >>> choose_cell((0, 0, 80, 80)), choose_cell((0, 0, 300, 300)), choose_cell((0, 0, 1200, 600))
    (0.05, 0.1, 0.17)

    """
    area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
    if area <= _FINE_CELLS * _FINE_MM**2:
        return _FINE_MM
    return max(_COMMON_MM, _least_cell(bounds))


def _least_cell(bounds: Bounds) -> float:
    area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
    return math.ceil(math.sqrt(area / MOST_CELLS) * 100) / 100


def _grid_bounds(sheet: Sheet, toolpath: Toolpath) -> Bounds:
    """Return the box of parts and cuts, within the stock: large empty sheets stay cheap."""
    boxes = [p.part.outline.bounds for p in sheet.parts]
    s = toolpath.segments
    cutting = np.minimum(s.starts[:, 2], s.ends[:, 2]) < 0
    if cutting.any():
        radius = toolpath.radii()[cutting, None]
        low = np.minimum(s.starts[cutting, :2], s.ends[cutting, :2]) - radius
        high = np.maximum(s.starts[cutting, :2], s.ends[cutting, :2]) + radius
        boxes.append((*low.min(axis=0).tolist(), *high.max(axis=0).tolist()))
    width, height = sheet.stock.width_mm, sheet.stock.height_mm
    if not boxes:
        return 0.0, 0.0, min(width, 1.0), min(height, 1.0)
    left = max(0.0, min(b[0] for b in boxes) - _MARGIN_MM)
    low_y = max(0.0, min(b[1] for b in boxes) - _MARGIN_MM)
    right = min(width, max(b[2] for b in boxes) + _MARGIN_MM)
    high_y = min(height, max(b[3] for b in boxes) + _MARGIN_MM)
    if right <= left or high_y <= low_y:
        return 0.0, 0.0, min(width, 1.0), min(height, 1.0)
    return left, low_y, right, high_y


def _summarise(sheet: Sheet, faults: Sequence[Fault]) -> str:
    n = len(sheet.parts)
    if not (n or faults):
        return f"There is nothing to cut on sheet {sheet.number}."
    cut = f"cut the {f'{n} parts' if n != 1 else 'part'} of sheet {sheet.number} as wanted"
    grave = [f for f in faults if f.severity is Severity.BLOCKER]
    if faults and faults[0].code == "no-program":
        return faults[0].text
    said = f"The programs do not {cut}." if grave else f"The programs {cut}."
    if not faults:
        return said
    more, word = (len(grave) - 1, "fault") if grave else (len(faults) - 1, "remark")
    tail = f" {more} more {word}{'s' * (more != 1)} in the proof." if more else ""
    return f"{said} {faults[0].text}{tail}"


def faults_as_findings(proof: SheetProof) -> tuple[Finding, ...]:
    """Return the faults of a proof as findings, in the same order.

    A fault lies in the sheet's frame and a finding's place in the stack's, so the place goes into
    the data, as `sheet_x_mm` and `sheet_y_mm`, beside the fault's code, program and line.
    """
    found: list[Finding] = []
    for fault in proof.faults:
        data: list[tuple[str, object]] = [
            ("fault", fault.code),
            ("sheet", proof.sheet_number),
        ]
        if fault.program is not None:
            data.append(("program", fault.program))
        if fault.line is not None:
            data.append(("line", fault.line))
        if fault.where is not None:
            data += [("sheet_x_mm", fault.where[0]), ("sheet_y_mm", fault.where[1])]
        found.append(
            Finding(
                "proof",
                fault.severity,
                as_it_is(fault.text),
                part=fault.mark,
                measured=fault.measured,
                limit=fault.limit,
                unit=fault.unit,
                data=tuple(data),
            )
        )
    return tuple(found)
