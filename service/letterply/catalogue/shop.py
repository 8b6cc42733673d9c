"""A shop: the machine, cutters, stock and hold-down that one request uses.

A request names entries of the catalogue; what it leaves out is the whole rack. The sheet of a
request may be described in place, as a table with the fields of `Stock`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from letterply.catalogue.loading import stock_from_table
from letterply.catalogue.model import Catalogue, Cutter, Machine, Stock
from letterply.errors import InputError, UnknownName

__all__ = ["HoldDown", "Shop", "resolve_shop"]

_FIELDS = ("machine", "cutters", "stock", "hold_down")
_DEFAULT_MACHINE = "bench-router"
_MAX_NAMES = 200


class HoldDown(StrEnum):
    """How parts are kept in place while their outline is cut."""

    TABS = "tabs"
    TAPE = "tape"
    SKIN = "skin"


@dataclass(frozen=True, slots=True)
class Shop:
    """What a job may use.

    Attributes:
        machine: the machine.
        cutters: the rack, sorted by key.
        stock: the sheets, offcuts first, then by key.
        hold_down: how parts are held.

    """

    machine: Machine
    cutters: tuple[Cutter, ...]
    stock: tuple[Stock, ...]
    hold_down: HoldDown = HoldDown.TABS


def resolve_shop(
    raw: Mapping[str, Any] | None, catalogue: Catalogue, *, field: str = "shop"
) -> Shop:
    """Return the shop that a request describes.

    Raises:
        InputError: `bad-shop`, `unknown-choice`; `UnknownName` for a name that is not there.

    """
    raw = {} if raw is None else raw
    if not isinstance(raw, Mapping):
        raise InputError(
            "The shop is no object.",
            code="bad-shop",
            field=field,
            expected="a JSON object with machine, cutters, stock and hold_down",
        )
    for name in raw:
        if name not in _FIELDS:
            raise InputError(
                f"A shop has no {name!r}.",
                code="unknown-field",
                field=f"{field}.{name}",
                expected=", ".join(_FIELDS),
            )
    hold_down = raw.get("hold_down", HoldDown.TABS)
    if hold_down not in tuple(HoldDown):
        raise InputError(
            f"{hold_down!r} is no way to hold parts down.",
            code="unknown-choice",
            field=f"{field}.hold_down",
            expected=", ".join(HoldDown),
        )
    machine = raw.get("machine", _DEFAULT_MACHINE)
    if not isinstance(machine, str):
        raise InputError(
            "The machine is no name.",
            code="bad-shop",
            field=f"{field}.machine",
            expected="a key of the catalogue",
        )
    return Shop(
        machine=catalogue.machine(machine, field=f"{field}.machine"),
        cutters=_cutters(raw.get("cutters"), catalogue, f"{field}.cutters"),
        stock=_stock(raw.get("stock"), catalogue, f"{field}.stock"),
        hold_down=HoldDown(hold_down),
    )


def _cutters(raw: object, catalogue: Catalogue, field: str) -> tuple[Cutter, ...]:
    if raw is None:
        return tuple(c for _, c in sorted(catalogue.cutters.items()))
    names = _names(raw, field)
    found = {n: catalogue.cutter(str(n), field=f"{field}.{i}") for i, n in enumerate(names)}
    return tuple(c for _, c in sorted(found.items()))


def _stock(raw: object, catalogue: Catalogue, field: str) -> tuple[Stock, ...]:
    if raw is None:
        found = list(catalogue.stock.values())
    else:
        found = []
        for number, entry in enumerate(_names(raw, field, also=Mapping)):
            where = f"{field}.{number}"
            if isinstance(entry, Mapping):
                table = {"count": 1, **entry}
                key = str(table.pop("key", f"sheet-{number + 1}"))[:80]
                try:
                    sheet = stock_from_table(key, table)
                except InputError as exc:
                    raise InputError(
                        exc.message, code="bad-shop", field=where, expected=exc.expected
                    ) from exc
                catalogue.material(sheet.material, field=f"{where}.material")
                found.append(sheet)
            elif entry in catalogue.stock:
                found.append(catalogue.stock[entry])
            else:
                raise UnknownName("stock", str(entry), tuple(catalogue.stock), field=where)
    return tuple(sorted(found, key=lambda s: (not s.offcut, s.key)))


def _names(raw: object, field: str, also: type = str) -> list[Any]:
    good = isinstance(raw, list | tuple) and 0 < len(raw) <= _MAX_NAMES
    if not good or not all(isinstance(n, str | also) for n in raw):  # type: ignore[attr-defined]
        raise InputError(
            f"{field.rpartition('.')[2]} is no list of names.",
            code="bad-shop",
            field=field,
            expected=f"a list of 1 to {_MAX_NAMES} keys of the catalogue",
        )
    return list(raw)  # type: ignore[call-overload, no-any-return]
