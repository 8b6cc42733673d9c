"""Fonts out of bytes: vetted, unpacked, one face picked out of a collection.

Untrusted bytes belong in a worker process: what is parsed here is limited in size, not in time.
"""

from __future__ import annotations

import io
import struct

from fontTools.ttLib import TTFont

from letterply.errors import FontError, InputError
from letterply.lettering.fonts.font import Font
from letterply.units import counted

__all__ = ["load_font"]

_MAX_BYTES = 40_000_000
_MAX_UNPACKED = 200_000_000
_MAX_FACES = 64
_SIGNATURES = (b"\0\1\0\0", b"OTTO", b"true", b"wOFF", b"wOF2", b"ttcf")
_OUTLINES = frozenset({"glyf", "CFF ", "CFF2"})


def load_font(key: str, data: bytes, *, face: int | str | None = None, field: str = "font") -> Font:
    """Return the font in `data`: TrueType, CFF, variable, WOFF, WOFF2, or one of a collection.

    `face` picks a face of a collection, by its place from 0 or by its name; None takes the first.

    Raises:
        FontError: `not-a-font`, `font-unreadable`, `font-too-large`, `font-without-outlines`,
            naming `field`.
        InputError: `unknown-face`, naming `face` beside `field`.

    """
    if not data.startswith(_SIGNATURES):
        raise FontError(
            "The file is not a font.",
            code="not-a-font",
            field=field,
            expected="a TTF, OTF, TTC, WOFF or WOFF2 file",
        )
    if len(data) > _MAX_BYTES or _unpacked_size(data) > _MAX_UNPACKED:
        raise FontError(
            "The font file is too large.",
            code="font-too-large",
            field=field,
            expected=f"at most {_MAX_BYTES // 1_000_000} MB, "
            f"{_MAX_UNPACKED // 1_000_000} MB unpacked",
        )
    try:
        faces = _face_names(data) if data.startswith(b"ttcf") else ()
        number = _pick(key, faces, face, field)
        plain = _plain(data, number)
        tables = TTFont(io.BytesIO(plain), lazy=True)
        if not _OUTLINES & set(tables.keys()):
            raise FontError(
                "The font has no outlines to cut (bitmaps or colour pictures only).",
                code="font-without-outlines",
                field=field,
                expected="a font with TrueType or CFF outlines",
            )
        font = Font(key, plain, faces=faces)
        if not 16 <= font.units_per_em <= 16384 or not font.characters:
            raise FontError(
                "The font has no characters, or a unit that makes no sense.",
                code="font-unreadable",
                field=field,
                expected="16 to 16384 units an em and a character map",
            )
        # Reading every table that a request may touch now turns a late surprise into an answer.
        _ = font.facts, font.harfbuzz, font.outline(0)
    except InputError as exc:
        raise (exc if exc.field else exc.at(field)) from exc
    except Exception as exc:  # broken files make fontTools raise errors of any kind
        raise FontError(
            f"The font file cannot be read ({type(exc).__name__}).",
            code="font-unreadable",
            field=field,
            expected="a whole TTF, OTF, TTC, WOFF or WOFF2 file",
        ) from exc
    return font


def _unpacked_size(data: bytes) -> int:
    """Return what a packed font says of its size unpacked (field totalSfntSize, W3C WOFF), or 0."""
    if not data.startswith((b"wOFF", b"wOF2")) or len(data) < 20:
        return 0
    return int(struct.unpack_from(">I", data, 16)[0])


def _face_names(data: bytes) -> tuple[str, ...]:
    """Return the full names of the faces of a collection."""
    count = struct.unpack_from(">I", data, 8)[0]
    if not 1 <= count <= _MAX_FACES:
        raise FontError(
            f"The file holds {counted(count, 'font')}.",
            code="font-unreadable",
            expected=f"1 to {_MAX_FACES} fonts",
        )
    names: list[str] = []
    for number in range(count):
        tables = TTFont(io.BytesIO(data), fontNumber=number, lazy=True)
        table = tables.get("name")
        name = (table.getDebugName(4) or table.getDebugName(1)) if table else None
        names.append(str(name or f"font {number}").strip()[:200])
    return tuple(names)


def _pick(key: str, faces: tuple[str, ...], face: int | str | None, field: str) -> int:
    """Return the place of the face that was asked for."""
    if face is None or face == 0:
        return 0
    wanted = str(face).strip().lower()
    for number, name in enumerate(faces):
        if wanted in (str(number), name.lower()):
            return number
    raise InputError(
        f"The file of the font {key!r} holds no font {face!r}.",
        code="unknown-face",
        field=f"{field.rpartition('.')[0]}.face".lstrip("."),
        expected="one of: " + ", ".join(f"{n} ({name})" for n, name in enumerate(faces))
        if faces
        else "no number: the file holds a single font",
        data={"faces": list(faces)},
    )


def _plain(data: bytes, number: int) -> bytes:
    """Return the font as an uncompressed file of its own."""
    if not data.startswith((b"ttcf", b"wOFF", b"wOF2")):
        return data
    tables = TTFont(io.BytesIO(data), fontNumber=number, lazy=True)
    tables.flavor = None
    plain = io.BytesIO()
    tables.save(plain, reorderTables=None)
    return plain.getvalue()
