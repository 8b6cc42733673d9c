"""TOML files in, a `Catalogue` out.

The shipped data lie beside this module; a shop's own file has the same four tables and may add
entries or override single fields of shipped ones. Nothing is read on import.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

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
from letterply.errors import InputError
from letterply.units import parse_length

__all__ = ["load_catalogue"]

_T = TypeVar("_T", Material, Cutter, Machine, Stock)

_TABLES: tuple[tuple[str, type], ...] = (
    ("materials", Material),
    ("cutters", Cutter),
    ("machines", Machine),
    ("stock", Stock),
)
_ENUMS: dict[tuple[type, str], type[StrEnum]] = {
    (Material, "kind"): MaterialClass,
    (Material, "beam"): Beam,
    (Cutter, "kind"): CutterKind,
}
_MAX_FILE_BYTES = 1_000_000


def load_catalogue(*overrides: Path) -> Catalogue:
    """Return the shipped catalogue with a shop's own files laid over it, in order.

    Raises:
        InputError: `bad-catalogue`, naming file, table, entry and what is wrong.

    """
    tables: dict[str, dict[str, dict[str, Any]]] = {name: {} for name, _ in _TABLES}
    shipped = files("letterply.catalogue") / "data"
    for name, _ in _TABLES:
        _lay_over(tables, tomllib.loads((shipped / f"{name}.toml").read_text("utf-8")), name)
    for path in overrides:
        _lay_over(tables, _read_override(path), path.name)
    shelves: dict[str, Any] = {
        name: {key: _entry(kind, key, raw) for key, raw in sorted(tables[name].items())}
        for name, kind in _TABLES
    }
    catalogue = Catalogue(**shelves)
    for stock in catalogue.stock.values():
        if stock.material not in catalogue.materials:
            raise _bad(f"stock {stock.key!r} names an unknown material {stock.material!r}")
    return catalogue


def _read_override(path: Path) -> dict[str, Any]:
    try:
        raw = path.read_bytes()
        if len(raw) > _MAX_FILE_BYTES:
            raise _bad(f"{path.name} is larger than {_MAX_FILE_BYTES} bytes")
        return tomllib.loads(raw.decode("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as exc:
        raise _bad(f"{path.name} cannot be read: {exc}") from exc


def _lay_over(
    tables: dict[str, dict[str, dict[str, Any]]], found: Mapping[str, Any], where: str
) -> None:
    for name, entries in found.items():
        if name not in tables or not isinstance(entries, dict):
            raise _bad(f"{where}: {name!r} is no table; expected {', '.join(tables)}")
        for key, raw in entries.items():
            if not isinstance(raw, dict):
                raise _bad(f"{where}: {name}.{key} is no table")
            tables[name][key] = {**tables[name].get(key, {}), **raw}


def _entry(kind: type[_T], key: str, raw: Mapping[str, Any]) -> _T:
    known = {f.name: f for f in fields(kind)}
    unknown = set(raw) - set(known)
    if unknown:
        raise _bad(f"{kind.__name__.lower()} {key!r}: unknown fields {sorted(unknown)}")
    values: dict[str, Any] = {"key": key}
    for name, field in known.items():
        if name == "key":
            continue
        if name in raw:
            values[name] = _value(kind, name, raw[name])
        elif name == "thermal_expansion_per_k":
            values[name] = None
        elif field.default is MISSING and field.default_factory is MISSING:
            raise _bad(f"{kind.__name__.lower()} {key!r}: {name} is missing")
    try:
        return kind(**values)
    except (TypeError, ValueError) as exc:
        raise _bad(f"{kind.__name__.lower()} {key!r}: {exc}") from exc


def _value(kind: type, name: str, raw: Any) -> Any:
    enum = _ENUMS.get((kind, name))
    if enum is not None:
        try:
            return enum(raw)
        except ValueError:
            raise _bad(f"{name} must be one of {', '.join(enum)}, not {raw!r}") from None
    if name == "sources":
        return {k: Source(text=v[0], status=v[1]) for k, v in raw.items()}
    if kind is Cutter and name == "materials":
        return tuple(MaterialClass(v) for v in raw)
    if isinstance(raw, list):
        return tuple(_value(kind, "", v) for v in raw)
    if isinstance(raw, str) and name.endswith("_mm"):
        return parse_length(raw, field=name)
    return raw


def _bad(message: str) -> InputError:
    return InputError(
        f"The catalogue is wrong: {message}.",
        code="bad-catalogue",
        field="catalogue",
        expected="tables materials, cutters, machines and stock as DEVELOPERS.md describes",
    )
