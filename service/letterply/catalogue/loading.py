"""TOML and JSON files in, a `Catalogue` out.

The shipped data lie beside this module; a shop's own file has the same four tables and may add
entries or override single fields of shipped ones, or stand alone (`on_top_of = "nothing"`). An
entry that is `like` another has the figures of that one but for those it gives. Nothing is read on
import.

A table `sources` beside the entries of a shipped file says where the figures of all of them are
from; those of one entry go before. A figure that a shop overrides is the shop's own.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields
from enum import StrEnum
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from letterply.catalogue.habits import Misfit
from letterply.catalogue.kept_clear import KeptClear
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
from letterply.errors import InputError, Mistakes, UnknownName, renamed_field
from letterply.names import sentence
from letterply.requests import CatalogueFile, line_of, read_request
from letterply.sources import OWN, Source
from letterply.units import parse_length

__all__ = ["lay_over", "load_catalogue"]

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
_SPINDLE = ("spindle_min_rpm", "spindle_max_rpm")
_MAX_FILE_BYTES = 1_000_000
_MOST_KNOWN = 16
"""Catalogues that are kept after they were read."""

_Raw = dict[str, Any]
_Tables = dict[str, dict[str, _Raw]]
_File = tuple[str, bytes]
"""Name and bytes of a file."""


def load_catalogue(*overrides: Path | CatalogueFile) -> Catalogue:
    """Return the shipped catalogue with a shop's own files laid over it, in order.

    Raises:
        InputError: `bad-catalogue` where a file is wrong, with every mistake in it: file, line,
            field. Of one that was read already, the mistakes themselves.

    """
    files = [_bytes_of(f) if isinstance(f, Path) else f for f in overrides]
    known = tuple(f for f in files if isinstance(f, tuple))
    return _of_files(known) if len(known) == len(files) else _loaded(files)


@lru_cache(maxsize=_MOST_KNOWN)
def _of_files(files: tuple[_File, ...]) -> Catalogue:
    """Return the catalogue of files with these bytes, read once: every request asks for it."""
    return _loaded(files)


def _loaded(files: Sequence[CatalogueFile | _File]) -> Catalogue:
    catalogue, tables = None, _shipped()
    for file in files:
        if isinstance(file, CatalogueFile):
            mistakes = Mistakes()
            catalogue, tables = _laid_over(tables, file, mistakes, "catalogue.")
            mistakes.raise_any()
        else:
            catalogue, tables = _read_file(tables, *file)
    return catalogue or _whole(tables, Mistakes(), "")


def lay_over(file: CatalogueFile, below: Sequence[Path], mistakes: Mistakes) -> Catalogue:
    """Return the catalogue of files with one more laid over it, without what is wrong in it.

    What is wrong is noted, under `catalogue`.
    """
    tables = _shipped()
    for path in below:
        _, tables = _read_file(tables, *_bytes_of(path))
    return _laid_over(tables, file, mistakes, "catalogue.")[0]


@cache
def _shipped() -> _Tables:
    """Return the shipped tables, read once: what is laid over them is put into copies."""
    tables: _Tables = {}
    folder = files("letterply.catalogue") / "data"
    for name, kind in _TABLES:
        found = tomllib.loads((folder / f"{name}.toml").read_text("utf-8"))
        common = found.pop("sources")
        usual = {f.name for f in fields(kind) if f.default is not MISSING and f.default}
        tables[name] = found[name]
        for raw in tables[name].values():
            told = {k: v for k, v in common.items() if k in raw or k in usual}
            raw["sources"] = {**told, **raw.get("sources", {})}
    return tables


def _bytes_of(path: Path) -> _File:
    try:
        raw = path.read_bytes()
    except OSError as exc:
        raise _bad(f"{path.name} cannot be read: {exc}") from exc
    if len(raw) > _MAX_FILE_BYTES:
        raise _bad(f"{path.name} is larger than {_MAX_FILE_BYTES} bytes")
    return path.name, raw


def _read_file(tables: _Tables, name: str, raw: bytes) -> tuple[Catalogue, _Tables]:
    toml = Path(name).suffix.lower() != ".json"
    mistakes = Mistakes()
    try:
        text = raw.decode("utf-8-sig")
        if text.lstrip().startswith("{"):  # no TOML begins so
            toml = False
        found = tomllib.loads(text) if toml else json.loads(text)
    except ValueError as exc:
        raise _bad(f"{name} cannot be read: {exc}") from exc
    file = mistakes.trying(read_request, CatalogueFile, found)
    if file is not None:
        catalogue, tables = _laid_over(tables, file, mistakes, "")
    for one in mistakes.found:
        line = line_of(text, one["field"], toml=toml) if one["field"] else None
        one |= {"file": name, **({"line": line} if line else {})}
    if mistakes.found:
        said = "; ".join(_in_file(one) for one in mistakes.found)
        raise _bad(said, mistakes=mistakes.found)
    return catalogue, tables


def _in_file(mistake: Mapping[str, Any]) -> str:
    at = f", line {mistake['line']}" if "line" in mistake else ""
    where = f" ({mistake['field']})" if mistake["field"] else ""
    right = f" Right would be: {mistake['expected']}." if mistake["expected"] else ""
    return f"{mistake['file']}{at}{where}: {mistake['message']}{right}"


def _laid_over(
    tables: _Tables, file: CatalogueFile, mistakes: Mistakes, at: str
) -> tuple[Catalogue, _Tables]:
    """Return a catalogue and its tables with a file laid over them; entries with mistakes go."""
    own = file.given()
    alone = file.on_top_of == "nothing"
    laid: _Tables = {name: {} if alone else dict(tables[name]) for name, _ in _TABLES}
    for name, entries in own.items():
        for key in entries:
            made = mistakes.trying(_as_own, name, key, own[name], tables[name], f"{at}{name}.{key}")
            if made is not None:
                laid[name][key] = made
            elif key in laid[name]:
                laid[name].pop(key)
    return _whole(laid, mistakes, at), laid


def _whole(tables: _Tables, mistakes: Mistakes, at: str) -> Catalogue:
    lists: dict[str, dict[str, Any]] = {}
    for name, kind in _TABLES:
        made = {
            key: mistakes.trying(_entry, kind, key, raw, f"{at}{name}.{key}")
            for key, raw in sorted(tables[name].items())
        }
        lists[name] = {key: value for key, value in made.items() if value is not None}
    catalogue = Catalogue(**lists)
    for stock in catalogue.stock.values():
        if stock.material not in tables["materials"]:
            field = f"{at}stock.{stock.key}.material"
            mistakes.take(
                UnknownName("material", stock.material, tuple(tables["materials"]), field=field)
            )
    return catalogue


def _as_own(
    name: str, key: str, own: Mapping[str, _Raw], below: Mapping[str, _Raw], field: str
) -> _Raw:
    """Return an entry of a shop's own, whole, with the source of each figure in it.

    The source is the shop, unless it says. What must not be burnt stays so: a shop cannot lift
    that for a shipped material, by whatever name.
    """
    chain: list[_Raw] = []
    seen: set[str] = set()
    now = key
    while now in own and now not in seen:
        seen.add(now)
        chain.append(own[now])
        now = str(own[now].get("like", now))
    if now in seen and now not in below and "like" in chain[-1]:
        raise _told("bad-value", f"{key!r} is like itself.", f"{field}.like", "another entry")
    if now not in below and "like" in chain[-1]:
        raise UnknownName(name.removesuffix("s"), now, tuple(below), field=f"{field}.like")
    whole: _Raw = dict(below.get(now, {}))
    lifted = whole.get("beam") == Beam.REFUSED
    for raw in reversed(chain):
        if lifted and raw.get("beam", Beam.REFUSED) != Beam.REFUSED:
            raise _told(
                "beam-refused",
                f"{key!r} must not be cut by a beam, and no shop can allow it: "
                f"{whole['beam_reason'].removesuffix('.')}.",
                f"{field}.beam",
                "refused",
            )
        told = {k: [OWN.text, OWN.status] for k, v in raw.items() if _is_figure(k, v)}
        sources = {**whole.get("sources", {}), **told, **raw.get("sources", {})}
        if any(k.startswith("bending_strength") for k in raw):
            whole["strengths"] = []
        whole |= {k: v for k, v in raw.items() if k != "like"} | {"sources": sources}
    return whole


def _is_figure(name: str, value: object) -> bool:
    if isinstance(value, bool):
        return False
    return isinstance(value, int | float | list) or name.endswith("_mm") or name == "beam"


def _entry(kind: type[_T], key: str, raw: Mapping[str, Any], at: str) -> _T:
    known = {f.name: f for f in fields(kind) if f.metadata.get("given", True)}
    mistakes = Mistakes()
    if kind is Machine and raw.get("kind") == "beam":
        for name in _SPINDLE:  # the S word of a beam is no speed
            if name in raw:
                mistakes.take(renamed_field(name, "power_full", f"{at}.{name}"))
    values: dict[str, Any] = {"key": key}
    for name, field in known.items():
        if name == "key":
            continue
        if name in raw:
            values[name] = mistakes.trying(_value, kind, name, raw[name], f"{at}.{name}")
        elif name == "thermal_expansion_per_k":
            values[name] = None
        elif field.default is MISSING and field.default_factory is MISSING:
            short = name.partition("_mm")[0]
            mistakes.tell(
                "missing-field", f"{short!r} is missing.", f"{at}.{short}",
                "a value for it, or 'like' and an entry that has one",
            )  # fmt: skip
    mistakes.raise_any()
    try:
        return kind(**values)
    except (TypeError, ValueError, OverflowError) as exc:
        reason = str(exc).removeprefix(f"{key}: ")
        where = f"{at}.{exc.field}" if isinstance(exc, Misfit) else at
        raise _told("bad-entry", sentence(reason), where, "figures that fit each other") from exc


def _value(kind: type, name: str, raw: Any, at: str) -> Any:
    enum = _ENUMS.get((kind, name))
    if enum is not None:
        return enum(raw)
    if name == "sources":
        return {k: _source(v, f"{at}.{k}") for k, v in raw.items()}
    if name == "strengths":
        return tuple(_strength(v, at) for v in raw)
    if name == "keep_clear":
        return tuple(KeptClear(**v) for v in raw)
    if kind is Cutter and name == "materials":
        return tuple(MaterialClass(v) for v in raw)
    if isinstance(raw, list):
        return tuple(_value(kind, "", v, at) for v in raw)
    if isinstance(raw, str | int | float) and name.endswith("_mm"):
        return parse_length(raw, field=at)
    return raw


def _source(raw: Sequence[str], at: str) -> Source:
    try:
        return Source(text=raw[0], status=raw[1])
    except ValueError as exc:
        raise _told("bad-value", sentence(str(exc)), at, "[text, status]") from exc


def _strength(raw: Mapping[str, Any], at: str) -> Strength:
    values = dict(raw)
    try:
        return Strength(source=_source(values.pop("source"), at), **values)
    except (KeyError, TypeError, ValueError) as exc:
        expected = "up_to_mm, along_mpa, across_mpa and source"
        raise _told("bad-value", "A strength by thickness is wrong.", at, expected) from exc


def _told(code: str, message: str, field: str, expected: str) -> InputError:
    return InputError(message, code=code, field=field, expected=expected)


def _bad(message: str, **data: Any) -> InputError:
    return InputError(
        f"The catalogue is wrong: {message.removesuffix('.')}.",
        code="bad-catalogue",
        field="catalogue",
        expected="tables materials, cutters, machines and stock as DEVELOPERS.md describes",
        data=data,
    )
