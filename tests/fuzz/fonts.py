"""Mutated fonts: small sound ones of every kind, damaged by rule and by chance."""

from __future__ import annotations

import io
import random
import struct
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTCollection, TTFont

from letterply.lettering.fonts.library import shipped_faces

__all__ = ["SOUND", "mutated_font", "sound_font"]

SOUND = ("glyf", "variable", "CFF", "woff", "woff2", "collection", "Arabic")


def _small(path: Path, text: str = "Avocet Knot 27") -> TTFont:
    font = TTFont(path)
    options = Options(layout_features=["*"], notdef_outline=True)
    subsetter = Subsetter(options)
    subsetter.populate(text=text)
    subsetter.subset(font)
    return font


def _bytes(font: TTFont | TTCollection) -> bytes:
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


@lru_cache
def sound_font(kind: str) -> bytes:
    """Return a small font of a kind that can be used."""
    faces = shipped_faces()
    if kind == "CFF":
        package = find_spec("font_source_serif_pro")
        assert package is not None
        assert package.origin is not None
        folder = Path(package.origin).parent / "files"
        return _bytes(_small(folder / "SourceSerifPro-Regular.otf"))
    if kind == "variable":
        return _bytes(_small(faces["oswald"].path))
    if kind == "Arabic":
        return _bytes(_small(faces["noto-sans-arabic"].path, "بحر قارب"))
    if kind == "collection":
        both = TTCollection()
        both.fonts = [_small(faces[k].path) for k in ("varela-round", "lobster")]
        return _bytes(both)
    font = _small(faces["varela-round"].path)
    if kind in ("woff", "woff2"):
        font.flavor = kind
    return _bytes(font)


_EXTREMES = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)


def mutated_font(seed: int) -> bytes:
    """Return a damaged font; the same for the same seed."""
    rng = random.Random(seed)
    data = bytearray(sound_font(SOUND[seed % len(SOUND)]))
    for _ in range(rng.choice((1, 1, 2, 5, 30))):
        rng.choice((_flip, _extreme, _directory, _cut, _double, _swap))(rng, data)
        if len(data) < 8:
            break
    return bytes(data)


def _flip(rng: random.Random, data: bytearray) -> None:
    for _ in range(rng.randrange(1, 20)):
        data[rng.randrange(len(data))] = rng.randrange(256)


def _extreme(rng: random.Random, data: bytearray) -> None:
    """Write a figure at the edge of its type over a field."""
    value = rng.choice(_EXTREMES)
    size = rng.choice((2, 4))
    at = rng.randrange(max(len(data) - size, 1)) // 2 * 2
    data[at : at + size] = value.to_bytes(4, "big")[-size:]


def _directory(rng: random.Random, data: bytearray) -> None:
    """Point an entry of the table directory elsewhere, or give it another length."""
    entries = (len(data) - 12) // 16
    if entries < 1:
        return
    entry = 12 + 16 * rng.randrange(min(entries, 8))
    field = rng.choice((8, 12))
    value = rng.choice((*_EXTREMES, rng.randrange(len(data)), len(data) - 1))
    struct.pack_into(">I", data, entry + field, value & 0xFFFFFFFF)


def _cut(rng: random.Random, data: bytearray) -> None:
    del data[rng.randrange(8, len(data) + 1) :]


def _double(rng: random.Random, data: bytearray) -> None:
    start = rng.randrange(len(data))
    piece = data[start : start + rng.randrange(1, 600)]
    at = rng.randrange(len(data))
    data[at:at] = piece * rng.choice((1, 2, 50))


def _swap(rng: random.Random, data: bytearray) -> None:
    size = rng.randrange(1, 200)
    a, b = rng.randrange(len(data)), rng.randrange(len(data))
    data[a : a + size], data[b : b + size] = data[b : b + size], data[a : a + size]
