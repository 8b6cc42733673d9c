"""Plans of the boathouse's recipes, made once for all tests of this room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import pytest

import boathouse
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Catalogue
from letterply.catalogue.shop import Shop, resolve_shop
from letterply.cutting.model import CutPlan
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.requests.shop import HoldDown
from letterply.sheets.nesting import ToPlace, nest
from letterply.stacks.build import build_stack
from letterply.stacks.model import Stack

RECIPES = ("rack_sign", "rack_letters", "locker_tag")
MACHINES = ("bench-router", "plain-router-inch", "shop-router")


@dataclass(frozen=True)
class Job:
    """A recipe, the shop that makes it, and the plans of its sheets."""

    stack: Stack
    shop: Shop
    spacing: float
    plans: tuple[CutPlan, ...]


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load_catalogue()


@pytest.fixture(scope="session")
def job_of(catalogue: Catalogue) -> Callable[..., Job]:
    """Return a function from recipe, machine and hold-down to the finished plans."""

    @cache
    def stack_of(recipe: str) -> Stack:
        return build_stack(parse_recipe(getattr(boathouse, recipe)()), catalogue, FontLibrary())

    @cache
    def job(recipe: str, machine: str = "bench-router", hold_down: str = HoldDown.TABS) -> Job:
        shop = resolve_shop({"machine": machine, "hold_down": hold_down}, catalogue)
        stack = stack_of(recipe)
        spacing = max(
            part_spacing(shop, catalogue.material(la.material), la.thickness_mm)
            for la in stack.layers
        )
        places = [
            ToPlace(
                mark=f"{copy}.{part.name}",
                copy=copy,
                part=part.cut_view(from_back=layer.from_back),
                material=layer.material,
                thickness_mm=layer.thickness_mm,
                grain=catalogue.material(layer.material).grain,
                from_back=layer.from_back,
            )
            for copy in range(1, stack.copies + 1)
            for layer in stack.layers
            for part in layer.parts
        ]
        nesting = nest(places, shop.stock, spacing_mm=spacing)
        assert not nesting.unplaced
        plans = tuple(plan_sheet(sheet, shop, catalogue, spacing) for sheet in nesting.sheets)
        return Job(stack, shop, spacing, plans)

    return job


@pytest.fixture(scope="session", params=RECIPES)
def job(request: pytest.FixtureRequest, job_of: Callable[..., Job]) -> Job:
    """Return each recipe's plans for the bench router."""
    return job_of(request.param)
