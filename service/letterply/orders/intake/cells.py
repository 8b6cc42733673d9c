"""Single cells of an order: text in, a value or a mistake out.

Spreadsheets leave traces: formulas that were not exported as values, error words, decimal
commas. None of these may reach a sign: each is either read for certain or named as a mistake.
"""

from __future__ import annotations

import re
import unicodedata

from letterply.errors import InputError, shown
from letterply.names import visible
from letterply.units import format_mm, parse_length

__all__ = ["BadCell", "clean_text", "read_material", "read_quantity", "read_reference", "read_size"]

_ERROR_WORDS = frozenset(
    ("#REF!", "#NAME?", "#VALUE!", "#DIV/0!", "#N/A", "#NULL!", "#NUM!", "#SPILL!", "#CALC!")
)
_FORMULA = re.compile(r"^\s*(?:=\s*[\w(+\-\"'@]|[@+\-]\s*\w+\s*\()", re.ASCII)
"""What a spreadsheet would compute rather than show."""

_PATH = re.compile(r"(?:^|[/\\])\.\.(?:[/\\]|$)|^[/\\~]|\\|^[A-Za-z]:")
_DECIMAL_COMMA = re.compile(r"^(\s*\d+),(\d{1,3})(\s*[^\d,]*)$")
_MAX_REFERENCE = 80
_MAX_QUANTITY = 1000
_DAMAGED = "\ufffd"


class BadCell(Exception):
    """A cell that does not hold; its arguments are code, message and what is expected."""

    def __init__(self, code: str, message: str, expected: str) -> None:
        super().__init__(message)
        self.code, self.message, self.expected = code, message, expected


def clean_text(value: object, what: str = "text", *, most: int = 2000) -> str:
    """Return a text that may be shown or cut: composed (NFC), line ends as line feeds.

    Raises:
        BadCell: `bad-value`, `too-long`, `formula-cell`, `damaged-text`, `control-character`.

    """
    if not isinstance(value, str):  # a number has many spellings: which one is cut is not ours
        raise BadCell("bad-value", f"The {what} is not text.", "text in quotes")
    text = unicodedata.normalize("NFC", value.replace("\r\n", "\n").replace("\r", "\n"))
    if len(text) > most:
        raise BadCell("too-long", f"The {what} is too long.", f"at most {most} characters")
    if text.strip() in _ERROR_WORDS:
        raise BadCell(
            "formula-cell",
            f"The {what} is an error of the spreadsheet.",
            "the value that was meant",
        )
    if _FORMULA.match(text):
        raise BadCell(
            "formula-cell",
            f"The {what} looks like a spreadsheet formula.",
            "the value, not the formula",
        )
    if _DAMAGED in text:
        raise BadCell(
            "damaged-text",
            f"The {what} was damaged before it came here: it holds the sign for a lost letter.",
            "the text as it was first written, saved as UTF-8",
        )
    for character in text:
        kind = unicodedata.category(character)
        if (kind == "Cc" and character not in "\n\t") or kind in ("Cs", "Co", "Cn"):
            shown = f"U+{ord(character):04X}"
            raise BadCell(
                "control-character",
                f"The {what} has a character in it that cannot be shown ({shown}).",
                "letters, marks, digits, signs and spaces",
            )
    return text


def read_quantity(value: object) -> int:
    """Return how many copies are wanted.

    Raises:
        BadCell: `bad-quantity`.

    """
    given = value
    if isinstance(value, str) and re.fullmatch(r"\d{1,6}", value.strip()):
        given = int(value)
    if isinstance(given, bool) or not isinstance(given, int) or not 1 <= given <= _MAX_QUANTITY:
        raise BadCell(
            "bad-quantity",
            f"{shown(value)} is not a quantity.",
            f"a whole number from 1 to {_MAX_QUANTITY}",
        )
    return given


def read_size(value: object) -> float:
    """Return a size in mm; a decimal comma is read as such.

    Raises:
        BadCell: as `letterply.units.parse_length`, and `out-of-range`.

    >>> read_size("60,5 mm")
    60.5

    """
    if isinstance(value, str):
        comma = _DECIMAL_COMMA.match(value)
        if comma:
            value = f"{comma[1]}.{comma[2]}{comma[3]}"
    try:
        size = parse_length(value)
    except InputError as exc:
        raise BadCell(exc.code, exc.message, exc.expected or "a length") from exc
    if not 0 < size <= 5000:
        raise BadCell(
            "out-of-range",
            f"The size is {format_mm(size)}.",
            f"above {format_mm(0)}, up to {format_mm(5000)}",
        )
    return size


def read_reference(value: object) -> str:
    """Return what a customer calls the line.

    Raises:
        BadCell: as `clean_text`; `bad-reference` for what looks like a path.

    """
    text = " ".join(visible(clean_text(value, "reference", most=_MAX_REFERENCE)).split())
    if _PATH.search(text):
        raise BadCell(
            "bad-reference",
            "The reference looks like a path to a file.",
            "a name or number, as 'boat 7' or '2031/117'",
        )
    return text


def read_material(value: object) -> dict[str, str]:
    """Return layer -> material; the layer is empty for a bare name, which means the top one.

    A cell may name one material, or several as `board: mdf, face: brass`.

    Raises:
        BadCell: `bad-material`.

    >>> read_material("board: mdf; face: brass")
    {'board': 'mdf', 'face': 'brass'}

    """
    expected = "a material, or pairs as 'face: mdf, base: birch-plywood'"
    if isinstance(value, dict):
        pairs = [(str(k), v) for k, v in value.items()]
    else:
        text = clean_text(value, "material", most=400)
        pairs = []
        for item in filter(None, (i.strip() for i in re.split(r"[,;]", text))):
            layer, colon, material = item.partition(":")
            pairs.append((layer.strip(), material.strip()) if colon else ("", layer.strip()))
    found: dict[str, str] = {}
    for layer, material in pairs:
        if not isinstance(material, str) or not material or layer in found:
            raise BadCell("bad-material", f"{shown(value, 60)} names no material.", expected)
        found[layer] = material
    if not found or ("" in found and len(found) > 1):
        raise BadCell("bad-material", f"{shown(value, 60)} names no material.", expected)
    return found
