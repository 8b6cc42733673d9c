"""A shop: the machine, cutters, stock and habits that one request uses, found in the catalogue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as _field
from typing import Any

from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.lying import beside_mm, lie_on_bed
from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Stock
from letterply.catalogue.power import check_powers
from letterply.errors import InputError, UnknownName
from letterply.requests import (
    DETAIL_MM,
    BeamPower,
    EntryKind,
    HoldDown,
    OwnFeeds,
    ShopRequest,
    StockSheet,
    TabShape,
    read_request,
)
from letterply.units import decimal_text

__all__ = ["Shop", "resolve_shop"]


@dataclass(frozen=True, slots=True)
class Shop:
    """What a job may use.

    Attributes:
        machine: the machine.
        cutters: the rack, sorted by key.
        stock: the sheets, offcuts first, then by key.
        hold_down: how parts are held.
        feeds: cutter key -> the maker's own figures.
        finish_mm: what the last pass round an outline takes off its walls; 0 for none.
        entry: how a cutter goes down at an outline.
        tab_shape: what tabs look like.
        groove_passes: 2 to carve grooves twice over, the second time taking a last thin layer.
        use_counters: whether small parts may be cut out of the counters of larger ones.
        detail_mm: how deep an inside corner may stay round.
        power: a maker's own figures for a beam, a sheet each.

    """

    machine: Machine
    cutters: tuple[Cutter, ...]
    stock: tuple[Stock, ...]
    hold_down: HoldDown = HoldDown.TABS
    feeds: Mapping[str, OwnFeeds] = _field(default_factory=dict, hash=False)
    finish_mm: float = 0.0
    entry: EntryKind = EntryKind.HELIX
    tab_shape: TabShape = TabShape.FLAT
    groove_passes: int = 1
    use_counters: bool = False
    detail_mm: float = DETAIL_MM
    power: tuple[BeamPower, ...] = ()


def resolve_shop(
    wish: ShopRequest | Mapping[str, Any] | None, catalogue: Catalogue, *, field: str = "shop"
) -> Shop:
    """Return the shop that a request describes.

    Raises:
        InputError: `bad-shop`, `unknown-choice`, `out-of-range` and as `read_request`;
            `UnknownName` for a name that is not there.

    """
    if not isinstance(wish, ShopRequest):
        wish = read_request(ShopRequest, {} if wish is None else wish, field=field)
    machine = catalogue.machine(wish.machine, field=f"{field}.machine")
    cutters = _cutters(wish, catalogue, f"{field}.cutters")
    stock = _stock(wish, catalogue, f"{field}.stock")
    return Shop(
        machine=machine,
        cutters=cutters,
        stock=_on_bed(stock, machine, cutters, catalogue),
        hold_down=_hold_down(wish.hold_down, machine, f"{field}.hold_down"),
        feeds=_feeds(wish.feeds, catalogue, machine, f"{field}.feeds"),
        finish_mm=wish.finish_mm,
        entry=wish.entry,
        tab_shape=wish.tab_shape,
        groove_passes=wish.groove_passes,
        use_counters=wish.use_counters,
        detail_mm=wish.detail_mm,
        power=check_powers(wish.power, catalogue, machine, f"{field}.power"),
    )


def _hold_down(wish: HoldDown | None, machine: Machine, field: str) -> HoldDown:
    beam = machine.kind == "beam"
    if wish is None:
        return HoldDown.BED if beam else HoldDown.TABS
    if (wish is HoldDown.BED) != beam:
        raise InputError(
            f"The machine {machine.name!r} does not hold parts by '{wish}'.",
            code="unknown-choice",
            field=field,
            expected="bed" if beam else "tabs, tape, skin",
        )
    return wish


def _feeds(
    wish: Mapping[str, OwnFeeds], catalogue: Catalogue, machine: Machine, field: str
) -> Mapping[str, OwnFeeds]:
    bears = {
        "spindle": ("spindle_rpm", machine.spindle_max_rpm),
        "feed": ("feed_mm_per_min", machine.max_feed_mm_per_min),
        "plunge": ("plunge_mm_per_min", machine.max_plunge_mm_per_min),
        "depth_per_pass": ("depth_per_pass_mm", machine.z_travel_mm),
    }
    for key, figures in wish.items():
        if catalogue.cutter(key, field=f"{field}.{key}").kind is CutterKind.BEAM:
            raise InputError(
                "The figures of a beam stand under 'power', one entry for each kind of sheet.",
                code="bad-shop",
                field=f"{field}.{key}",
                expected="power: a list of entries with material, thickness, cut, feed, passes",
            )
        for name, (attribute, most) in bears.items():
            figure = getattr(figures, attribute)
            if figure is not None and figure > most:
                raise InputError(
                    f"'{name}' is {decimal_text(figure, 1)}, more than {machine.name!r} does.",
                    code="out-of-range",
                    field=f"{field}.{key}.{name}",
                    expected=f"at most {most:g}",
                )
    return wish


def _cutters(wish: ShopRequest, catalogue: Catalogue, field: str) -> tuple[Cutter, ...]:
    if wish.cutters is None:
        return tuple(c for _, c in sorted(catalogue.cutters.items()))
    found = {n: catalogue.cutter(n, field=f"{field}.{i}") for i, n in enumerate(wish.cutters)}
    return tuple(c for _, c in sorted(found.items()))


def _stock(wish: ShopRequest, catalogue: Catalogue, field: str) -> tuple[Stock, ...]:
    found = list(catalogue.stock.values()) if wish.stock is None else []
    for number, entry in enumerate(wish.stock or ()):
        where = f"{field}.{number}"
        if isinstance(entry, StockSheet):
            catalogue.material(entry.material, field=f"{where}.material")
            found.append(_sheet(entry, number, where))
        elif entry in catalogue.stock:
            found.append(catalogue.stock[entry])
        else:
            raise UnknownName("stock", entry, tuple(catalogue.stock), field=where)
    return tuple(sorted(found, key=lambda s: (not s.offcut, s.key)))


def _sheet(sheet: StockSheet, number: int, field: str) -> Stock:
    figures = sheet.model_dump(by_alias=False, exclude={"keep_clear"})
    places = tuple(
        KeptClear(**k.model_dump(by_alias=False, exclude_none=True)) for k in sheet.keep_clear
    )
    key = sheet.key or f"sheet-{number + 1}"
    try:
        return Stock(**{**figures, "key": key, "keep_clear": places})
    except ValueError as exc:
        raise InputError(
            f"The sheet does not make sense: {exc}.",
            code="bad-shop",
            field=field,
            expected="a size larger than its margins",
        ) from exc


def _on_bed(
    stock: Sequence[Stock], machine: Machine, cutters: Sequence[Cutter], catalogue: Catalogue
) -> tuple[Stock, ...]:
    sheets = [(catalogue.material(s.material), s.thickness_mm) for s in stock]
    around = beside_mm(machine, cutters, sheets)
    return tuple(lie_on_bed(s, machine.bed_mm, around) for s in stock)
