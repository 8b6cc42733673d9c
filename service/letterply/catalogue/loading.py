"""TOML files in, a `Catalogue` out.

The shipped data lie beside this module; a shop's own file has the same four tables and may add
entries or override single fields of shipped ones. Nothing is read on import.

A table `sources` beside the entries of a shipped file says where the figures of all of them are
from; those of one entry go before. A figure that a shop overrides is the shop's own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from letterply.catalogue.machines import Machine
from letterply.catalogue.model import (
    Beam,
    Catalogue,
    Cutter,
    CutterKind,
    Material,
    MaterialClass,
    Stock,
    Strength,
)
from letterply.errors import InputError, renamed_field, shown
from letterply.sources import OWN, Source
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
_RENAMED: dict[tuple[type, str], str] = {(Machine, "junction_deviation_mm"): "corner_slack_mm"}
"""Kind and a name that a field of it once had -> the name it has."""

_SPINDLE = ("spindle_min_rpm", "spindle_max_rpm")
_MAX_FILE_BYTES = 1_000_000


def load_catalogue(*overrides: Path) -> Catalogue:
    """Return the shipped catalogue with a shop's own files laid over it, in order.

    Raises:
        InputError: `bad-catalogue`, naming file, table, entry and what is wrong;
            `unknown-field` for a name that a field no longer has, naming the new one.

    """
    tables: dict[str, dict[str, dict[str, Any]]] = {name: {} for name, _ in _TABLES}
    shipped = files("letterply.catalogue") / "data"
    for name, kind in _TABLES:
        found = tomllib.loads((shipped / f"{name}.toml").read_text("utf-8"))
        common = found.pop("sources")
        usual = {f.name for f in fields(kind) if f.default is not MISSING and f.default}
        _lay_over(tables, found, name)
        for raw in tables[name].values():
            told = {k: v for k, v in common.items() if k in raw or k in usual}
            raw["sources"] = {**told, **raw.get("sources", {})}
    for path in overrides:
        _lay_over(tables, _as_own(_read_override(path), tables), path.name)
    lists: dict[str, Any] = {
        name: {key: _entry(kind, key, raw) for key, raw in sorted(tables[name].items())}
        for name, kind in _TABLES
    }
    catalogue = Catalogue(**lists)
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
            raise _bad(f"{where}: {name!r} must be a table: one of {', '.join(tables)}")
        for key, raw in entries.items():
            if not isinstance(raw, dict):
                raise _bad(f"{where}: {name}.{key} must be a table")
            before = tables[name].get(key, {})
            told = {**before.get("sources", {}), **_table(raw.get("sources", {}), f"{key}.sources")}
            tables[name][key] = {**before, **raw, "sources": told}


def _as_own(
    found: dict[str, Any], tables: Mapping[str, Mapping[str, Mapping[str, Any]]]
) -> dict[str, Any]:
    """Return a shop's own file with the source of each figure in it: the shop, unless it says.

    What must not be burnt stays so: a shop cannot lift that for a shipped material.
    """
    own: dict[str, Any] = {}
    for name, entries in found.items():
        if not isinstance(entries, dict):
            return found
        own[name] = {}
        for key, raw in entries.items():
            if not isinstance(raw, dict):
                return found
            before = tables.get(name, {}).get(key, {})
            if before.get("beam") == Beam.REFUSED and raw.get("beam", Beam.REFUSED) != Beam.REFUSED:
                raise _bad(
                    f"{key!r} must not be cut by a beam, and no shop can allow it: "
                    + before["beam_reason"].removesuffix(".")
                )
            told = {k: [OWN.text, OWN.status] for k, v in raw.items() if _is_figure(k, v)}
            said = _table(raw.get("sources", {}), f"{key}.sources")
            own[name][key] = {**raw, "sources": {**told, **said}}
            if any(k.startswith("bending_strength") for k in raw):
                own[name][key].setdefault("strengths", [])
    return own


def _is_figure(name: str, value: object) -> bool:
    if isinstance(value, bool):
        return False
    return isinstance(value, int | float | list) or name.endswith("_mm") or name == "beam"


def _table(raw: object, where: str) -> dict[str, Any]:
    if not isinstance(raw, dict):
        raise _bad(f"{where} must be a table")
    return raw


def _entry(kind: type[_T], key: str, raw: Mapping[str, Any]) -> _T:
    known = {f.name: f for f in fields(kind) if f.metadata.get("given", True)}
    for name in raw:
        new = _RENAMED.get((kind, name))
        if kind is Machine and raw.get("kind") == "beam" and name in _SPINDLE:
            new = "power_full"  # the S word of a beam is no speed
        if new is not None:
            raise renamed_field(name, new, f"catalogue.{key}.{name}")
    unknown = set(raw) - set(known)
    if unknown:
        raise _bad(
            f"{kind.__name__.lower()} {key!r} has fields that are not known: {sorted(unknown)}"
        )
    values: dict[str, Any] = {"key": key}
    for name, field in known.items():
        if name == "key":
            continue
        if name in raw:
            values[name] = _value(kind, name, raw[name])
        elif name == "thermal_expansion_per_k":
            values[name] = None
        elif field.default is MISSING and field.default_factory is MISSING:
            raise _bad(f"{kind.__name__.lower()} {key!r}: {name!r} is missing")
    try:
        return kind(**values)
    except (TypeError, ValueError, OverflowError) as exc:
        raise _bad(f"{kind.__name__.lower()} {key!r}: {exc}") from exc


def _value(kind: type, name: str, raw: Any) -> Any:
    enum = _ENUMS.get((kind, name))
    if enum is not None:
        try:
            return enum(raw)
        except ValueError:
            raise _bad(f"{name!r} must be one of {', '.join(enum)}, not {shown(raw)}") from None
    if name == "sources":
        return {k: _source(v) for k, v in _table(raw, "sources").items()}
    if name == "strengths":
        if not isinstance(raw, list):
            raise _bad("strengths must be a list of tables")
        return tuple(_strength(v) for v in raw)
    if kind is Cutter and name == "materials":
        return tuple(MaterialClass(v) for v in raw)
    if isinstance(raw, list):
        return tuple(_value(kind, "", v) for v in raw)
    if isinstance(raw, str | int | float) and name.endswith("_mm"):
        return parse_length(raw, field=name)
    return raw


def _source(raw: object) -> Source:
    if not isinstance(raw, list) or len(raw) != 2:
        raise _bad(f"a source is [text, status], not {raw!r}")
    try:
        return Source(text=raw[0], status=raw[1])
    except ValueError as exc:
        raise _bad(str(exc)) from exc


def _strength(raw: object) -> Strength:
    values = {**_table(raw, "a strength")}
    try:
        return Strength(source=_source(values.pop("source", None)), **values)
    except (TypeError, ValueError) as exc:
        raise _bad(f"a strength by thickness: {exc}") from exc


def _bad(message: str) -> InputError:
    return InputError(
        f"The catalogue is wrong: {message}.",
        code="bad-catalogue",
        field="catalogue",
        expected="tables materials, cutters, machines and stock as DEVELOPERS.md describes",
    )
