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

__all__ = [
    "Beam",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "Machine",
    "Material",
    "MaterialClass",
    "Source",
    "Stock",
    "load_catalogue",
    "stock_from_table",
]
