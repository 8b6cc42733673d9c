"""What an order draws on: fonts, drawings and catalogue files, as its owner has them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from letterply.catalogue import Catalogue
from letterply.errors import NotFound
from letterply.jobs import Resources, catalogue_file_of, texts_in
from letterply.lettering import ARTWORK_PREFIX, shipped_faces
from letterply.orders.codec import Facts
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.task_requests import Sources
from letterply.storage import Store, UploadKind

__all__ = ["DrawnOn"]

_OWN = "own-"


class DrawnOn:
    """Finds fonts, drawings and catalogue files.

    Args:
        store: of the owner, where they are.
        catalogue: shipped data with the operator's own laid over.
        catalogue_files: the operator's own files, kept: digest and place of each.

    """

    def __init__(
        self, store: Store, catalogue: Catalogue, catalogue_files: Iterable[tuple[str, Path]]
    ) -> None:
        self._store = store
        self._catalogue = catalogue
        self._files = tuple(catalogue_files)

    def of(self, store: Store) -> DrawnOn:
        """Return the same as the owner of another store has it."""
        return DrawnOn(store, self._catalogue, self._files)

    def has_font(self, key: str) -> bool:
        """Tell whether a font is shipped, or of the owner's own."""
        if key in shipped_faces():
            return True
        if not key.startswith(_OWN):
            return False
        try:
            self._store.upload(UploadKind.FONT, key)
        except NotFound:
            return False
        return True

    def named_in(self, order: Order) -> tuple[dict[str, str], Sources]:
        """Return the files of the own fonts that an order names, and all that it draws on.

        Raises:
            LetterplyError: `artifact-damaged`.

        """
        paths: dict[str, str] = {}
        fonts: dict[str, str] = {}
        drawings: dict[str, str] = {}
        for name in sorted({t for line in order.lines for t in texts_in(line.recipe)}):
            try:
                if name.startswith(_OWN):
                    fonts[name] = self._store.upload(UploadKind.FONT, name).digest
                    paths[name] = str(self._store.path_of(fonts[name]))
                elif name.startswith(ARTWORK_PREFIX):
                    drawings[name] = self._store.upload(UploadKind.ARTWORK, name).digest
            except NotFound:
                continue  # a text that only looks like the name of a font or a drawing
        catalogues = tuple(name for name, _ in self._kept_files(order.shop))
        return paths, Sources(fonts, catalogues, drawings)

    def catalogue_files(self, shop: Facts) -> list[str]:
        """Return the catalogue files below a settled shop, and its own."""
        return [str(path) for _, path in self._kept_files(shop)]

    def catalogue(self, shop: object) -> Catalogue:
        """Return the catalogue of a settled shop; the operator's where it has none of its own."""
        if not isinstance(shop, Mapping) or not shop.get("version"):
            return self._catalogue
        return Resources(tuple(self.catalogue_files(shop))).catalogue()

    def _kept_files(self, shop: Facts) -> tuple[tuple[str, Path], ...]:
        version = shop.get("version")
        own = catalogue_file_of(self._store, str(version)) if version else None
        return (*self._files, own) if own else self._files
