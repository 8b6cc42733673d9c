"""Names of what is shipped, in other languages: a catalogue in, the same under other names out.

A name that a shop or an operator wrote is theirs in every language.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import TypeVar

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Catalogue, Cutter, Material
from letterply.memo import FoundAgain

__all__ = ["NAMED_IN", "in_language", "material_name_in"]

_Named = TypeVar("_Named", Material, Cutter, Machine)

NAMED_IN = ("de",)
"""Languages beside English that names are there in."""

_renamed: FoundAgain[Catalogue] = FoundAgain(16)


def in_language(catalogue: Catalogue, language: str | None) -> Catalogue:
    """Return a catalogue under the names of a language; as it is for one that has none.

    >>> in_language(load_catalogue(), "de").materials["birch-plywood"].name
    'Birkensperrholz'

    """
    if language not in NAMED_IN:
        return catalogue
    return _renamed.get((catalogue,), language, lambda: _under_names(catalogue, language))


def _under_names(catalogue: Catalogue, language: str) -> Catalogue:
    names, shipped = _names()[language], _shipped()

    def renamed(
        values: Mapping[str, _Named], kind: str, theirs: Mapping[str, _Named]
    ) -> dict[str, _Named]:
        def name(key: str, value: _Named) -> str:
            same = key in theirs and theirs[key].name == value.name
            return names[kind].get(key, value.name) if same else value.name

        return {key: replace(value, name=name(key, value)) for key, value in values.items()}

    return replace(
        catalogue,
        materials=MappingProxyType(renamed(catalogue.materials, "materials", shipped.materials)),
        cutters=MappingProxyType(renamed(catalogue.cutters, "cutters", shipped.cutters)),
        machines=MappingProxyType(renamed(catalogue.machines, "machines", shipped.machines)),
    )


def material_name_in(language: str, name: str) -> str:
    """Return the name of a shipped material in a language; every other name as it is.

    >>> material_name_in("de", "Cast acrylic"), material_name_in("de", "Old oak")
    ('Acrylglas, gegossen', 'Old oak')

    """
    return _materials(language).get(name, name)


@cache
def _materials(language: str) -> dict[str, str]:
    if language not in NAMED_IN:
        return {}
    names = _names()[language]["materials"]
    return {_shipped().materials[key].name: name for key, name in names.items()}


@cache
def _shipped() -> Catalogue:
    return load_catalogue()


@cache
def _names() -> dict[str, dict[str, dict[str, str]]]:
    text = files("letterply.catalogue").joinpath("data", "names.toml").read_text("utf-8")
    found: dict[str, dict[str, dict[str, str]]] = tomllib.loads(text)
    return found
