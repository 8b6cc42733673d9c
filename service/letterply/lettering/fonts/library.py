"""The font library: families that come with the service, and a shop's own.

Shipped families are packages that announce themselves under the entry point group
`fontpkg.family`; installing another one adds it. A face's key is its family's key,
with the style behind it where it is not the upright regular: `zilla-slab`, `zilla-slab-bold`.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import entry_points
from importlib.resources import files
from pathlib import Path

import uharfbuzz as hb

from letterply.errors import FontError, UnknownName
from letterply.lettering.fonts.font import Font
from letterply.lettering.fonts.loading import load_font

__all__ = ["FontEntry", "FontLibrary", "font_digest", "shipped_faces"]

_GROUP = "fontpkg.family"


@dataclass(frozen=True, slots=True)
class FontEntry:
    """A face of the library.

    Attributes:
        key: name to use in a recipe.
        family: key of its family.
        style: `regular`, `bold`, `italic` ...
        kind: what the family is good for, as `connected script`.
        note: one line for the maker.
        path: its file.
        shipped: False for an own font.

    """

    key: str
    family: str
    style: str
    kind: str
    note: str
    path: Path
    shipped: bool


@lru_cache(maxsize=1)
def shipped_faces() -> Mapping[str, FontEntry]:
    """Return the faces of all installed font packages by key, sorted."""
    known = tomllib.loads(
        (files("letterply.lettering") / "data" / "families.toml").read_text("utf-8")
    )
    faces: dict[str, FontEntry] = {}
    for entry in sorted(entry_points(group=_GROUP), key=lambda e: e.name):
        module = entry.load()
        family = re.sub(r"[^a-z0-9]+", "-", str(module.FAMILY).lower()).strip("-")
        about = known.get(family, {"kind": "other", "note": ""})
        for path in sorted((Path(module.ROOT) / "files").iterdir()):
            if path.suffix.lower() not in (".ttf", ".otf"):
                continue
            style = _style(path.stem)
            key = family if style == "regular" else f"{family}-{style}"
            faces[key] = FontEntry(key, family, style, about["kind"], about["note"], path, True)
    return dict(sorted(faces.items()))


def _style(stem: str) -> str:
    """Return the style in a file name: `ZillaSlab-SemiBoldItalic` -> `semi-bold-italic`."""
    bare = re.sub(r"\[.*\]$", "", stem)
    style = bare.rpartition("-")[2] if "-" in bare else "Regular"
    words = re.findall(r"[A-Z][a-z]*", style)
    return "-".join(w.lower() for w in words) or "regular"


class FontLibrary:
    """All fonts a request may name; loads each once.

    Args:
        own: id of an own font -> path of its file.

    """

    def __init__(self, own: Mapping[str, str] | None = None) -> None:
        self._own = {key: Path(path) for key, path in (own or {}).items()}
        self._loaded: dict[tuple[str, int | str | None], Font] = {}

    def entries(self) -> tuple[FontEntry, ...]:
        """Return every face, shipped ones first."""
        own = (
            FontEntry(key, key, "", "own", "", path, False)
            for key, path in sorted(self._own.items())
        )
        return (*shipped_faces().values(), *own)

    def load(self, key: str, *, face: int | str | None = None, field: str = "font") -> Font:
        """Return the font called `key`; `face` picks one of a collection.

        Raises:
            UnknownName: `unknown-font`, naming `field`.
            FontError: when the file cannot be used.
            InputError: `unknown-face`.

        """
        if (key, face) not in self._loaded:
            entry = shipped_faces().get(key)
            path = entry.path if entry else self._own.get(key)
            if path is None:
                known = (*shipped_faces(), *self._own)
                raise UnknownName("font", key, known, field=field)
            try:
                data = path.read_bytes()
            except OSError as exc:
                raise FontError(
                    f"The file of the font {key!r} is gone.", code="font-unreadable", field=field
                ) from exc
            self._loaded[key, face] = load_font(key, data, face=face, field=field)
        return self._loaded[key, face]

    def having(self, character: str) -> tuple[str, ...]:
        """Return the keys of all fonts that have a character, own ones first."""
        own = [e for e in self.entries() if not e.shipped]
        library = [*own, *(e for e in self.entries() if e.shipped)]
        point = ord(character)
        return tuple(e.key for e in library if point in _characters(str(e.path)))


@lru_cache(maxsize=512)
def _characters(path: str) -> frozenset[int]:
    """Return the code points that a font file maps; none for one that cannot be read."""
    try:
        return frozenset(hb.Face(Path(path).read_bytes()).unicodes)
    except OSError:
        return frozenset()


def font_digest(data: bytes) -> str:
    """Return the id of an own font: a digest of its file."""
    return "own-" + hashlib.blake2b(data, digest_size=12).hexdigest()
