"""From a stack to proved programs: nesting, plans, proofs. Values only."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType

from letterply.catalogue import Catalogue, Shop, power_for
from letterply.cutting import CutPlan, part_spacing, plan_sheet
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.jobs.shared_answers import SharedAnswers
from letterply.proof import ProgramSource, Setup, SheetProof, faults_as_findings, prove_sheet
from letterply.said import Said, as_it_is, say
from letterply.sheets import Nesting, Sheet, ToPlace, blank_sheets, nest, spaced_for_overruns
from letterply.stacks import Stack, part_words

__all__ = [
    "CHECKS_FROM",
    "Made",
    "make_plans",
    "make_sheet_plan",
    "nest_stack",
    "prove_plan",
    "to_place",
]

CHECKS_FROM, _NESTING_FROM, _SHEETS_FROM, _PROOF_FROM = 0.1, 0.27, 0.32, 0.25
"""Shares of processor time done when a phase of a plan begins, as measured on the demo's sign; the
last one is of a sheet's, the median over the eight sheets of the demo's recipes (0.07 to 0.39).
Plainer projects come to their sheets sooner (after 0.07 to 0.31)."""

Tell = Callable[[str, float, int, int], None]
TellOfSheet = Callable[[str, float], None]
SheetPlan = tuple[CutPlan, SheetProof, tuple[Finding, ...]]
NOTHING = SharedAnswers(None)


@dataclass(frozen=True, slots=True)
class Made:
    """All sheets of a job with what cuts them and what proves it.

    Attributes:
        nesting: the sheets.
        plans: a plan a sheet.
        proofs: a proof a sheet.
        findings: doubts of nesting, planning and proof.

    """

    nesting: Nesting
    plans: tuple[CutPlan, ...]
    proofs: tuple[SheetProof, ...]
    findings: tuple[Finding, ...]

    @property
    def ready(self) -> bool:
        """Whether every part has a place and every plan a proof that passes."""
        blocked = any(f.severity is Severity.BLOCKER for f in self.findings)
        return not blocked and not self.nesting.unplaced and all(p.passed for p in self.proofs)


def make_plans(
    stack: Stack,
    shop: Shop,
    catalogue: Catalogue,
    tell: Tell = lambda *progress: None,
    shared: SharedAnswers = NOTHING,
    *,
    search_s: int = 0,
    tried: Mapping[str, Shop] = MappingProxyType({}),
) -> Made:
    """Return sheets, plans and proofs of all copies of a stack.

    Args:
        stack: what is cut.
        shop: where.
        catalogue: materials.
        tell: told phase, share of the whole job, sheet and number of sheets.
        shared: may know sheets of shop and catalogue, and where a search laid parts.
        search_s: seconds for tighter layouts; 0 for the quick way.
        tried: name of a layer -> the shop with what is tried on it; its proof knows of nothing but
            the shop as it is.

    Raises:
        InputError: see `letterply.cutting.plan.plan_sheet`.

    """
    tell("nesting", _NESTING_FROM, 0, 0)
    nesting = nest_stack(stack, shop, catalogue, shared, search_s=search_s)
    spacing = nesting.spacing_mm
    sheets = list(nesting.sheets)
    for layer in stack.layers:
        if layer.fixture is not None:
            sheets += blank_sheets(layer, stack.copies, len(sheets) + 1, shop.machine.bed_mm)
    nesting = replace(nesting, sheets=tuple(sheets))
    findings: list[Finding] = [
        Finding(
            code="unplaced",
            severity=Severity.BLOCKER,
            part=u.mark.partition(".")[2],
            why=say(
                "no sheet has space for {part}. {why}",
                part=_placed_words(u.mark, stack),
                why=u.why,
            ),
            remedies=(Remedy(RemedyAction.CHANGE_STOCK, u.remedy),),
        )
        for u in nesting.unplaced
    ]
    plans: list[CutPlan] = []
    proofs: list[SheetProof] = []
    count = len(nesting.sheets)
    for number, sheet in enumerate(nesting.sheets):

        def tell_of_sheet(phase: str, share: float, number: int = number) -> None:
            done = (number + share) / count
            tell(phase, _SHEETS_FROM + (1 - _SHEETS_FROM) * done, number + 1, count)

        def find_out(sheet: Sheet = sheet, tell: TellOfSheet = tell_of_sheet) -> SheetPlan:
            layers = {p.source.layer for p in sheet.parts}
            trying = next((tried[name] for name in sorted(layers) if name in tried), None)
            return make_sheet_plan(sheet, shop, catalogue, spacing, tell, trying=trying)

        once = find_out if tried else partial(shared.once, ("sheet", sheet, spacing), find_out)
        plan, proof, doubts = once()
        plans.append(plan)
        proofs.append(proof)
        findings += doubts
    return Made(nesting, tuple(plans), tuple(proofs), tuple(findings))


def nest_stack(
    stack: Stack,
    shop: Shop,
    catalogue: Catalogue,
    shared: SharedAnswers = NOTHING,
    *,
    search_s: int = 0,
) -> Nesting:
    """Return the sheets on which all copies of a stack lie, those of blanks apart.

    `shared` may know where a search of `search_s` seconds laid parts.
    """
    cut = [la for la in (*stack.layers, *stack.fixtures) if la.fixture is None]
    spacing = max(
        (
            part_spacing(shop, catalogue.material(layer.material), layer.thickness_mm)
            for layer in cut
        ),
        default=0.0,
    )
    spacing = spaced_for_overruns(spacing, (part for layer in cut for part in layer.parts))
    places = to_place(stack, catalogue)

    def laid() -> Nesting:
        return nest(
            places,
            shop.stock,
            spacing_mm=spacing,
            search_seconds=search_s,
            use_counters=shop.use_counters,
        )

    # A search ends by the clock: what it found is kept, so that another one is not asked for.
    question = ("nesting", places, shop.stock, spacing, search_s, shop.use_counters)
    return shared.once(question, laid) if search_s else laid()


def make_sheet_plan(
    sheet: Sheet,
    shop: Shop,
    catalogue: Catalogue,
    spacing_mm: float,
    tell: TellOfSheet = lambda phase, share: None,
    *,
    trying: Shop | None = None,
) -> SheetPlan:
    """Return plan and proof of one sheet, and the doubts of both.

    `tell` is told the phase and the share of this sheet's work. What a shop that is `trying`
    something plans is proved by what the shop is known to bear.

    Raises:
        InputError: see `letterply.cutting.plan.plan_sheet`.

    """
    tell("cutting", 0.0)
    plan = plan_sheet(sheet, trying or shop, catalogue, spacing_mm)
    tell("proof", _PROOF_FROM)
    sources = [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs]
    proof = prove_plan(plan, sources, shop, catalogue)
    if any(f.code == "power" for f in plan.findings):
        return plan, proof, plan.findings  # that nothing is cut, they say
    # Corners that stay round are told once a part by the checks, not once a copy by the proof.
    faults = [f for f in faults_as_findings(proof) if ("fault", "rounded") not in f.data]
    return plan, proof, (*plan.findings, *faults)


def prove_plan(
    plan: CutPlan,
    programs: Sequence[ProgramSource],
    shop: Shop,
    catalogue: Catalogue,
    *,
    absent: Sequence[str] = (),
) -> SheetProof:
    """Return the proof of programs for the sheet of a plan; `absent` are names of lost ones."""
    stock = plan.sheet.stock
    setup = Setup(
        cutters={c.key: c for c in shop.cutters},
        machine=shop.machine,
        through_mm=plan.through_mm,
        hold_down=plan.hold_down,
        tabs=plan.tabs,
        tab_height_mm=plan.tab_height_mm,
        tab_foot_mm=plan.tab_foot_mm,
        power=power_for(shop.power, stock.material, stock.thickness_mm),
        material=catalogue.material(stock.material),
        feeds=shop.feeds_for(stock.material),
        detail_mm=shop.detail_mm,
    )
    return prove_sheet(plan.sheet, programs, setup, absent=absent)


def to_place(stack: Stack, catalogue: Catalogue) -> list[ToPlace]:
    """Return all copies of all parts that are cut out of sheets."""
    return [
        ToPlace(
            mark=f"{copy}.{part.name}",
            copy=copy,
            part=part.cut_view(from_back=layer.from_back),
            material=layer.material,
            thickness_mm=layer.thickness_mm,
            grain=catalogue.material(layer.material).grain,
            from_back=layer.from_back,
        )
        for layer, copies in [
            *((la, stack.copies) for la in stack.layers if la.fixture is None),
            *((la, 1) for la in stack.fixtures),
        ]
        for copy in range(1, copies + 1)
        for part in layer.parts
    ]


def _placed_words(mark: str, stack: Stack) -> Said:
    """Return what one copy of a part is called in the midst of a sentence."""
    copy, _, name = mark.partition(".")
    parts = (p for layer in (*stack.layers, *stack.fixtures) for p in layer.parts)
    words = next((part_words(p) for p in parts if p.name == name), as_it_is(mark))
    return say("{part}, copy {copy}", part=words, copy=copy) if stack.copies > 1 else words
