"""Shops of makers' own: stored, found by name, settled at the door.

A request names a shop, or differs from one; it goes on with all that the shop says written into it,
with name and version, so that nothing behind the door asks for a shop again and the same request
stays the same whatever becomes of the shop. The catalogue of a shop is a catalogue file like the
operator's, laid over them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from letterply.catalogue import Catalogue, Shop, load_catalogue, read_shop, resolve_shop
from letterply.errors import InputError, NotFound, UnknownName
from letterply.memo import FoundAgain
from letterply.requests import NamedShop, ShopDocument, read_request
from letterply.storage import Along, ShopRecord, ShopShelf, Store, canonical_json
from letterply.units import UNITS, speaking

__all__ = ["SHIPPED", "Shops", "catalogue_file_of", "units_in"]

SHIPPED = "shipped"
"""Name of the shop that is there without any being stored."""

_MOST_KNOWN = 200
_MOST_KEPT = 64
"""Shops that are kept after they were read."""

_resolved: FoundAgain[Shop] = FoundAgain(_MOST_KEPT)


class Shops:
    """The shops of a service. Any thread may call it.

    Args:
        store: where they are kept.
        catalogue_files: the operator's own files, below every shop.

    """

    def __init__(self, store: Store, catalogue_files: Iterable[Path] = ()) -> None:
        self.shelf = ShopShelf(store)
        self._store = store
        self._files = tuple(catalogue_files)

    def of(self, owner: str) -> Shops:
        """Return the shops of one owner."""
        return Shops(self._store.of(owner), self._files)

    def put(
        self,
        name: str,
        raw: Mapping[str, Any],
        *,
        text: str | None = None,
        toml: bool = True,
        may: Callable[[str | None], None] = lambda version: None,
        along: Along = lambda db, version: None,
    ) -> tuple[ShopRecord, bool]:
        """Store a shop, vetted; return it and whether it is new.

        Args:
            name: of it.
            raw: its document as it was written, decoded.
            text: the same before it was decoded, for the lines of mistakes.
            toml: whether the text is TOML, else JSON.
            may: see `ShopShelf.put`.
            along: see there.

        Raises:
            InputError: with every mistake in its data.

        """
        _check_name(name)
        units = raw.get("units") if isinstance(raw, Mapping) else None
        with speaking(units if units in UNITS else "mm"):
            document = read_shop(raw, self._files, text=text, toml=toml)
        file = document.catalogue_file()
        return self.shelf.put(
            name,
            canonical_json(document.normal()),
            canonical_json(raw),
            canonical_json(file) if file else None,
            may,
            along,
        )

    def written(self, record: ShopRecord) -> dict[str, Any]:
        """Return the document of a shop as its maker wrote it."""
        found: dict[str, Any] = json.loads(self.shelf.read(record.written))
        return found

    def document(self, version: str) -> ShopDocument:
        """Return the document of a version."""
        return _document(self._store, version)

    def resolved(self, name: str | None) -> tuple[Catalogue, Shop, ShopDocument]:
        """Return the catalogue of a shop, or of the usual one, the shop, and its document.

        Raises:
            InputError: `unknown-shop`.

        """
        settled = self.settle({} if name is None else {"shop": name})
        wish = settled.get("shop", {})
        catalogue, document = self.at_version(wish.get("version"))
        text = canonical_json(wish)
        shop = _resolved.get((catalogue,), text, lambda: resolve_shop(wish, catalogue))
        return catalogue, shop, document

    def at_version(self, version: str | None) -> tuple[Catalogue, ShopDocument]:
        """Return catalogue and document of a version; without one those that are shipped."""
        if version is None:
            return load_catalogue(*self._files), ShopDocument()
        own = catalogue_file_of(self._store, version)
        files = (*self._files, own[1]) if own else self._files
        return load_catalogue(*files), self.document(version)

    def settle(self, request: Mapping[str, Any]) -> dict[str, Any]:
        """Return a request with its shop written into it; one that has a mistake stays as it is.

        Where no shop is named the usual one is taken; where there is none, nothing changes.

        Raises:
            InputError: `unknown-shop`, `unknown-version`.

        """
        given = request.get("shop")
        wish = {"name": given} if isinstance(given, str) else given
        if wish is not None and not isinstance(wish, Mapping):
            return dict(request)
        wish = dict(wish or {})
        name, version = wish.get("name"), wish.get("version")
        if not isinstance(name, str | None) or not isinstance(version, str | None):
            return dict(request)
        if version is not None and name in (None, SHIPPED):
            raise InputError(
                "A version is that of a shop, and none is named.",
                code="missing-field",
                field="shop.name",
                expected="the name of the shop that it is a version of",
            )
        if name == SHIPPED:
            return {**request, "shop": wish}
        found = self._found(name, version)
        if found is None:
            return dict(request)
        name, version = found
        named = {"name": name, "version": version}
        return {**request, "shop": {**self.document(version).wishes(), **wish, **named}}

    def units_of(self, request: Mapping[str, Any]) -> str:
        """Return in what the shop of a request speaks; of one with a mistake, mm.

        Asked before the request is read: what is wrong with it is told in these units.
        """
        try:
            return units_in(self.settle(request))
        except InputError:
            return "mm"

    def prices(self, request: Mapping[str, Any]) -> dict[str, Any]:
        """Return a settled request for an order with the prices of its shop below its own."""
        shop, given = request.get("shop"), request.get("prices", {})
        version = shop.get("version") if isinstance(shop, Mapping) else None
        if version is None or not isinstance(given, Mapping):
            return dict(request)
        rules = self.document(version).prices.model_dump(mode="json", exclude_defaults=True)
        return {**request, "prices": {**rules, **given}}

    def _found(self, name: str | None, version: str | None) -> tuple[str, str] | None:
        if name is None:
            usual = self.shelf.usual()
            return (usual.name, usual.version) if usual else None
        if version is not None:
            if not self.shelf.has_had(name, version):
                raise InputError(
                    f"The shop {name!r} has never been at this version.",
                    code="unknown-version",
                    field="shop.version",
                    expected="a version that it has had, or none for that of today",
                )
            return name, version
        try:
            return name, self.shelf.find(name).version
        except NotFound as exc:
            known = [s.name for s in self.shelf.page(limit=_MOST_KNOWN)[0]]
            raise UnknownName("shop", name, [*known, SHIPPED], field="shop") from exc


def units_in(settled: Mapping[str, Any]) -> str:
    """Return in what the shop of a settled request speaks; of one with a mistake, mm."""
    shop = settled.get("shop")
    found = shop.get("units") if isinstance(shop, Mapping) else None
    return found if found in UNITS else "mm"


def _check_name(name: str) -> None:
    if name == SHIPPED:
        raise InputError(
            f"{SHIPPED!r} is what is there without a shop.",
            code="bad-name",
            field="name",
            expected="another name",
        )
    read_request(NamedShop, {"name": name})
    if not all(c.isascii() and (c.islower() or c.isdigit() or c == "-") for c in name):
        raise InputError(
            "The name of a shop has other signs.",
            code="bad-name",
            field="name",
            expected="lower-case letters, digits and hyphens",
        )


def _document(store: Store, version: str) -> ShopDocument:
    return _read(store.path_of(version).read_bytes())


@lru_cache(maxsize=_MOST_KEPT)
def _read(normal: bytes) -> ShopDocument:
    return read_request(ShopDocument, json.loads(normal))


def catalogue_file_of(store: Store, version: str) -> tuple[str, Path] | None:
    """Return digest and place of the catalogue file of a shop's version; None where it adds none.

    It is kept apart from the rest of the shop: what is found out with the same catalogue is found
    again after a change of a price or of a count of sheets.
    """
    file = _document(store, version).catalogue_file()
    if not file:
        return None
    return store.keep_file(canonical_json(file))
