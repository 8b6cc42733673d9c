"""What a shop has: materials, cutters, machines and stock, with the source of every figure.

In: TOML files and the shop of a request. Out: frozen values, and what may cut what.
"""

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import (
    Beam,
    Catalogue,
    Cutter,
    CutterKind,
    Machine,
    Material,
    MaterialClass,
    Stock,
)
from letterply.catalogue.shop import Shop, resolve_shop

__all__ = [
    "Beam",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "Machine",
    "Material",
    "MaterialClass",
    "Shop",
    "Stock",
    "load_catalogue",
    "resolve_shop",
]
