"""One line of an order, as a task: a recipe in, layers in the vault, and what the checks say.

Beside the layers there are the frames that help to glue them up, and for a layer of blanks the
board that would hold them: lines on blanks of one kind share it.

Copies of one design are one task: what is made here does not know of line numbers or quantities.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import shapely

from letterply.catalogue import Catalogue, Shop
from letterply.checks import check_stack
from letterply.exports import LINE_PX, findings_document, png_within, stack_picture
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.pipeline.hidden_faces import hidden_faces
from letterply.orders.pipeline.layer_file import layer_bytes, part_bytes
from letterply.orders.pipeline.marks import letter_names
from letterply.requests import BlankOutline, LayerRecipe, Recipe, parse_recipe
from letterply.shapes import EMPTY, Region
from letterply.stacks import Layer, Stack, build_stack
from letterply.storage import Vault, canonical_json, digest

__all__ = ["layers_of", "make_line"]

_MOST_TOLD = 20


def make_line(
    args: dict[str, Any],
    vault: Vault,
    catalogue: Catalogue,
    shop: Shop,
    library: FontLibrary,
    artworks: ArtworkLibrary,
) -> dict[str, Any]:
    """Return what a line is made of, as JSON values; its files are in the vault.

    Raises:
        InputError: the recipe cannot be met.

    """
    recipe = parse_recipe(args["recipe"])
    stack = build_stack(recipe, catalogue, library, artworks=artworks)
    findings = findings_document(check_stack(stack, catalogue, shop))
    left, low, right, high = stack.bounds
    return {
        "title": stack.title,
        "size_mm": [round(right - left, 2), round(high - low, 2), round(stack.height_mm, 2)],
        **layers_of(recipe, stack, vault),
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
            png_within(stack_picture(stack, catalogue, exploded=True), LINE_PX)
        ),
        "together": vault.write(
            png_within(stack_picture(stack, catalogue, exploded=False), LINE_PX)
        ),
    }


def layers_of(recipe: Recipe, stack: Stack, vault: Vault) -> dict[str, Any]:
    """Return the layers of a line, and what helps to make it; their parts are in the vault."""
    boards = {la.name: la for la in stack.fixtures}
    held = {la.fixture.board for la in stack.layers if la.fixture is not None}
    frames = [la for la in stack.fixtures if la.name not in held]
    names = letter_names([*stack.layers, *frames])
    hidden = hidden_faces(stack.layers)

    def told(at: int, layer: Layer) -> dict[str, Any]:
        count = len(layer.parts)
        faces = [hidden.get((at, n), EMPTY) for n in range(count)]
        return _layer(layer, vault, [names[at, n] for n in range(count)], faces)

    return {
        "layers": [
            {**told(at, layer), "blank": _blank(layer, spec, boards, vault)}
            for at, (layer, spec) in enumerate(zip(stack.layers, recipe.layers, strict=True))
        ],
        "helpers": [told(at, frame) for at, frame in enumerate(frames, start=len(stack.layers))],
    }


def _blank(
    layer: Layer, spec: LayerRecipe, boards: dict[str, Layer], vault: Vault
) -> dict[str, Any] | None:
    """Return how blanks of a layer are held; None for a layer that is cut from stock.

    Blanks of one `kind` fit the same fixture, whatever is worked into them.
    """
    fixture = layer.fixture
    if fixture is None:
        return None
    kind = {
        "outline": spec.outline.model_dump(mode="json"),
        "layer": layer.name,
        "material": layer.material,
        "thickness_mm": layer.thickness_mm,
        "from_back": layer.from_back,
    }
    board = boards.get(fixture.board)
    return {
        "kind": digest(canonical_json(kind)),
        "fixture": asdict(fixture),
        "price": spec.outline.price if isinstance(spec.outline, BlankOutline) else 0.0,
        "board": _layer(board, vault, [f"0.{board.name}"], [EMPTY]) if board else None,
    }


def _layer(
    layer: Layer, vault: Vault, names: Sequence[str], hidden: Sequence[Region]
) -> dict[str, Any]:
    faces = [shapely.to_wkb(face, hex=True) for face in hidden]
    return {
        "name": layer.name,
        "material": layer.material,
        "thickness_mm": layer.thickness_mm,
        "from_back": layer.from_back,
        "file": vault.write(layer_bytes(layer)),
        "hidden": vault.write(json.dumps(faces).encode()),
        "parts": [
            {
                "name": name,
                "key": digest(part_bytes(part)),
                "letters": part.letters,
                "area_mm2": round(part.outline.area, 2),
                "size_mm": _size(part.outline),
            }
            for name, part in zip(names, layer.parts, strict=True)
        ],
    }


def _size(outline: shapely.Polygon) -> list[float]:
    left, low, right, high = outline.bounds
    return [round(right - left, 2), round(high - low, 2)]
