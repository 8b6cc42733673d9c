"""One line of an order, as a task: a recipe in, layers in the vault, and what the checks say.

Copies of one design are one task: what is made here does not know of line numbers or quantities.
"""

from __future__ import annotations

import json
from typing import Any

import shapely

from letterply.catalogue import Catalogue, Shop
from letterply.checks.run import check_stack
from letterply.exports.documents import findings_document
from letterply.exports.picture import png_within, stack_picture
from letterply.lettering import FontShelf
from letterply.lettering.artwork import ArtworkShelf
from letterply.orders.identity import digest
from letterply.orders.work.hidden import hidden_faces
from letterply.orders.work.layer_file import layer_bytes, part_bytes
from letterply.orders.work.marks import letter_names
from letterply.orders.work.vault import Vault
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer
from letterply.stacks.recipe import parse_recipe

__all__ = ["make_line"]

_PICTURE_PX = 1000
_MOST_TOLD = 20


def make_line(
    args: dict[str, Any],
    vault: Vault,
    catalogue: Catalogue,
    shop: Shop,
    shelf: FontShelf,
    artworks: ArtworkShelf,
) -> dict[str, Any]:
    """Return what a line is made of, as JSON values; its files are in the vault.

    Raises:
        InputError: the recipe cannot be met.

    """
    recipe = parse_recipe(args["recipe"])
    stack = build_stack(recipe, catalogue, shelf, artworks=artworks)
    findings = findings_document(check_stack(stack, catalogue, shop))
    names = letter_names(stack.layers)
    hidden = hidden_faces(stack.layers)
    left, low, right, high = stack.bounds
    return {
        "title": stack.title,
        "size_mm": [round(right - left, 2), round(high - low, 2), round(stack.height_mm, 2)],
        "layers": [
            _layer(at, layer, vault, names, hidden) for at, layer in enumerate(stack.layers)
        ],
        "findings": {
            "summary": findings["summary"],
            "counts": findings["counts"],
            "told": [
                {k: f[k] for k in ("code", "severity", "layer", "part", "why") if k in f}
                for f in findings["findings"]
                if f["severity"] != "note"
            ][:_MOST_TOLD],
        },
        "exploded": vault.write(
            png_within(stack_picture(stack, catalogue, exploded=True), _PICTURE_PX)
        ),
        "together": vault.write(
            png_within(stack_picture(stack, catalogue, exploded=False), _PICTURE_PX)
        ),
    }


def _layer(
    at: int,
    layer: Layer,
    vault: Vault,
    names: dict[tuple[int, int], str],
    hidden: dict[tuple[int, int], Any],
) -> dict[str, Any]:
    faces = [shapely.to_wkb(hidden[at, n], hex=True) for n in range(len(layer.parts))]
    return {
        "name": layer.name,
        "material": layer.material,
        "thickness_mm": layer.thickness_mm,
        "from_back": layer.from_back,
        "file": vault.write(layer_bytes(layer)),
        "hidden": vault.write(json.dumps(faces).encode()),
        "parts": [
            {
                "name": names[at, n],
                "key": digest(part_bytes(part)),
                "letters": part.letters,
                "area_mm2": round(part.outline.area, 2),
                "size_mm": _size(part.outline),
            }
            for n, part in enumerate(layer.parts)
        ],
    }


def _size(outline: shapely.Polygon) -> list[float]:
    left, low, right, high = outline.bounds
    return [round(right - left, 2), round(high - low, 2)]
