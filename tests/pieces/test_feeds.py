"""Ladders of feeds: what the proof reads in each program, and that none proves itself."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from letterply.jobs.pieces import run_piece
from letterply.jobs.plans import make_plans
from letterply.jobs.resources import Resources
from letterply.lettering.fonts.library import FontLibrary
from letterply.pieces import shop_for
from letterply.requests import OwnFeeds, PieceRequest, parse_recipe
from letterply.stacks import build_stack
from letterply.storage import Finished
from pieces.bench import SHEET, piece_of, shop_of, told

ASKED = {"kind": "feed", "cutter": "flat-3175"}


def made(machine: str) -> Finished:
    request = PieceRequest.model_validate({**SHEET, **ASKED, "shop": {"machine": machine}})
    return run_piece(request, {}, Resources(), lambda *progress: None)


@pytest.mark.parametrize("machine", ["bench-router", "plain-router-inch"])
def test_every_step_has_a_program_of_its_own_that_the_proof_lets_through(machine: str):
    finished = made(machine)
    assert finished.headline["ready"]
    rungs = json.loads(finished.artifacts["piece.json"])["rungs"]
    shop, catalogue = shop_of(machine=machine)
    cutter = next(c for c in shop.cutters if c.key == "flat-3175")
    _, piece = piece_of(ASKED, shop, catalogue)
    bears = 1.5 * catalogue.material("birch-plywood").chip_load_mm[1] * cutter.diameter_mm / 6
    assert len({r["program"] for r in rungs}) == len(rungs) >= 4
    assert [r["value"] for r in rungs] == sorted(r["value"] for r in rungs)
    for rung in rungs:
        # Machinery's Handbook: fz = F / (n z); an inch program is rounded to its decimals.
        chip = rung["value"] / (piece.nominal["spindle_rpm"] * cutter.flutes)
        assert rung["chip_load_mm"] == pytest.approx(chip, rel=2e-3)
        assert rung["chip_load_mm"] <= bears
        assert rung["value"] <= shop.machine.max_feed_mm_per_min


def test_a_step_that_asks_too_much_does_not_pass_because_it_is_tried():
    shop, catalogue = shop_of()
    _, piece = piece_of(ASKED, shop, catalogue)
    shop = shop_for(piece, shop)
    stack = build_stack(parse_recipe(piece.recipe), catalogue, FontLibrary())
    own = OwnFeeds.model_validate({"feed": 3 * piece.rungs[-1].value, "spindle": 18000})
    tried = {"slots": replace(shop, feeds={"flat-3175": own})}
    plans = make_plans(stack, shop, catalogue, tried=tried)
    assert not plans.ready
    assert "chip-load" in {f.code for p in plans.proofs for f in p.faults}


def test_the_feed_that_works_counts_in_its_material_alone():
    shop, catalogue = shop_of()
    found = told(ASKED, shop, catalogue, {}, 0.01, {"best": "B"})
    assert found.feeds is not None
    own = found.feeds.model_dump(mode="json", by_alias=True, exclude_none=True)
    better, _ = shop_of(feeds_in={"birch-plywood": {"flat-3175": own}})
    assert better.feeds_for("birch-plywood")["flat-3175"].feed_mm_per_min == found.changes[0].new
    assert better.feeds_for("mdf") == {}
