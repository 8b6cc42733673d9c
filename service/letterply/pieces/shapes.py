"""Words of recipes that test pieces are made of: plates, drawings of rectangles, scraps to work on.

All mm; a place is told from the middle of the layer.
"""

from __future__ import annotations

from typing import Any

from letterply.requests import parse_recipe

__all__ = ["LETTERS", "board", "drawn", "layer", "recipe_of", "rectangle", "scrap"]

LETTERS = "ABCDEFGHIJKL"

_ANY_CORNER_MM = 20.0
"""Corners of a test piece may stay as round as its cutter leaves them."""

_SAFE_MM = 3.0


def _svg(width_mm: float, height_mm: float, inner: str) -> str:
    size = f'width="{width_mm:.4f}mm" height="{height_mm:.4f}mm"'
    box = f'viewBox="0 0 {width_mm:.4f} {height_mm:.4f}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>{inner}</svg>'


def rectangle(width_mm: float, height_mm: float, corner_mm: float = 0.0) -> dict[str, Any]:
    """Return the drawing of a rectangle, its corners round by a radius."""
    shape = f'<rect width="{width_mm:.4f}" height="{height_mm:.4f}" rx="{corner_mm:.4f}"/>'
    return {"svg": _svg(width_mm, height_mm, shape)}


def board(width_mm: float, height_mm: float, cut_mm: float) -> dict[str, Any]:
    """Return the drawing of a board whose lower left corner is cut off: the ladder begins there."""
    low, cut = f"{height_mm:.4f}", f"{height_mm - cut_mm:.4f}"
    path = f"M0 0H{width_mm:.4f}V{low}H{cut_mm:.4f}L0 {cut}Z"
    return {"svg": _svg(width_mm, height_mm, f'<path d="{path}"/>')}


def drawn(artwork: dict[str, Any], work: str, at: tuple[float, float], **more: Any) -> Any:
    """Return the feature that works a drawing at a place of a layer."""
    place = {"anchor": "centre", "x": round(at[0], 4), "y": round(at[1], 4)}
    return {"kind": "artwork", "artwork": artwork, "work": work, "place": place, **more}


def layer(
    name: str, material: str, thickness_mm: float, outline: dict[str, Any], *features: Any
) -> dict[str, Any]:
    """Return a layer."""
    return {
        "name": name,
        "material": material,
        "thickness": thickness_mm,
        "outline": outline,
        "features": list(features),
        "detail": _ANY_CORNER_MM,
    }


def scrap(width_mm: float, height_mm: float) -> dict[str, Any]:
    """Return the outline of a piece that is there already, held by the maker's own means."""
    return {
        "kind": "blank",
        "shape": "rectangle",
        "width": round(width_mm, 4),
        "height": round(height_mm, 4),
        "safe_margin": _SAFE_MM,
        "fixture": None,
    }


def recipe_of(title: str, *layers: dict[str, Any]) -> dict[str, Any]:
    """Return the recipe of a test piece, in normal form."""
    return parse_recipe({"title": title, "layers": list(layers)}).model_dump(mode="json")
