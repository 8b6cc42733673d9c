"""What strengthening costs either way: a stack with strengthened outlines in, figures out.

The maker chooses: growth that fades out along each stroke (`taper`), or the whole lettering made
heavier alike (`even`). Both are built; the dearer one is not guessed. Values only, lengths mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from letterply.errors import LetterplyError
from letterply.names import layer_words
from letterply.requests import LetteringOutline, Recipe
from letterply.shapes import Region, offset
from letterply.stacks import Stack, move_words
from letterply.units import counted, format_area

__all__ = ["WAYS", "LayerWays", "WayCost", "cost_words", "ways_document", "ways_of"]

WAYS = ("taper", "even")
_NAMES = {"taper": "growth that fades out", "even": "growth that is even"}

_ABOUT = 0.02
"""How exactly the area of gaps is taken, mm: it is told in whole percent."""


@dataclass(frozen=True, slots=True)
class WayCost:
    """What one way of strengthening costs a layer.

    Attributes:
        along_mm: how far the outline moves out along strokes.
        crotches_mm: how deep the old outline is buried, where strokes meet and gaps close.
        area_added_mm2: how much material is added.
        counters, counters_before: how many counters are open, and were.
        gaps_closed: share of the area of gaps and counters that closes, 0 to 1; a gap is what is
            no wider than two strokes of the limit.

    """

    along_mm: float
    crotches_mm: float
    area_added_mm2: float
    counters: int
    counters_before: int
    gaps_closed: float


@dataclass(frozen=True, slots=True)
class LayerWays:
    """Both ways of strengthening a layer.

    Attributes:
        layer: its name.
        chosen: the way that the recipe has.
        costs: way -> its cost, or why it cannot be made.

    """

    layer: str
    chosen: str
    costs: dict[str, WayCost | str]

    @property
    def adds_less(self) -> str | None:
        """The way that adds less, None where neither can be made."""
        made = {way: c.area_added_mm2 for way, c in self.costs.items() if isinstance(c, WayCost)}
        return min(made, key=made.__getitem__) if made else None


def ways_of(
    recipe: Recipe, stack: Stack, build: Callable[[Recipe], Stack]
) -> tuple[LayerWays, ...]:
    """Return both ways of every layer that was strengthened, in the order of the layers.

    Args:
        recipe: with the wish to strengthen.
        stack: built from it.
        build: makes a stack of a recipe.

    """
    strong = {
        spec.name: spec.outline.strengthen.way
        for spec in recipe.layers
        if isinstance(spec.outline, LetteringOutline) and spec.outline.strengthen is not None
    }
    changed = [
        la.name
        for la in stack.layers
        if la.name in strong
        and la.repair is not None
        and any(r.kind == "strengthen" for r in la.repair.places)
    ]
    if not changed:
        return ()
    # One further stack shows the other way of every layer.
    other: Stack | str
    try:
        other = build(_turned(recipe))
    except LetterplyError as exc:
        other = exc.message
    return tuple(
        LayerWays(
            name,
            strong[name],
            {way: _cost(stack if way == strong[name] else other, name) for way in WAYS},
        )
        for name in changed
    )


def _turned(recipe: Recipe) -> Recipe:
    """Return the recipe with the other way of strengthening wherever one is named."""
    layers = []
    for spec in recipe.layers:
        outline = spec.outline
        if isinstance(outline, LetteringOutline) and outline.strengthen is not None:
            way = next(w for w in WAYS if w != outline.strengthen.way)
            wish = outline.strengthen.model_copy(update={"way": way})
            spec = spec.model_copy(
                update={"outline": outline.model_copy(update={"strengthen": wish})}
            )
        layers.append(spec)
    return recipe.model_copy(update={"layers": layers})


def _cost(stack: Stack | str, name: str) -> WayCost | str:
    if isinstance(stack, str):
        return stack
    layer = stack.layer(name)
    report = layer.repair
    assert report is not None  # what is thin is so either way
    limit = max(r.now_mm or 0.0 for r in report.places if r.kind == "strengthen")
    before, after = report.before, layer.footprint
    gaps = shapely.difference(offset(offset(before, limit, _ABOUT), -limit, _ABOUT), before)
    closed = float(shapely.intersection(gaps, after).area)
    return WayCost(
        along_mm=report.along_mm,
        crotches_mm=report.crotches_mm,
        area_added_mm2=report.area_added_mm2,
        counters=_counters(after),
        counters_before=_counters(before),
        gaps_closed=closed / gaps.area if gaps.area > 0 else 0.0,
    )


def _counters(region: Region) -> int:
    return sum(len(piece.interiors) for piece in region.geoms)


def cost_words(ways: LayerWays) -> str:
    """Say what both ways cost, the chosen one first."""
    said = []
    for way in (ways.chosen, *(w for w in WAYS if w != ways.chosen)):
        cost = ways.costs[way]
        name = _NAMES[way]
        if isinstance(cost, str):
            said.append(f"{name} cannot be made: {cost.rstrip('.')}")
            continue
        lost = cost.counters_before - cost.counters
        shut = f", {counted(lost, 'counter')} fewer" if lost > 0 else ""
        said.append(
            f"{name} moves the outline by {move_words(cost.along_mm, cost.crotches_mm)}, adds "
            f"{format_area(cost.area_added_mm2, 0)} and closes "
            f"{100 * cost.gaps_closed:.0f} % of the gaps{shut}"
        )
    return f"Thin places of {layer_words(ways.layer)}: {'; '.join(said)}."


def ways_document(every: Sequence[LayerWays]) -> dict[str, Any]:
    """Return both ways of every strengthened layer as plain values, name of the layer -> ways."""
    return {
        each.layer: {
            "way": each.chosen,
            "adds_less": each.adds_less,
            "text": cost_words(each),
            "costs": {way: _plain(cost) for way, cost in each.costs.items()},
        }
        for each in every
    }


def _plain(cost: WayCost | str) -> dict[str, Any]:
    if isinstance(cost, str):
        return {"why_not": cost}
    return {
        "move_along_strokes_mm": round(cost.along_mm, 3),
        "move_where_strokes_meet_mm": round(cost.crotches_mm, 3),
        "area_added_mm2": round(cost.area_added_mm2, 2),
        "counters": cost.counters,
        "counters_before": cost.counters_before,
        "gaps_closed": round(cost.gaps_closed, 3),
    }
