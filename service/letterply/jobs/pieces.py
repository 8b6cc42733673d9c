"""Test pieces: a generated recipe on the way of every other, a sheet to write on beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from letterply.catalogue import Shop, resolve_shop
from letterply.checks import check_stack
from letterply.exports import (
    findings_document,
    piece_document,
    plan_document,
    proof_document,
    stack_document,
    to_json,
)
from letterply.findings import by_severity
from letterply.jobs.files import Answer, later_paths, packed
from letterply.jobs.headline import DOCUMENTS, headline_of
from letterply.jobs.plans import CHECKS_FROM, make_plans
from letterply.jobs.resources import Resources
from letterply.pieces import Piece, design_piece, feeds_of, shop_for
from letterply.requests import DEFAULT_LIMITS, PieceRequest, parse_recipe
from letterply.stacks import Layer, Part, Stack, build_stack
from letterply.storage import Finished

__all__ = ["PIECE", "run_piece"]

PIECE = "test-piece"
"""Kind of these jobs."""

Tell = Callable[..., None]


def run_piece(
    asked: PieceRequest, normal: Mapping[str, Any], resources: Resources, tell: Tell
) -> Finished:
    """Return a test piece: its layers, checks, programs and proof, and what is read on it.

    Raises:
        InputError: see `letterply.pieces.design_piece`, and of plans.

    """
    catalogue = resources.catalogue()
    shop = resolve_shop(asked.shop, catalogue)
    piece = design_piece(asked, shop, catalogue)
    shop = shop_for(piece, shop)
    tell("layers", 0.0)
    recipe = parse_recipe(piece.recipe)
    # Nothing that was measured before shapes the piece: it shows what is as it is.
    stack = build_stack(recipe, catalogue, resources.fonts())
    tell("checks", CHECKS_FROM)
    # Its layers are never glued up, and corners of windows and slots stay round by design.
    alone = [replace(stack, layers=(layer,), findings=()) for layer in stack.layers]
    found = [
        f
        for one in alone
        for f in check_stack(one, catalogue, shop, DEFAULT_LIMITS)
        if f.code != "corner"
    ]
    cut, tried = _laddered(piece, stack, shop)
    made = make_plans(cut, shop, catalogue, tell, tried=tried)
    findings = by_severity((*found, *(f for f in made.findings if f not in found)))
    document = findings_document(findings)
    plan = plan_document(made.plans, made.nesting)
    programs = [p for sheet in made.plans for p in sheet.programs]
    answer = Answer(stack, findings, catalogue, None, made.plans, made.proofs, shop.units, piece)
    artifacts = {
        "piece.json": to_json(piece_document(piece, made.plans, made.proofs)),
        "findings.json": to_json(document),
        "request.json": to_json(dict(normal)),
        "stack.json": to_json(stack_document(stack, catalogue)),
        "recipe.json": to_json(dict(piece.recipe)),
        "plan.json": to_json(plan),
        "proof.json": to_json(proof_document(made.proofs)),
        **{f"programs/{p.name}": p.text.encode() for p in programs},
    }
    headline = headline_of(PIECE, normal, artifacts)
    return Finished(DOCUMENTS[PIECE], artifacts, headline, later_paths(answer), packed(answer))


def _laddered(piece: Piece, stack: Stack, shop: Shop) -> tuple[Stack, dict[str, Shop]]:
    """Return the stack as it is planned, and the shops that try something on a layer of it.

    A ladder of feeds is one piece of scrap that is worked again and again: a layer a slot.
    """
    if piece.kind != "feed":
        return stack, {}
    (layer,) = stack.layers
    (part,) = layer.parts
    left, low, right, high = part.outline.bounds
    middle = (left + right) / 2, (low + high) / 2
    layers: list[Layer] = []
    tried: dict[str, Shop] = {}
    for rung in piece.rungs:
        name = f"slot-{rung.letter.lower()}"
        y = middle[1] + rung.at[1]
        pocket = min(part.pockets, key=lambda p: abs(p.region.centroid.y - y))
        one: Part = replace(part, name=f"{name}", layer=name, pockets=(pocket,))
        layers.append(replace(layer, name=name, parts=(one,)))
        own = {**shop.feeds, piece.cutters[0]: feeds_of(piece, rung)}
        tried[name] = replace(shop, feeds=own, feeds_in={})
    return replace(stack, layers=tuple(layers)), tried
