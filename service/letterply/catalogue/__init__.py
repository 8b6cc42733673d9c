"""What a shop has: materials, cutters, machines and stock, with the source of every figure.

In: TOML files and the shop of a request. Out: frozen values, and what may cut what.
"""

from letterply.catalogue import room
from letterply.catalogue.cautions import bench_cautions, machine_cautions, material_cautions
from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.lying import WAY_IN_MM
from letterply.catalogue.machines import Machine
from letterply.catalogue.measured import NOTHING_MEASURED, Measured
from letterply.catalogue.measured_words import fit_words, measured_words, out_of_flat
from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Material, MaterialClass, Stock
from letterply.catalogue.outlines import Rings, outline_of, rings_of
from letterply.catalogue.power import BEAM_LINE_MM, missing_power, missing_powers, power_for
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
from letterply.catalogue.shop import Shop, resolve_shop
from letterply.catalogue.shop_document import read_shop
from letterply.catalogue.translated import in_language, material_name_in

__all__ = [
    "BEAM_LINE_MM",
    "NOTHING_MEASURED",
    "SKIN_MM",
    "THROUGH_MM",
    "WAY_IN_MM",
    "Catalogue",
    "Cutter",
    "CutterKind",
    "CutterRack",
    "KeptClear",
    "Machine",
    "Material",
    "MaterialClass",
    "Measured",
    "NoRoom",
    "Refusal",
    "Rings",
    "Shop",
    "Stock",
    "Work",
    "bench_cautions",
    "fit_words",
    "in_language",
    "load_catalogue",
    "machine_cautions",
    "material_cautions",
    "material_name_in",
    "measured_words",
    "missing_power",
    "missing_powers",
    "out_of_flat",
    "outline_of",
    "pass_depth",
    "power_for",
    "read_shop",
    "resolve_shop",
    "rings_of",
    "room",
    "sheets_of",
    "through_depth",
    "tip_length",
    "turns_on",
    "why_no_room",
]
