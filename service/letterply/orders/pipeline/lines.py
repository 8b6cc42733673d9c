"""One line of an order, as a task: a recipe in, layers in the vault, and what the checks say.

Beside the layers there are the frames that help to glue them up, and for a layer of blanks the
board that would hold them: lines on blanks of one kind share it.

Copies of one design are one task: what is made here does not know of line numbers or quantities.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

import shapely

from letterply.catalogue import Catalogue, Shop
from letterply.checks import check_stack
from letterply.exports import findings_document
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.pipeline.answers import (
    BlankAnswer,
    LayerAnswer,
    LineAnswer,
    LineFindings,
    LineLayers,
    PartAnswer,
    StackLayer,
    told_findings,
)
from letterply.orders.pipeline.hidden_faces import hidden_faces
from letterply.orders.pipeline.layer_file import layer_bytes, part_bytes
from letterply.orders.pipeline.marks import letter_names
from letterply.orders.pipeline.task_requests import LineRequest
from letterply.requests import BlankOutline, LayerRecipe, Recipe, parse_recipe
from letterply.shapes import EMPTY, Region
from letterply.stacks import Layer, Stack, build_stack
from letterply.storage import Vault, canonical_json, digest

__all__ = ["layers_of", "make_line"]


def make_line(
    request: LineRequest,
    vault: Vault,
    catalogue: Catalogue,
    shop: Shop,
    library: FontLibrary,
    artworks: ArtworkLibrary,
) -> LineAnswer:
    """Return what a line is made of; its files are in the vault.

    Raises:
        InputError: the recipe cannot be met.

    """
    recipe = parse_recipe(request.recipe)
    # No file of an order tells what repairs changed.
    stack = build_stack(
        recipe, catalogue, library, artworks=artworks, reported=False, measured=shop.measured
    )
    findings = findings_document(check_stack(stack, catalogue, shop))
    told = told_findings(findings)
    left, low, right, high = stack.bounds
    made = layers_of(recipe, stack, vault)
    return LineAnswer(
        layers=made.layers,
        helpers=made.helpers,
        title=stack.title,
        size_mm=(round(right - left, 2), round(high - low, 2), round(stack.height_mm, 2)),
        findings=LineFindings(told.counts, told.told, findings["summary"]),
    )


def layers_of(recipe: Recipe, stack: Stack, vault: Vault) -> LineLayers:
    """Return the layers of a line, and what helps to make it; their parts are in the vault."""
    boards = {la.name: la for la in stack.fixtures}
    held = {la.fixture.board for la in stack.layers if la.fixture is not None}
    frames = [la for la in stack.fixtures if la.name not in held]
    names = letter_names([*stack.layers, *frames])
    hidden = hidden_faces(stack.layers)

    def told(at: int, layer: Layer) -> LayerAnswer:
        count = len(layer.parts)
        faces = [hidden.get((at, n), EMPTY) for n in range(count)]
        return _layer(layer, vault, [names[at, n] for n in range(count)], faces)

    return LineLayers(
        layers=tuple(
            StackLayer.of(told(at, layer), _blank(layer, spec, boards, vault))
            for at, (layer, spec) in enumerate(zip(stack.layers, recipe.layers, strict=True))
        ),
        helpers=tuple(told(at, frame) for at, frame in enumerate(frames, start=len(stack.layers))),
    )


def _blank(
    layer: Layer, spec: LayerRecipe, boards: dict[str, Layer], vault: Vault
) -> BlankAnswer | None:
    """Return how blanks of a layer are held; None for a layer that is cut from stock."""
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
    return BlankAnswer(
        kind=digest(canonical_json(kind)),
        fixture=fixture,
        price=spec.outline.price if isinstance(spec.outline, BlankOutline) else 0.0,
        board=_layer(board, vault, [f"0.{board.name}"], [EMPTY]) if board else None,
    )


def _layer(
    layer: Layer, vault: Vault, names: Sequence[str], hidden: Sequence[Region]
) -> LayerAnswer:
    faces = [shapely.to_wkb(face, hex=True) for face in hidden]
    return LayerAnswer(
        name=layer.name,
        material=layer.material,
        thickness_mm=layer.thickness_mm,
        from_back=layer.from_back,
        file=vault.write(layer_bytes(layer)),
        hidden=vault.write(json.dumps(faces).encode()),
        parts=tuple(
            PartAnswer(
                name=name,
                key=digest(part_bytes(part)),
                letters=part.letters,
                area_mm2=round(part.outline.area, 2),
                size_mm=_size(part.outline),
            )
            for name, part in zip(names, layer.parts, strict=True)
        ),
    )


def _size(outline: shapely.Polygon) -> tuple[float, float]:
    left, low, right, high = outline.bounds
    return round(right - left, 2), round(high - low, 2)
