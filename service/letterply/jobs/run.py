"""Jobs: the whole way through the house, from a request to files. Runs in a worker.

A job is a kind and a request of plain JSON values; its answer is documents and programs, path ->
bytes, and what files are made from when somebody asks for them (`letterply.jobs.files`). Nothing
here touches disk, network or clock, but for the fonts, drawings and catalogue files that
`Resources` names.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from letterply.catalogue import Catalogue, Shop, resolve_shop
from letterply.checks import (
    check_stack,
    find_refusals,
    find_sign_advice,
    profile_cutters,
)
from letterply.exports import (
    findings_document,
    plan_document,
    proof_document,
    stack_document,
    to_json,
)
from letterply.findings import Finding, by_severity
from letterply.jobs.files import Answer, later_paths, packed
from letterply.jobs.headline import DOCUMENTS, headline_of
from letterply.jobs.pieces import PIECE, run_piece
from letterply.jobs.plans import CHECKS_FROM, Made, make_plans
from letterply.jobs.repair_files import repaired_files, repaired_summary
from letterply.jobs.repairs import repair_until_clear
from letterply.jobs.resources import Resources
from letterply.jobs.sizes import run_sizes
from letterply.jobs.sizing import Desk
from letterply.jobs.surveys import run_survey
from letterply.jobs.ways import ways_document, ways_of
from letterply.requests import (
    DEFAULT_LIMITS,
    CheckedRequest,
    CheckRequest,
    PieceRequest,
    PlanRequest,
    Recipe,
    SizeRequest,
    StackRequest,
    SurveyRequest,
    parse_recipe,
    read_request,
)
from letterply.stacks import Stack, build_stack
from letterply.storage import Finished
from letterply.units import speaking
from letterply.workers import tell

__all__ = ["normalise_request", "read_job", "run_job"]

_CHECKS_OF_A_CHECK = 0.3
"""Share of a check's processor time when the layers are there, as measured on the demo's sign (0.06
to 0.71 on its other recipes)."""

Asked = StackRequest | SurveyRequest | PieceRequest

_REQUESTS: dict[str, type[Asked]] = {
    "stack": StackRequest,
    "check": CheckRequest,
    "plan": PlanRequest,
    "survey": SurveyRequest,
    "size": SizeRequest,
    PIECE: PieceRequest,
}


def read_job(kind: str, request: Mapping[str, Any]) -> Asked:
    """Return the request of a job as its model; errors as `normalise_request`."""
    return read_request(_REQUESTS[kind], request)


def normalise_request(kind: str, request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request in one form: lengths in mm, defaults of the recipe filled in.

    Cheap, and safe in any process: no font is opened. What only the geometry or the catalogue
    can tell comes later, from `run_job`.

    Raises:
        InputError: naming the field that is wrong; all mistakes in its data where there are more.

    """
    asked = read_job(kind, request)
    normal = asked.model_dump(
        mode="json", by_alias=True, exclude={"recipe", "shop"}, exclude_defaults=True
    )
    if asked.shop is not None:
        normal["shop"] = asked.shop.normal()
    if isinstance(asked, StackRequest):
        normal["recipe"] = asked.recipe.model_dump(mode="json")
    return normal


def run_job(kind: str, request: Mapping[str, Any], resources: Resources) -> Finished:
    """Return what a job found out. Same request, same bytes.

    Raises:
        LetterplyError: the request cannot be met; names the field.

    """
    normal = normalise_request(kind, request)
    asked = read_job(kind, normal)
    with speaking(asked.shop.units if asked.shop is not None else "mm"):
        return _run(kind, asked, normal, resources)


def _run(
    kind: str,
    asked: Asked,
    normal: dict[str, Any],
    resources: Resources,
) -> Finished:
    if isinstance(asked, PieceRequest):
        return run_piece(asked, normal, resources, tell)
    catalogue, library = resources.catalogue(), resources.fonts()
    if isinstance(asked, SurveyRequest):
        return run_survey(asked, normal, catalogue, library)
    limits, use = (
        (asked.limits, asked.use) if isinstance(asked, CheckedRequest) else (DEFAULT_LIMITS, None)
    )
    repair = asked.repair if isinstance(asked, CheckRequest) else None
    catalogue = catalogue.with_figures(limits.material_figures)
    shop = resolve_shop(asked.shop, catalogue)
    recipe = asked.recipe
    artworks = resources.artworks()
    figures = limits.model_dump_json()
    shared = resources.shared(shop.units, figures)
    in_shop = resources.shared(figures, asked.shop.model_dump_json() if asked.shop else "")

    def build(recipe: Recipe) -> Stack:
        if kind != "size":
            tell("layers", 0.0)
        plain = recipe.model_copy(update={"title": ""})
        stack = shared.once(
            ("stack", plain.model_dump_json(), _measured_text(shop)),
            lambda: build_stack(
                plain,
                catalogue,
                library,
                artworks=artworks,
                once=shared.once,
                measured=shop.measured,
            ),
        )
        return replace(stack, title=recipe.title)

    def check(recipe: Recipe, stack: Stack, *, alike: bool = True) -> tuple[Finding, ...]:
        if kind != "size":
            tell("checks", CHECKS_FROM if kind == "plan" else _CHECKS_OF_A_CHECK)
        found = check_stack(stack, catalogue, shop, limits, once=shared.once, alike=alike)
        if use is not None:
            found = by_severity((*found, *find_sign_advice(recipe, stack, library, use)))
        return found

    if isinstance(asked, SizeRequest):
        desk = Desk(recipe, build, check, partial(check, alike=False), shop, catalogue, library)
        return run_sizes(asked, normal, desk, lambda stack: _gaps(stack, shop, catalogue))
    stack = build(recipe)
    if kind != "stack":
        findings = check(recipe, stack)
    else:  # no more than what a shop that is named must not or cannot do
        refusals = find_refusals(stack, catalogue, shop) if "shop" in normal else ()
        findings = by_severity((*stack.findings, *refusals))
    told: dict[str, bytes] = {}
    said = ""
    if repair is not None:
        before = findings
        repaired = repair_until_clear(
            recipe,
            stack,
            before,
            build=build,
            check=check,
            gaps_mm=_gaps(stack, shop, catalogue),
            raise_size=repair.raise_size,
        )
        stack, findings = repaired.stack, repaired.findings
        recipe = parse_recipe(repaired.recipe)
        told, said = repaired_files(repaired, before, normal), f"{repaired_summary(repaired)} "
    cutters, made = None, None
    if kind == "check":
        cut = [layer for layer in stack.layers if layer.fixture is None]
        cutters = {layer.name: profile_cutters(layer, shop, catalogue) for layer in cut}
    if kind == "plan":
        search_s = asked.search_s if isinstance(asked, PlanRequest) else 0
        made = make_plans(stack, shop, catalogue, tell, in_shop, search_s=search_s)
        findings = by_severity((*findings, *_not_told(made.findings, findings)))
        told |= _plan_files(made)
    document = findings_document(findings)
    if said:
        document |= {"summary": f"{said}{document['summary']}", "summary_words": None}
    if kind == "check":
        document["strengthening"] = ways_document(ways_of(recipe, stack, build))
    plans, proofs = (made.plans, made.proofs) if made is not None else ((), ())
    answer = Answer(stack, findings, catalogue, cutters, plans, proofs, shop.units)
    artifacts = {
        "findings.json": to_json(document),
        "request.json": to_json(normal),
        "stack.json": to_json(stack_document(stack, catalogue)),
        **told,
    }
    headline = headline_of(kind, normal, artifacts)
    stored = packed(answer, in_shop.runs)
    return Finished(DOCUMENTS[kind], artifacts, headline, later_paths(answer), stored)


def _measured_text(shop: Shop) -> str:
    """Return what layers depend on of what the shop has measured, as one text."""
    fits = [f.model_dump(mode="json") for f in shop.measured.fits]
    sheets = [t.model_dump(mode="json") for t in shop.measured.thicknesses]
    return json.dumps([fits, sheets, shop.measured.line])


def _not_told(more: Sequence[Finding], told: Sequence[Finding]) -> list[Finding]:
    """Return what the checks have not said already: they speak once of a part, plans of copies.

    It is the same where code, layer and figures are, and the best way out.
    """

    def what(finding: Finding) -> tuple[object, ...]:
        best = finding.remedies[0].text if finding.remedies else finding.why
        return finding.code, finding.layer, finding.measured, finding.limit, best

    known = {what(f) for f in told}
    no_room = {f.part for f in told if f.code == "room"}
    return [
        f for f in more if what(f) not in known and not (f.code == "unplaced" and f.part in no_room)
    ]


def _gaps(stack: Stack, shop: Shop, catalogue: Catalogue) -> dict[str, float]:
    """Return the diameter of the smallest cutter that goes through each layer."""
    found = {layer.name: profile_cutters(layer, shop, catalogue) for layer in stack.layers}
    return {name: cutters[0].diameter_mm for name, cutters in found.items() if cutters}


def _plan_files(made: Made) -> dict[str, bytes]:
    programs = {f"programs/{p.name}": p.text.encode() for plan in made.plans for p in plan.programs}
    return {
        "plan.json": to_json(plan_document(made.plans, made.nesting)),
        "proof.json": to_json(proof_document(made.proofs)),
        **programs,
    }
