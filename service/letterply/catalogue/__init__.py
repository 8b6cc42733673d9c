"""What a shop has: materials, cutters, machines, stock and their sources."""

from letterply.catalogue.loading import load_catalogue, stock_from_table
from letterply.catalogue.model import (
    Beam,
    Catalogue,
    Cutter,
    CutterKind,
    Machine,
    Material,
    MaterialClass,
    Source,
    Stock,
)
from letterply.catalogue.shop import HoldDown, OwnFeeds, Shop, resolve_shop

__all__ = [
    "Beam",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "HoldDown",
    "Machine",
    "Material",
    "MaterialClass",
    "OwnFeeds",
    "Shop",
    "Source",
    "Stock",
    "load_catalogue",
    "resolve_shop",
    "stock_from_table",
]
