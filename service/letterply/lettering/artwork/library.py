"""The drawings that a request may name, and those that it brings itself."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from letterply.errors import GlyphMissing, InputError, UnknownName
from letterply.lettering.artwork.model import Artwork, ArtworkError
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.font import Font

__all__ = ["ARTWORK_PREFIX", "ArtworkLibrary", "artwork_digest"]

ARTWORK_PREFIX = "art-"
"""How the names of drawings begin."""


def artwork_digest(data: bytes) -> str:
    """Return the id of a drawing: a digest of its file."""
    return ARTWORK_PREFIX + hashlib.blake2b(data, digest_size=12).hexdigest()


class ArtworkLibrary:
    """Drawings by name; reads each once.

    Args:
        files: id of a drawing -> path of its file.

    """

    def __init__(self, files: Mapping[str, str] | None = None) -> None:
        self._files = {key: Path(path) for key, path in (files or {}).items()}
        self._read: dict[tuple[str, str], Artwork] = {}

    def load(
        self, key: str, *, font: Font | None = None, field: str = "artwork", path: str = ""
    ) -> Artwork:
        """Return the drawing called `key`, its texts set in `font`.

        `field` is that of the name, `path` that of the whole wish, for errors.

        Raises:
            UnknownName: `unknown-artwork`, naming `field`.
            ArtworkError: when the file cannot be used.

        """
        if (key, _name(font)) not in self._read:
            file = self._files.get(key)
            if file is None:
                raise UnknownName("artwork", key, tuple(self._files), field=field)
            try:
                data = file.read_bytes()
            except OSError as exc:
                raise ArtworkError(
                    f"The file of the drawing {key!r} is gone.",
                    code="artwork-unreadable",
                    field=field,
                ) from exc
            self._read[key, _name(font)] = _at(key, data, font, field, path)
        return self._read[key, _name(font)]

    def inline(
        self, text: str, *, font: Font | None = None, field: str = "svg", path: str = ""
    ) -> Artwork:
        """Return the drawing in a request's own text; errors as `read_artwork`, naming `field`."""
        data = text.encode()
        key = artwork_digest(data)
        if (key, _name(font)) not in self._read:
            self._read[key, _name(font)] = _at(key, data, font, field, path)
        return self._read[key, _name(font)]


def _name(font: Font | None) -> str:
    return "" if font is None else font.key


def _at(key: str, data: bytes, font: Font | None, field: str, path: str) -> Artwork:
    try:
        return read_artwork(key, data, font)
    except GlyphMissing as exc:
        raise (exc.at(path) if path else exc) from exc
    except InputError as exc:
        raise exc.at(field) from exc
