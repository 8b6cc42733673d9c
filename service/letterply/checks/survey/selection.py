"""Which glyphs of a font are looked at: a named set, the glyphs of a text, or some characters.

A font can hold 60,000 glyphs: a selection is looked at page by page, `MAX_GLYPHS` at most at once.
"""

from __future__ import annotations

import string
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from letterply.errors import InputError, UnknownName
from letterply.lettering import Font, shape_line

__all__ = ["ALL", "GLYPH_SETS", "MAX_GLYPHS", "Chosen", "Selection", "choose_glyphs"]

MAX_GLYPHS = 2000
"""Glyphs of one page."""

ALL = "all"
"""Name of the set of every glyph, in the order of the font."""


def _letters(first: int, last: int) -> str:
    points = (chr(p) for p in range(first, last + 1))
    return "".join(c for c in points if unicodedata.category(c)[0] in "LNPS")


GLYPH_SETS: dict[str, str] = {
    "digits": string.digits,
    "latin-basic": _letters(0x21, 0x7E),
    "latin-extended": _letters(0x21, 0x7E) + _letters(0xA1, 0x17F),
}
"""Name -> characters: letters, numbers, punctuation and symbols of these Unicode blocks."""


@dataclass(frozen=True, slots=True)
class Selection:
    """What to look at: exactly one of the three, and which page of it.

    Attributes:
        name: a key of `GLYPH_SETS`, or `ALL`; empty for none.
        text: a text, as it would be set; empty for none.
        characters: characters, each on its own; empty for none.
        first: how many glyphs are left out at the start.
        count: how many are looked at, at most.

    """

    name: str = ""
    text: str = ""
    characters: str = ""
    first: int = 0
    count: int = MAX_GLYPHS


@dataclass(frozen=True, slots=True)
class Chosen:
    """The glyphs of a page.

    Attributes:
        glyphs: number of each glyph and what it stands for; empty where it has no character.
        missing: characters that the font does not have.
        total: how many glyphs the whole selection has.

    """

    glyphs: tuple[tuple[int, str], ...]
    missing: tuple[str, ...]
    total: int


def choose_glyphs(font: Font, selection: Selection, *, field: str = "") -> Chosen:
    """Return the glyphs of a page of a selection, each once, in the order of the selection.

    `field` is the path of the request's fields, for errors.

    Raises:
        UnknownName: `unknown-set`; InputError: `too-many-glyphs`; GlyphMissing: for a text.

    """
    path = f"{field}." if field else ""
    if selection.count > MAX_GLYPHS:
        raise InputError(
            f"{selection.count} glyphs are too many for one survey.",
            code="too-many-glyphs",
            field=f"{path}count",
            expected=f"at most {MAX_GLYPHS}; ask for the rest with 'first'",
        )
    missing: tuple[str, ...] = ()
    if selection.text:
        every = _of_text(font, selection.text, f"{path}text")
    elif selection.name == ALL:
        every = _all(font)
    else:
        characters = selection.characters
        if selection.name:
            if selection.name not in GLYPH_SETS:
                raise UnknownName("set", selection.name, (*GLYPH_SETS, ALL), field=f"{path}set")
            characters = GLYPH_SETS[selection.name]
        every, missing = _of_characters(font, characters)
    page = every[selection.first : selection.first + selection.count]
    return Chosen(tuple(page), missing, len(every))


def _all(font: Font) -> list[tuple[int, str]]:
    named: dict[int, str] = {}
    for point in sorted(font.characters):
        glyph = font.harfbuzz.get_nominal_glyph(point)
        if glyph:
            named.setdefault(glyph, chr(point))
    return [(glyph, named.get(glyph, "")) for glyph in range(font.glyph_count)]


def _of_characters(
    font: Font, characters: Iterable[str]
) -> tuple[list[tuple[int, str]], tuple[str, ...]]:
    found: dict[int, str] = {}
    missing: list[str] = []
    for character in dict.fromkeys(characters):
        if character.isspace():
            continue
        glyph = font.harfbuzz.get_nominal_glyph(ord(character))
        if glyph:
            found.setdefault(glyph, character)
        else:
            missing.append(character)
    return list(found.items()), tuple(missing)


def _of_text(font: Font, text: str, field: str) -> list[tuple[int, str]]:
    found: dict[int, str] = {}
    offset = 0
    for line in text.splitlines():
        shaped = shape_line(font, line, offset=offset, field=field)
        for glyph in shaped.glyphs:
            said = shaped.cluster_text(glyph.cluster).strip()
            if said:
                found.setdefault(glyph.glyph, said)
        offset += len(line) + 1
    return list(found.items())
