"""A search for tighter sheets is asked for with a plan, and what it found is kept."""

from __future__ import annotations

from typing import Any

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.jobs import plans
from letterply.jobs.run import normalise_request
from letterply.jobs.shared_answers import SharedAnswers
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.sheets import Nesting
from letterply.stacks.build import build_stack

RECIPE: dict[str, Any] = {
    "title": "Plover",
    "lettering": {"text": "I", "font": "zilla-slab-bold", "size": {"cap_height": 14}},
    "layers": [
        {"name": "face", "material": "acrylic-cast", "thickness": 3,
         "outline": {"kind": "lettering"}},
    ],
    "copies": 2,
}  # fmt: skip


def test_a_plan_may_ask_for_a_search_and_nothing_else_may() -> None:
    asked = {"recipe": RECIPE, "search": 30}
    assert normalise_request("plan", asked)["search_s"] == 30
    again = normalise_request("plan", normalise_request("plan", asked))
    assert again == normalise_request("plan", asked)
    assert "search_s" not in normalise_request("plan", {"recipe": RECIPE})
    with pytest.raises(InputError):
        normalise_request("check", asked)
    with pytest.raises(InputError):
        normalise_request("plan", asked | {"search": 601})


def test_where_a_search_laid_parts_is_kept(tmp_path: Any, monkeypatch: Any) -> None:
    asked = []

    def counted(*args: Any, **more: Any) -> Nesting:
        asked.append(more["search_seconds"])
        return nest(*args, **more | {"search_seconds": 0})

    nest = plans.nest
    monkeypatch.setattr(plans, "nest", counted)
    catalogue = load_catalogue()
    stack = build_stack(parse_recipe(RECIPE), catalogue, FontLibrary())
    shop = resolve_shop({"machine": "bench-router"}, catalogue)
    shared = SharedAnswers(str(tmp_path))
    first, second = (
        plans.make_plans(stack, shop, catalogue, shared=shared, search_s=3) for _ in range(2)
    )
    assert asked == [3]
    assert [p.programs for p in first.plans] == [p.programs for p in second.plans]
