"""What a shop has: materials, cutters, machines, stock and their sources."""

from letterply.catalogue.cautions import bench_cautions, machine_cautions, material_cautions
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import (
    Catalogue,
    Cutter,
    CutterKind,
    Machine,
    Material,
    MaterialClass,
    Stock,
)
from letterply.catalogue.power import (
    BEAM_LINE_MM,
    BeamPower,
    missing_power,
    missing_powers,
    power_for,
)
from letterply.catalogue.rack import (
    SKIN_MM,
    THROUGH_MM,
    CutterRack,
    Refusal,
    Work,
    pass_depth,
    through_depth,
    tip_length,
)
from letterply.catalogue.room import NoRoom, sheets_of, turns_on, why_no_room
from letterply.catalogue.shop import Entry, HoldDown, OwnFeeds, Shop, TabShape, resolve_shop
from letterply.catalogue.sources import OWN, Source

__all__ = [
    "BEAM_LINE_MM",
    "OWN",
    "SKIN_MM",
    "THROUGH_MM",
    "BeamPower",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "CutterRack",
    "Entry",
    "HoldDown",
    "Machine",
    "Material",
    "MaterialClass",
    "NoRoom",
    "OwnFeeds",
    "Refusal",
    "Shop",
    "Source",
    "Stock",
    "TabShape",
    "Work",
    "bench_cautions",
    "load_catalogue",
    "machine_cautions",
    "material_cautions",
    "missing_power",
    "missing_powers",
    "pass_depth",
    "power_for",
    "resolve_shop",
    "sheets_of",
    "through_depth",
    "tip_length",
    "turns_on",
    "why_no_room",
]
