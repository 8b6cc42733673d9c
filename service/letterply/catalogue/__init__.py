"""What a shop has: materials, cutters, machines, stock and their sources."""

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
from letterply.catalogue.shop import Entry, HoldDown, OwnFeeds, Shop, TabShape, resolve_shop

__all__ = [
    "Beam",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "Entry",
    "HoldDown",
    "Machine",
    "Material",
    "MaterialClass",
    "OwnFeeds",
    "Shop",
    "Stock",
    "TabShape",
    "load_catalogue",
    "resolve_shop",
]
