"""The bytes of a text file in, its text out, where the encoding can be told for certain.

Told are: a byte order mark (UTF-8, UTF-16, UTF-32), UTF-8 by its own rules, UTF-16 without a
mark by its zero bytes, and what the sender declares. One-byte encodings look alike to a
program: a file in one of them is refused unless it is declared, so that no name is cut wrong.
"""

from __future__ import annotations

import codecs

from letterply.errors import InputError

__all__ = ["decode_text"]

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    # UTF-32 first: its little-endian mark starts with that of UTF-16.
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)

_DECLARABLE = frozenset(
    ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "ascii", "mac-roman", "koi8-r")
    + ("cp437", "cp850", "cp852", *(f"cp{n}" for n in range(1250, 1259)))
    + tuple(f"iso8859-{n}" for n in (1, 2, 5, 7, 9, 15))
    + ("shift_jis", "cp932", "euc_jp", "euc_kr", "cp949", "gb18030", "gbk", "big5")
)
"""Names of the codecs registry; other codecs, such as those that unpack or execute, are not
reached."""

_PROBE = 4096


def decode_text(data: bytes, declared: str | None = None) -> str:
    """Return the text of a file.

    Args:
        data: the file.
        declared: name of the encoding that its sender gives, as in `text/csv; charset=...`.

    Raises:
        InputError: `unknown-encoding` when it can not be told, `bad-encoding` when the bytes are
            not in the encoding that they claim.

    >>> decode_text("Große Möwe".encode("cp1252"), "windows-1252")
    'Große Möwe'

    """
    for mark, name in _MARKS:
        if data.startswith(mark):
            return _decoded(data, name)
    if declared:
        return _decoded(data, _known(declared)).removeprefix("\ufeff")
    by_zeros = _utf16_by_zeros(data)
    if by_zeros:
        return _decoded(data, by_zeros)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as exc:
        row = data.count(b"\n", 0, exc.start) + 1
        raise InputError(
            f"Row {row} cannot be read: the file is not saved as UTF-8.",
            code="unknown-encoding",
            expected="a file saved as UTF-8, or the name of its encoding (charset)",
            data={"row": row, "byte": exc.start},
        ) from exc


def _known(declared: str) -> str:
    try:
        name = codecs.lookup(declared.strip().strip("\"'")).name
    except (LookupError, ValueError):
        name = ""
    if name not in _DECLARABLE:
        raise InputError(
            f"There is no encoding called {declared[:40]!r}.",
            code="unknown-encoding",
            expected="utf-8, utf-16, windows-1252 or another encoding of plain text",
        )
    return name


def _utf16_by_zeros(data: bytes) -> str | None:
    """Return which UTF-16 it is: a row of plain letters and delimiters has a zero in each pair."""
    probe = data[:_PROBE]
    even, odd = probe[0::2], probe[1::2]
    if not odd or b"\0" not in probe:
        return None
    if odd.count(0) > 0.7 * len(odd) and not even.count(0):
        return "utf-16-le"
    if even.count(0) > 0.7 * len(even) and not odd.count(0):
        return "utf-16-be"
    return None


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode(name)
    except UnicodeDecodeError as exc:
        row = data.count(b"\n", 0, exc.start) + 1
        raise InputError(
            f"Row {row} cannot be read: the rest is {name.removesuffix('-sig').upper()}.",
            code="bad-encoding",
            expected="a file saved in one encoding throughout",
            data={"row": row, "byte": exc.start},
        ) from exc
