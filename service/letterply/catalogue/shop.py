"""A shop: the machine, cutters, stock and habits that one request uses, found in the catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as _field
from typing import Any

from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.lying import beside_mm, lie_on_bed
from letterply.catalogue.machines import Machine
from letterply.catalogue.measured import NOTHING_MEASURED, Measured
from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Stock
from letterply.catalogue.power import check_powers
from letterply.errors import InputError, Mistakes, UnknownName
from letterply.requests import (
    DETAIL_MM,
    BeamPower,
    EntryKind,
    HoldDown,
    NamedShop,
    OwnFeeds,
    ShopRequest,
    StockSheet,
    TabShape,
    read_request,
)
from letterply.units import format_feed, format_mm

__all__ = ["Shop", "resolve_shop", "vet_shop"]


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
        units: in which papers, pictures and sentences speak: `mm` or `inch`.
        cautions: its own sentences.
        feeds_in: material key -> cutter key -> the maker's own figures in it.
        measured: fits, thicknesses and lines that were measured.
        name, version: of a shop that is stored; empty for one that was only told.

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
    units: str = "mm"
    cautions: tuple[str, ...] = ()
    feeds_in: Mapping[str, Mapping[str, OwnFeeds]] = _field(default_factory=dict, hash=False)
    measured: Measured = NOTHING_MEASURED
    name: str = ""
    version: str = ""

    def feeds_for(self, material: str) -> Mapping[str, OwnFeeds]:
        """Return the maker's own figures in a material, by cutter key."""
        return {**self.feeds, **self.feeds_in.get(material, {})}

    @property
    def called(self) -> str:
        """Name and version in words, as programs and papers say it; empty for one without."""
        return f"{self.name}, version {self.version[:8]}" if self.version else ""


def resolve_shop(
    wish: ShopRequest | Mapping[str, Any] | None, catalogue: Catalogue, *, field: str = "shop"
) -> Shop:
    """Return the shop that a request describes.

    Raises:
        InputError: `bad-shop`, `unknown-choice`, `out-of-range` and as `read_request`;
            `UnknownName` for a name that is not there; all mistakes in its data where there are
            more.

    """
    if not isinstance(wish, ShopRequest):
        wish = read_request(NamedShop, {} if wish is None else wish, field=field)
    mistakes = Mistakes()
    shop = vet_shop(wish, catalogue, mistakes, field)
    mistakes.raise_any()
    assert shop is not None  # without a mistake
    return shop


def vet_shop(
    wish: ShopRequest, catalogue: Catalogue, mistakes: Mistakes, field: str
) -> Shop | None:
    """Return the shop, or None where there is a mistake; each is noted."""
    trying = mistakes.trying
    before = len(mistakes.found)
    machine = trying(catalogue.machine, wish.machine, field=f"{field}.machine")
    cutters = _cutters(wish, catalogue, mistakes, f"{field}.cutters")
    stock = _stock(wish, catalogue, mistakes, f"{field}.stock")
    if machine is None:
        return None
    hold_down = trying(_hold_down, wish.hold_down, machine, f"{field}.hold_down")
    feeds = _feeds(wish.feeds, catalogue, machine, mistakes, f"{field}.feeds")
    for key, own in wish.feeds_in.items():
        where = f"{field}.feeds_in.{key}"
        trying(catalogue.material, key, field=where)
        _feeds(own, catalogue, machine, mistakes, where)
    _check_measured(wish, catalogue, mistakes, field)
    power = trying(check_powers, wish.power, catalogue, machine, f"{field}.power")
    if len(mistakes.found) > before or hold_down is None or power is None:
        return None
    named = wish if isinstance(wish, NamedShop) else NamedShop()
    measured = Measured.of(wish.fits, wish.thicknesses, cutters)
    return Shop(
        machine=machine,
        cutters=cutters,
        stock=_on_bed(stock, machine, cutters, catalogue),
        hold_down=hold_down,
        feeds=feeds,
        finish_mm=wish.finish_mm,
        entry=wish.entry,
        tab_shape=wish.tab_shape,
        groove_passes=wish.groove_passes,
        use_counters=wish.use_counters,
        detail_mm=wish.detail_mm,
        power=_by_true_thickness(power, measured),
        units=wish.units,
        cautions=tuple(wish.cautions),
        feeds_in=wish.feeds_in,
        measured=measured,
        name=named.name or "",
        version=named.version or "",
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
    wish: Mapping[str, OwnFeeds],
    catalogue: Catalogue,
    machine: Machine,
    mistakes: Mistakes,
    field: str,
) -> Mapping[str, OwnFeeds]:
    bears = {
        "spindle": ("spindle_rpm", machine.spindle_max_rpm),
        "feed": ("feed_mm_per_min", machine.max_feed_mm_per_min),
        "plunge": ("plunge_mm_per_min", machine.max_plunge_mm_per_min),
        "depth_per_pass": ("depth_per_pass_mm", machine.z_travel_mm),
    }
    for key, figures in wish.items():
        cutter = mistakes.trying(catalogue.cutter, key, field=f"{field}.{key}")
        if cutter is None:
            continue
        if cutter.kind is CutterKind.BEAM:
            mistakes.tell(
                "bad-shop",
                "The figures of a beam stand under 'power', one entry for each kind of sheet.",
                f"{field}.{key}",
                "power: a list of entries with material, thickness, cut, feed, passes",
            )
            continue
        for name, (attribute, most) in bears.items():
            figure = getattr(figures, attribute)
            if figure is not None and figure > most:
                mistakes.tell(
                    "out-of-range",
                    f"'{name}' is {_told(name, figure)}, more than {machine.name!r} does.",
                    f"{field}.{key}.{name}",
                    f"at most {_told(name, most)}",
                )
    return wish


def _by_true_thickness(powers: tuple[BeamPower, ...], measured: Measured) -> tuple[BeamPower, ...]:
    """Return the powers, those of sheets whose thickness was measured for that thickness, too."""
    found = ((p, measured.thickness(p.material, p.thickness_mm)) for p in powers)
    again = (p.model_copy(update={"thickness_mm": t.measured_mm}) for p, t in found if t)
    return (*powers, *again)


def _check_measured(
    wish: ShopRequest, catalogue: Catalogue, mistakes: Mistakes, field: str
) -> None:
    """Note materials of measured figures that are not there."""
    named: Iterable[tuple[str, str | None]] = (
        *((f"fits.{n}.into", f.into) for n, f in enumerate(wish.fits)),
        *((f"fits.{n}.of", f.of) for n, f in enumerate(wish.fits)),
        *((f"thicknesses.{n}.material", t.material) for n, t in enumerate(wish.thicknesses)),
    )
    for where, key in named:
        if key is not None:
            mistakes.trying(catalogue.material, key, field=f"{field}.{where}")


def _told(name: str, figure: float) -> str:
    if name == "spindle":
        return f"{figure:g} rev/min"
    return format_mm(figure) if name == "depth_per_pass" else format_feed(figure)


def _cutters(
    wish: ShopRequest, catalogue: Catalogue, mistakes: Mistakes, field: str
) -> tuple[Cutter, ...]:
    if wish.cutters is None:
        return tuple(c for _, c in sorted(catalogue.cutters.items()))
    found = {
        n: mistakes.trying(catalogue.cutter, n, field=f"{field}.{i}")
        for i, n in enumerate(wish.cutters)
    }
    return tuple(c for _, c in sorted(found.items()) if c is not None)


def _stock(
    wish: ShopRequest, catalogue: Catalogue, mistakes: Mistakes, field: str
) -> tuple[Stock, ...]:
    found = list(catalogue.stock.values()) if wish.stock is None else []
    for number, entry in enumerate(wish.stock or ()):
        where = f"{field}.{number}"
        if isinstance(entry, StockSheet):
            mistakes.trying(catalogue.material, entry.material, field=f"{where}.material")
            sheet = mistakes.trying(_sheet, entry, number, where)
            found += [sheet] if sheet is not None else []
        elif entry in catalogue.stock:
            found.append(catalogue.stock[entry])
        else:
            mistakes.take(UnknownName("stock", entry, tuple(catalogue.stock), field=where))
    return tuple(sorted(found, key=lambda s: (not s.offcut, s.key)))


def _sheet(sheet: StockSheet, number: int, field: str) -> Stock:
    figures = sheet.model_dump(by_alias=False, exclude={"keep_clear", "outline_mm"})
    places = tuple(
        KeptClear(**k.model_dump(by_alias=False, exclude_none=True)) for k in sheet.keep_clear
    )
    key = sheet.key or f"sheet-{number + 1}"
    try:
        outline = tuple(tuple((x, y) for x, y in ring) for ring in sheet.outline_mm)
        return Stock(**{**figures, "key": key, "keep_clear": places, "outline_mm": outline})
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
