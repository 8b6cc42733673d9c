"""What is laid where: sheets of an order before they are planned, and what found no room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from letterply.catalogue import KeptClear, Rings, Stock, outline_of
from letterply.orders.codec import Facts, value_of
from letterply.sheets import Unplaced

__all__ = ["Laid", "PlacedSpec", "SheetSpec", "StockFacts", "as_laid"]


@dataclass(frozen=True, slots=True)
class PlacedSpec:
    """A part that lies on a sheet.

    Attributes:
        mark, copy: what it is called, and which copy of its line it is of.
        key: digest of the part itself: parts with the same one are alike.
        file, index: its layer in the vault, and which part of it.
        hidden: the hidden faces of the layer in the vault.
        placement: angle in degrees, x and y in mm, part frame to sheet frame.
        also: marks of those that lie here in later runs of the sheet.

    """

    mark: str
    copy: int
    key: str
    file: str
    index: int
    hidden: str
    placement: tuple[float, float, float] = (0.0, 0.0, 0.0)
    also: tuple[str, ...] = ()

    @property
    def marks(self) -> tuple[str, ...]:
        """The marks of all that lie in this place, run after run."""
        return self.mark, *self.also


@dataclass(frozen=True, slots=True)
class SheetSpec:
    """A sheet, or a load of blanks, as it is to be planned.

    Attributes:
        number: from 1 over the order; 0 until it is given one.
        stock: the sheet it is (see `as_laid`).
        spacing_mm: kept between parts.
        in_counters: whether parts lie in openings of others.
        zero_mm: where x and y are nought on a load of blanks; None for a sheet of stock.
        runs: how often its programs are run.
        fixture: what holds the blanks of a load, as papers call it.
        pocket_mm: depth of its pockets, 0 without any.

    """

    number: int
    stock: Stock
    from_back: bool
    spacing_mm: float
    parts: tuple[PlacedSpec, ...] = ()
    in_counters: bool = False
    zero_mm: tuple[float, float] | None = None
    runs: int = 1
    fixture: str = ""
    pocket_mm: float = 0.0

    @classmethod
    def of_earlier(cls, raw: Facts) -> SheetSpec:
        """Return a sheet of an earlier order, which may be from before stock told its count."""
        stock = raw["stock"]
        whole = {"count": 1, **stock} if isinstance(stock, Mapping) else stock
        return value_of(cls, {**raw, "stock": whole})


@dataclass(frozen=True, slots=True)
class Laid:
    """The sheets of one material or kind of blank, and the parts that found no room."""

    sheets: tuple[SheetSpec, ...]
    unplaced: tuple[Unplaced, ...] = ()


@dataclass(frozen=True, slots=True)
class StockFacts:
    """What documents tell of a sheet of stock (`letterply.catalogue.Stock`)."""

    key: str
    material: str
    thickness_mm: float
    width_mm: float
    height_mm: float
    margin_mm: float
    price: float
    offcut: bool
    turned: bool
    reach_mm: tuple[float, float] | None
    keep_clear: tuple[KeptClear, ...] = ()
    outline_mm: Rings = ()

    @property
    def area_mm2(self) -> float:
        """Area of its material."""
        if self.outline_mm:
            return float(outline_of(self.outline_mm).area)
        return self.width_mm * self.height_mm

    @classmethod
    def of(cls, stock: Stock) -> StockFacts:
        """Return what is told of a sheet."""
        return cls(**{f.name: getattr(stock, f.name) for f in fields(cls)})


def as_laid(stock: Stock) -> Stock:
    """Return one sheet of stock, without where its values are from."""
    return replace(stock, count=1, sources={})
