"""One sheet of an order, as a task: planned and proved; its drawings are made when asked for."""

from __future__ import annotations

import json
from dataclasses import fields, replace

import shapely

from letterply.catalogue import Catalogue, CutterRack, Shop, Work
from letterply.cutting import CutPlan
from letterply.exports import findings_document, plan_document, proof_document, to_json
from letterply.jobs import make_sheet_plan
from letterply.orders.pipeline.answers import (
    ComparedSet,
    MadeFile,
    PlannedSheet,
    Program,
    SheetAnswer,
    told_findings,
)
from letterply.orders.pipeline.drawing import drawings_from
from letterply.orders.pipeline.hidden_faces import MARK_MM, with_mark
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import SheetSpec, StockFacts
from letterply.orders.pipeline.task_requests import SheetRequest
from letterply.shapes import as_region
from letterply.sheets import Nesting, PlacedPart, Placement, Sheet
from letterply.stacks import Layer, Part
from letterply.storage import Vault

__all__ = ["make_sheet", "planned_facts", "sheet_of"]


def make_sheet(
    request: SheetRequest, vault: Vault, catalogue: Catalogue, shop: Shop
) -> SheetAnswer:
    """Return the facts of one sheet; its programs, its proof and what shows it are in the vault.

    Args:
        request: the sheet, and whether marks are scribed.
        vault: has the layers.
        catalogue: for materials.
        shop: machine, cutters, hold-down.

    Raises:
        InputError: the sheet cannot be planned.

    """
    spec = request.sheet
    sheet = sheet_of(spec, vault, shop, catalogue, scribed=request.marks == "scribed")
    plan, proof, doubts = make_sheet_plan(sheet, shop, catalogue, spec.spacing_mm)
    _require_same_parts(sheet, plan.sheet)
    sheet = plan.sheet
    nesting = Nesting((sheet,), (), spec.spacing_mm)
    files = {
        f"plans/sheet-{sheet.number}.json": to_json(
            {"plan": plan_document([plan], nesting), "proof": proof_document([proof])}
        ),
        **{f"programs/{p.name}": p.text.encode() for p in plan.programs},
    }
    planned = planned_facts(spec, plan, shop)
    return SheetAnswer(
        **{f.name: getattr(planned, f.name) for f in fields(planned)},
        zero=plan.zero,
        scribed=tuple(sorted(p.mark for p in sheet.parts if _is_marked(p.source))),
        used_share=round(sheet.used_share, 4),
        tabs=sum(plan.tabs.values()),
        passed=proof.passed,
        proof=proof.summary,
        findings=told_findings(findings_document(doubts)),
        cautions=plan.cautions,
        measured=plan.measured,
        drawn_from=vault.write(drawings_from(plan, proof)),
        files=tuple(
            MadeFile(path, vault.write(data), len(data)) for path, data in sorted(files.items())
        ),
        compared=_compared(plan),
    )


def _compared(plan: CutPlan) -> tuple[ComparedSet, ...]:
    """Return the sets of cutters among which there was a choice."""
    return tuple(
        ComparedSet(
            choice.work,
            tuple(plan.names.get(key, key) for key in one.cutters),
            one.time_s,
            one.left_area_mm2,
            one.left_round_mm,
            one.flat_area_mm2,
            one.depth_mm,
            one.chosen,
        )
        for choice in plan.choices
        if len(choice.sets) > 1
        for one in choice.sets
    )


def planned_facts(spec: SheetSpec, plan: CutPlan, shop: Shop) -> PlannedSheet:
    """Return what a plan takes, of which a quote is made."""
    sheet = plan.sheet
    cutters = {c.key: c.name for c in shop.cutters}
    return PlannedSheet(
        number=sheet.number,
        stock=StockFacts.of(spec.stock),
        from_back=sheet.from_back,
        of_blanks=sheet.of_blanks,
        fixture=sheet.fixture,
        runs=sheet.runs,
        marks=tuple(m for p in spec.parts for m in p.marks),
        part_area_mm2=round(sheet.runs * sum(p.part.outline.area for p in sheet.parts), 2),
        time_s=round(plan.whole_time.total_s, 1),
        changes_s=round(plan.whole_time.changes_s, 1),
        programs=tuple(
            Program(p.name, tuple(cutters[key] for key in p.cutters), round(p.time.total_s, 1))
            for p in plan.programs
        ),
    )


def _can_scribe(spec: SheetSpec, catalogue: Catalogue, shop: Shop) -> bool:
    if shop.machine.kind == "beam":  # its power to scribe would have to be known
        return False
    material = catalogue.material(spec.stock.material)
    return bool(CutterRack.of(shop, material).able(Work.SCRIBE, MARK_MM))


def sheet_of(
    spec: SheetSpec,
    vault: Vault,
    shop: Shop,
    catalogue: Catalogue,
    *,
    scribed: bool,
    alike: bool = False,
) -> Sheet:
    """Return a sheet with its parts.

    Args:
        spec: what lies where on it.
        vault: has the layers.
        shop: whether it can scribe marks.
        catalogue: and the material take them.
        scribed: whether marks are wanted.
        alike: to take copies of a part on lines of one design for one part, with one mark. Such a
            sheet is quicker to plan; what the plan says of parts does not tell them apart.

    """
    scribed = scribed and _can_scribe(spec, catalogue, shop)
    layers: dict[str, Layer] = {}
    faces: dict[str, list[str]] = {}
    shared: dict[tuple[str, int], Part] = {}
    placed = []
    for told in sorted(spec.parts, key=lambda t: t.mark):
        if told.file not in layers:
            layers[told.file] = layer_from(vault.read(told.file))
        layer = layers[told.file]
        part, mark = layer.parts[told.index], told.mark
        # Copies share one value, and with it what is computed for it. The planner tells parts
        # apart by their names, which are unique in a stack but not on the sheets of an order.
        name = f"{told.file if alike else mark.partition('.')[0]}.{part.name}"
        seen = shared.setdefault(
            (told.file, told.index),
            replace(part.cut_view(from_back=layer.from_back), name=name),
        )
        if scribed and not part.ready_made and not (alike and _is_marked(seen)):
            if told.hidden not in faces:
                faces[told.hidden] = json.loads(vault.read(told.hidden))
            hidden = as_region(shapely.from_wkb(faces[told.hidden][told.index]))
            marked = with_mark(part, hidden, mark, from_back=layer.from_back)
            if _is_marked(marked):
                seen = replace(marked, name=name if alike else mark)
                if alike:
                    shared[told.file, told.index] = seen
        placed.append(PlacedPart.at(mark, told.copy, seen, Placement(*told.placement)))
    return Sheet(
        spec.number,
        spec.stock,
        tuple(placed),
        spec.from_back,
        zero_mm=spec.zero_mm or (0.0, 0.0),
        runs=spec.runs,
        fixture=spec.fixture,
        pocket_mm=spec.pocket_mm,
    )


def _is_marked(part: Part) -> bool:
    return any(s.purpose == "mark" for s in part.scribes)


def _require_same_parts(wanted: Sheet, planned: Sheet) -> None:
    """Raise `RuntimeError` if a plan is not for the parts that were asked for.

    The proof holds programs against the sheet that the plan names: a plan that mistook one part
    for another would pass it.
    """
    outlines = {p.mark: p.part.outline for p in wanted.parts}
    found = {p.mark: p.part.outline for p in planned.parts}
    if outlines.keys() != found.keys() or any(not outlines[m].equals(found[m]) for m in found):
        raise RuntimeError(f"sheet {wanted.number}: the plan is for other parts")
