"""Programs proved again: a plan that was made, and its programs as they are now, in; proofs out.

Nothing is kept, and nothing of the plan is changed: what a maker wrote into a program stays there,
and is judged against the parts, the cutters, the machine and the material of the plan.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any

from letterply.catalogue import resolve_shop
from letterply.errors import InputError, NotFound
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
    asked = await asyncio.to_thread(read_request, ProofRequest, raw)
    record = await jobs.look_up(asked.plan)
    if record.kind != "plan" or record.state is not JobState.DONE:
        raise NotFound("plan", asked.plan)
    request = dict(record.request)
    stored = await asyncio.to_thread(jobs.store.read_answer, record)
    resources, _ = await asyncio.to_thread(jobs.resources, request)
    programs = dict(asked.programs)
    return await jobs.pool.run(prove_programs, stored, request, resources, programs, asked.film)


def prove_programs(
    stored: bytes,
    request: Mapping[str, Any],
    resources: Resources,
    programs: Mapping[str, str],
    shown: int | None = None,
) -> bytes:
    """Return the proof as JSON, or the film of a sheet. Runs in a worker.

    Args:
        stored: the answer of the plan.
        request: of the plan.
        resources: catalogue of the plan.
        programs: name -> text of all its programs; one that is left out is not there.
        shown: number of the sheet of which a film is wanted.

    Raises:
        InputError: `unknown-choice`, a name or a sheet that is none of the plan's.

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
