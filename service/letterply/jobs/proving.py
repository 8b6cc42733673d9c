"""Programs proved again: a plan that was made, and its programs as they are now, in; proofs out.

Nothing is kept, and nothing of the plan is changed: what a maker wrote into a program stays there,
and is judged against the parts of the plan. Cutters, machine, material and what is kept clear on
the sheets are those of the plan's shop as it was then, or of a shop that the request names.
"""

from __future__ import annotations

import asyncio
import dataclasses
from collections.abc import Mapping
from typing import Any

from letterply.catalogue import Shop, resolve_shop
from letterply.cutting import CutPlan
from letterply.errors import InputError, NotFound, UnknownName
from letterply.exports import film, proof_document, to_json
from letterply.jobs.files import Answer
from letterply.jobs.packing import unpack
from letterply.jobs.plans import prove_plan
from letterply.jobs.resources import Resources
from letterply.jobs.service import JobService
from letterply.proof import ProgramSource
from letterply.requests import PlanRequest, ProofRequest, read_request
from letterply.storage import JobState
from letterply.units import speaking

__all__ = ["prove_again", "prove_programs"]


async def prove_again(jobs: JobService, raw: Mapping[str, Any]) -> bytes:
    """Return the proof of a plan's programs as JSON, or the film of a sheet that is asked for.

    Raises:
        InputError: the request cannot be met; names the field.
        NotFound: no such plan is kept.
        LetterplyError: `answer-outdated`, the plan is of an earlier version of the engine.

    """
    settled = raw
    if raw.get("shop") is not None:
        settled = await asyncio.to_thread(jobs.shops.settle, raw)
    asked = await asyncio.to_thread(read_request, ProofRequest, settled)
    record = await jobs.look_up(asked.plan)
    if record.kind != "plan" or record.state is not JobState.DONE:
        raise NotFound("plan", asked.plan)
    request = dict(record.request)
    elsewhere = asked.shop is not None
    if elsewhere:
        request["shop"] = settled["shop"]
    stored = await asyncio.to_thread(jobs.store.read_answer, record)
    resources, _ = await asyncio.to_thread(jobs.resources, request)
    programs = dict(asked.programs)
    return await jobs.pool.run(
        prove_programs, stored, request, resources, programs, asked.film, elsewhere
    )


def prove_programs(
    stored: bytes,
    request: Mapping[str, Any],
    resources: Resources,
    programs: Mapping[str, str],
    shown: int | None = None,
    elsewhere: bool = False,
) -> bytes:
    """Return the proof as JSON, or the film of a sheet. Runs in a worker.

    Args:
        stored: the answer of the plan.
        request: of the plan, with the shop that counts.
        resources: the catalogue that counts.
        programs: name -> text of all its programs; one that is left out is not there.
        shown: number of the sheet of which a film is wanted.
        elsewhere: the shop is not that of the plan.

    Raises:
        InputError: `unknown-choice`, a name or a sheet that is none of the plan's; the shop has
            not the cutters or the material of the plan.

    """
    answer = unpack(stored)
    plans = answer.plans if isinstance(answer, Answer) else ()
    known = [p.name for plan in plans for p in plan.programs]
    for name in programs:
        if name not in known:
            raise InputError(
                f"The plan has no program {name!r}.",
                code="unknown-choice",
                field="programs",
                expected=", ".join(known) or "none: the plan has no programs",
            )
    asked = read_request(PlanRequest, request)
    catalogue = resources.catalogue().with_figures(asked.limits.material_figures)
    shop = resolve_shop(asked.shop, catalogue)
    if elsewhere:
        plans = tuple(_in_shop(plan, shop) for plan in plans)
    proofs = []
    numbers = [plan.sheet.number for plan in plans]
    if shown is not None and shown not in numbers:
        raise InputError(
            f"The plan has no sheet {shown}.",
            code="unknown-choice",
            field="film",
            expected=", ".join(map(str, numbers)) or "none: the plan has no programs",
        )
    with speaking(shop.units):
        for plan in plans if shown is None else (plans[numbers.index(shown)],):
            there = [p for p in plan.programs if p.name in programs]
            sources = [ProgramSource(p.name, p.cutters, programs[p.name]) for p in there]
            absent = [p.name for p in plan.programs if p.name not in programs]
            proofs.append(prove_plan(plan, sources, shop, catalogue, absent=absent))
            if shown is not None:
                return film(proofs[0], plan)
        return to_json(proof_document(proofs))


def _in_shop(plan: CutPlan, shop: Shop) -> CutPlan:
    """Return a plan whose sheet keeps clear what the shop keeps clear on its sheets of that name.

    Raises:
        UnknownName: the shop has not a cutter of the plan.

    """
    rack = [c.key for c in shop.cutters]
    for key in (key for program in plan.programs for key in program.cutters):
        if key not in rack:
            raise UnknownName("cutter", key, rack, field="shop.cutters")
    lies = plan.sheet.stock
    for stock in (s for s in shop.stock if s.key == lies.key):
        there = dataclasses.replace(stock, turned=lies.turned).as_it_lies()
        if (there.width_mm, there.height_mm) == (lies.width_mm, lies.height_mm):
            lies = dataclasses.replace(
                lies, keep_clear=there.keep_clear, outline_mm=there.outline_mm
            )
            return dataclasses.replace(plan, sheet=dataclasses.replace(plan.sheet, stock=lies))
    return plan
