"""Requests of jobs: what to make, and what is to be done with it."""

from __future__ import annotations

from typing import Annotated

from pydantic import AliasChoices, BeforeValidator, Field

from letterply.requests.fields import Model, Search
from letterply.requests.limits import Limits
from letterply.requests.recipe import Recipe
from letterply.requests.repairs import switched
from letterply.requests.shop import ShopWish
from letterply.requests.sign_use import SignUse

__all__ = [
    "CheckRequest",
    "CheckedRequest",
    "PlanRequest",
    "PreviewRequest",
    "ProofRequest",
    "RepairWish",
    "StackRequest",
]


class StackRequest(Model):
    """Have a stack built."""

    recipe: Recipe = Field(description="what to make")
    shop: ShopWish | None = Field(
        None, description="where it will be cut: what its machine must not or cannot do is told"
    )


class PreviewRequest(Model):
    """Have the layers of a recipe drawn at once."""

    recipe: Recipe = Field(description="what to make")
    shop: ShopWish | None = Field(None, description="where it will be cut: its materials count")
    client: str | None = Field(
        None,
        min_length=1,
        max_length=64,
        description="a name of your own for what shows it: of one name only the newest question is "
        "answered, those before it that still wait are turned away",
    )
    quick: bool = Field(
        False,
        description="while somebody types: strengthening, which takes longest, is left out unless "
        "it is at hand; `not_strengthened` of the answer names the layers that are shown without. "
        "Ask without `quick` once there is a pause",
    )


class ProofRequest(Model):
    """Have the programs of a plan proved as they are now."""

    plan: str = Field(min_length=1, max_length=64, description="id of the plan")
    programs: dict[Annotated[str, Field(max_length=200)], str] = Field(
        max_length=1000,
        description="name -> text of every program of the plan; one that is left out is not there",
    )
    film: int | None = Field(
        None,
        ge=1,
        description="number of a sheet: the answer is its film instead, as in `films` of a plan",
    )
    shop: ShopWish | None = Field(
        None,
        description="where they are to be run: its machine, cutters, feeds and catalogue count, "
        "and what its sheets keep clear; the plan's own, as it was then, where it is left out",
    )


class RepairWish(Model):
    """What a repair may do beyond changes in place."""

    raise_size: bool = Field(
        False, strict=True, description="make the lettering larger if nothing else helps"
    )


class CheckedRequest(StackRequest):
    """Have a stack built and checked."""

    limits: Limits = Field(Limits(), description="in place of the house's own")
    use: SignUse | None = Field(
        None, description="hold the characters against the published standard for signs"
    )


class PlanRequest(CheckedRequest):
    """Have a stack built, checked, nested, planned and proved."""

    search_s: Search = Field(
        0,
        validation_alias=AliasChoices("search", "search_s"),
        description="seconds for layouts that need fewer sheets or less of the last one; 0 for the "
        "quick way. What a search finds is kept: the same request stays the same.",
    )


class CheckRequest(CheckedRequest):
    """Have a stack built and checked, and repaired on request."""

    repair: Annotated[
        RepairWish | None,
        BeforeValidator(switched, json_schema_input_type=bool | RepairWish | None),
    ] = Field(
        None,
        description="apply the remedies of blockers where they are, check again, and answer with "
        "the repaired stack, `repaired_recipe.json` and a picture of the change",
    )
