"""What can be refused without geometry: names, and letters that a font lacks. Runs in a worker.

A job that has to wait for a worker is looked at first, so that a typo is told at once and not
after the wait. A job that can begin at once says the same itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from letterply.catalogue import Catalogue, resolve_shop
from letterply.jobs.resources import Resources
from letterply.jobs.run import read_job
from letterply.lettering import FontLibrary, shipped_faces
from letterply.pieces import design_piece
from letterply.requests import (
    LetteringRecipe,
    PieceRequest,
    SizeSpec,
    StackRequest,
    StraightBaseline,
    SurveyRequest,
)
from letterply.stacks import measure_recipe_lettering
from letterply.units import speaking

__all__ = ["names_strangers", "refuse_strangers", "vet_job"]

_ANY_SIZE = {"size": SizeSpec(em=10.0), "baseline": StraightBaseline()}
"""Names and letters are the same at any size and on any baseline."""


def names_strangers(request: Mapping[str, Any], resources: Resources) -> bool:
    """Tell whether a request in normal form names a font, material or machine that is not there.

    In no time, and in any process: no font is opened. What to say of it is left to those below.
    """
    catalogue = resources.catalogue()
    known: dict[str, tuple[Mapping[str, object], ...]] = {
        "font": (shipped_faces(), resources.font_files),
        "material": (catalogue.materials,),
        "machine": (catalogue.machines,),
    }
    waiting: list[object] = [request]
    while waiting:
        inside = waiting.pop()
        if isinstance(inside, list):
            waiting += inside
        elif isinstance(inside, dict):
            for name, value in inside.items():
                if name in known and isinstance(value, str):
                    if not any(value in names for names in known[name]):
                        return True
                else:
                    waiting.append(value)
    return False


def refuse_strangers(kind: str, request: Mapping[str, Any], resources: Resources) -> bool:
    """Refuse what `vet_job` would refuse before it opened a font, in any process.

    Returns whether there is a name that is not there all the same, for `vet_job` to tell of.

    Raises:
        InputError: as `vet_job`.

    """
    if not names_strangers(request, resources):
        return False
    asked = read_job(kind, request)
    if isinstance(asked, StackRequest):
        with speaking(asked.shop.units if asked.shop is not None else "mm"):
            _vet_names(asked, resources.catalogue())
        field, words = next(_letterings(asked.recipe, "recipe"), ("", None))
        fonts = (shipped_faces(), resources.font_files)
        if words is not None and not any(words.font in known for known in fonts):
            resources.fonts().load(words.font, field=f"{field}.font")
    return True


def vet_job(kind: str, request: Mapping[str, Any], resources: Resources) -> None:
    """Refuse a request for names that are not known, or letters that a font lacks.

    Raises:
        InputError: as the job would, naming the field.

    """
    asked = read_job(kind, request)
    with speaking(asked.shop.units if asked.shop is not None else "mm"):
        _vet(asked, resources)


def _vet(asked: StackRequest | SurveyRequest | PieceRequest, resources: Resources) -> None:
    catalogue, library = resources.catalogue(), resources.fonts()
    if isinstance(asked, SurveyRequest):
        _vet_survey(asked, catalogue, library)
        return
    if isinstance(asked, PieceRequest):
        design_piece(asked, resolve_shop(asked.shop, catalogue), catalogue)
        return
    _vet_names(asked, catalogue)
    for field, words in _letterings(asked.recipe, "recipe"):
        measure_recipe_lettering(words.model_copy(update=_ANY_SIZE), library, field)


def _vet_names(asked: StackRequest, catalogue: Catalogue) -> None:
    resolve_shop(asked.shop, catalogue)
    for number, layer in enumerate(asked.recipe.layers):
        catalogue.material(layer.material, field=f"recipe.layers.{number}.material")


def _vet_survey(asked: SurveyRequest, catalogue: Catalogue, library: FontLibrary) -> None:
    catalogue.material(asked.material, field="material")
    for number, key in enumerate(asked.cutters or ()):
        catalogue.cutter(key, field=f"cutters.{number}")
    library.load(asked.font, field="font").at(asked.axes, field="axes")
    for number, key in enumerate(asked.compare):
        library.load(key, field=f"compare.{number}")


def _letterings(model: BaseModel, field: str) -> Iterator[tuple[str, LetteringRecipe]]:
    """Yield every lettering below a model with the name of its field."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        many = isinstance(value, list | tuple)
        for number, item in enumerate(value if many else (value,)):
            where = f"{field}.{name}.{number}" if many else f"{field}.{name}"
            if isinstance(item, LetteringRecipe):
                yield where, item
            elif isinstance(item, BaseModel):
                yield from _letterings(item, where)
