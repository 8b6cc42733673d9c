"""A shop to be stored, vetted: decoded JSON or TOML in, the document and what it comes to out.

Everything is looked at before anything is refused: an entry with a mistake is set aside, the rest
is held against the catalogue, and what only follows from what was set aside is not told. What an
entry of its own catalogue lacks besides is told with its mistakes.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from letterply.catalogue.loading import lay_over
from letterply.catalogue.shop import vet_shop
from letterply.errors import Mistakes
from letterply.requests import CatalogueFile, ShopDocument, line_of, read_request

__all__ = ["read_shop"]

_LISTS = ("cutters", "stock", "power", "cautions", "fits", "thicknesses", "measured")
_Path = tuple[str, ...]


def read_shop(
    raw: object, below: Sequence[Path] = (), *, text: str | None = None, toml: bool = True
) -> ShopDocument:
    """Return the document of a shop.

    Args:
        raw: decoded JSON or TOML.
        below: the operator's catalogue files.
        text: of which it was decoded, for the lines of mistakes.
        toml: whether the text is TOML, else JSON.

    Raises:
        InputError: with every mistake in its data, each with its field and, where there is a text,
            its line.

    """
    mistakes = Mistakes()
    document, aside, places = _read(raw, mistakes)
    mistakes.found += _lacking(raw, mistakes, below)
    if document is not None:
        file = CatalogueFile.model_validate(document.catalogue_file(), by_name=False)
        later = Mistakes()
        catalogue = lay_over(file, below, later)
        wrong = {_entry_of(m["field"]) for m in later.found}
        vet_shop(document, catalogue, later, "shop")
        gone = {key for *_, key in aside} | {key for *_, key in wrong if key}
        for one in later.found:
            one["field"] = _placed(one["field"].removeprefix("shop."), places)
            if not _follows(one, gone):
                mistakes.found.append(one)
    if text is not None:
        for one in mistakes.found:
            line = line_of(text, one["field"], toml=toml) if one["field"] else None
            one |= {"line": line} if line else {}
        mistakes.found.sort(key=lambda one: one.get("line", 0))
    line = mistakes.found[0].get("line") if mistakes.found else None
    mistakes.raise_any(**({"line": line} if line else {}))
    assert document is not None
    return document


def _read(
    raw: object, mistakes: Mistakes
) -> tuple[ShopDocument | None, set[_Path], dict[str, list[int]]]:
    """Return the document without what is wrong in it, what that is, and what numbers were."""
    document = mistakes.trying(read_request, ShopDocument, raw)
    if document is not None or not isinstance(raw, Mapping):
        return document, set(), {}
    aside = {_entry_of(one["field"]) for one in mistakes.found}
    rest: Any = copy.deepcopy(dict(raw))
    places: dict[str, list[int]] = {}
    for name in _LISTS:
        if isinstance(rest.get(name), list):
            numbers = range(len(rest[name]))
            places[name] = [n for n in numbers if (name, str(n)) not in aside]
            rest[name] = [rest[name][n] for n in places[name]]
            if not rest[name]:
                rest.pop(name)
    for path in aside:
        _drop(rest, path)
    return Mistakes().trying(read_request, ShopDocument, rest), aside, places


def _drop(rest: Any, path: _Path) -> None:
    for step in path[:-1]:
        rest = rest.get(step) if isinstance(rest, dict) else None
    if isinstance(rest, dict):
        rest.pop(path[-1], None)


def _lacking(raw: object, mistakes: Mistakes, below: Sequence[Path]) -> list[dict[str, Any]]:
    """Return the fields that entries of its own catalogue lack beside their mistakes."""
    paths = [tuple(str(one["field"]).split(".")) for one in mistakes.found]
    if not isinstance(raw, Mapping) or not any(path[0] == "catalogue" for path in paths):
        return []
    tables = raw["catalogue"]
    if not isinstance(tables, Mapping):
        return []
    alone = {"on_top_of": "nothing"} if raw.get("on_top_of") == "nothing" else {}
    rest: Any = {"catalogue": copy.deepcopy(dict(tables)), **alone}
    for path in paths:
        if path[0] == "catalogue":
            # An entry that is like nothing known is made of nothing: that is told, and no more.
            _drop(rest, path[:3] if path[3:4] == ("like",) else path[:4])
    document = Mistakes().trying(read_request, ShopDocument, rest)
    if document is None:
        return []
    later = Mistakes()
    lay_over(CatalogueFile.model_validate(document.catalogue_file(), by_name=False), below, later)
    entries = {path[:3] for path in paths}
    told = {".".join(path[:4]).removesuffix("_mm") for path in paths}
    return [
        one for one in later.found
        if one["code"] == "missing-field" and _entry_of(one["field"]) in entries
        and one["field"] not in told
    ]  # fmt: skip


def _entry_of(field: str | None) -> _Path:
    """Return the path of what is set aside for a mistake: an entry of a table or a list."""
    path = tuple((field or "").split("."))
    return path[: 3 if path[0] == "catalogue" else 2 if path[0] in (*_LISTS, "feeds") else 1]


def _placed(field: str, places: Mapping[str, list[int]]) -> str:
    """Return the field as it was written, before what was set aside went."""
    name, _, rest = field.partition(".")
    number, dot, inner = rest.partition(".")
    if name not in places or not number.isdigit():
        return field
    return f"{name}.{places[name][int(number)]}{dot}{inner}"


def _follows(mistake: Mapping[str, Any], gone: set[str]) -> bool:
    """Tell whether a mistake is only that of a name whose own entry has one."""
    named = str(mistake["code"]).startswith("unknown-")
    return named and any(repr(key) in mistake["message"] for key in gone)
