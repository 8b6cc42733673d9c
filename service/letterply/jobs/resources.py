"""What a worker needs to find the things that a request names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from letterply.catalogue import Catalogue, load_catalogue
from letterply.errors import NotFound
from letterply.jobs.identity import texts_in
from letterply.jobs.shared_answers import SharedAnswers
from letterply.jobs.shops import catalogue_file_of
from letterply.lettering import ARTWORK_PREFIX, ArtworkLibrary, FontLibrary
from letterply.storage import Store, UploadKind

__all__ = ["Resources", "resources_for"]

_OWN = "own-"
"""How the names of own fonts begin (`letterply.lettering.fonts.library.font_digest`)."""


@dataclass(frozen=True, slots=True)
class Resources:
    """What a worker needs to find things.

    Attributes:
        catalogue_files: a shop's own files, laid over the shipped catalogue in order.
        font_files: id of an own font -> path of its file.
        artwork_files: id of a drawing -> path of its file.
        shared_folder: where is kept what jobs share; None to find out everything anew.

    """

    catalogue_files: tuple[str, ...] = ()
    font_files: Mapping[str, str] = field(default_factory=dict)
    artwork_files: Mapping[str, str] = field(default_factory=dict)
    shared_folder: str | None = None

    def catalogue(self) -> Catalogue:
        """Return the catalogue, read once in a worker: the files are named by their digests."""
        return _catalogue(self.catalogue_files)

    def fonts(self) -> FontLibrary:
        """Return the fonts, each read once in a worker: own ones are named by their digests."""
        return _fonts(tuple(sorted(self.font_files.items())))

    def shared(self, *context: str) -> SharedAnswers:
        """Return what was found out before, by requests that share this context."""
        files = (*self.catalogue_files, *self.font_files.values(), *self.artwork_files.values())
        return SharedAnswers(self.shared_folder, (*context, *files))

    def artworks(self) -> ArtworkLibrary:
        """Return the drawings."""
        return ArtworkLibrary(self.artwork_files)


@lru_cache(maxsize=4)
def _catalogue(files: tuple[str, ...]) -> Catalogue:
    return load_catalogue(*(Path(p) for p in files))


@lru_cache(maxsize=4)
def _fonts(files: tuple[tuple[str, str], ...]) -> FontLibrary:
    return FontLibrary(dict(files))


def resources_for(
    request: Mapping[str, Any],
    store: Store,
    catalogue_files: Sequence[str],
    shared_folder: str | None = None,
) -> tuple[Resources, tuple[str, ...]]:
    """Return what a worker needs for a settled request, and the digests of what is its own."""
    fonts: dict[str, str] = {}
    artworks: dict[str, str] = {}
    digests: list[str] = []
    for text in sorted(set(texts_in(request))):
        drawing = text.startswith(ARTWORK_PREFIX)
        if not drawing and not text.startswith(_OWN):
            continue
        try:
            found = store.upload(UploadKind.ARTWORK if drawing else UploadKind.FONT, text)
        except NotFound:
            continue  # the engine says what it thinks of the name
        files = artworks if drawing else fonts
        files[text] = str(store.path_of(found.digest))
        digests.append(found.digest)
    catalogues = tuple(catalogue_files)
    shop = request.get("shop")
    own = catalogue_file_of(store, shop["version"]) if shop and "version" in shop else None
    if own is not None:
        digests.append(own[0])
        catalogues += (str(own[1]),)
    resources = Resources(catalogues, fonts, artworks, shared_folder)
    return resources, tuple(digests)
