"""A line cut into runs of one script, one direction and one font, as shaping needs them.

Text in, runs in logical order out. Signs that all scripts share take the script of what stands
before them. The font of a run is the first of those on offer that has the characters: a letter
and its marks are never parted, and a font is left only where it must be.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from fontTools import unicodedata as scripts

from letterply.lettering.fonts.font import Font
from letterply.lettering.setting.bidi import base_level, embedding_levels

__all__ = ["Run", "grapheme_starts", "itemise", "missing_in"]

_SHARED = ("Zyyy", "Zinh", "Zzzz")
_JOINER = "\u200d"


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a line that is shaped at once.

    Attributes:
        start, end: its characters.
        script: ISO 15924 code.
        level: embedding level; odd runs right to left.
        font: place of its font among those on offer.

    """

    start: int
    end: int
    script: str
    level: int
    font: int


def itemise(text: str, fonts: Sequence[Font], *, direction: str = "auto") -> list[Run]:
    """Return the runs of a line in logical order; none for an empty line.

    `direction` is that of the line: `ltr`, `rtl`, or `auto` for what its first strong character
    says.
    """
    base = {"ltr": 0, "rtl": 1}.get(direction, base_level(text))
    levels = embedding_levels(text, base)
    written = _scripts(text)
    chosen = _fonts(text, fonts)
    runs: list[Run] = []
    start = 0
    for i in range(1, len(text) + 1):
        if i < len(text) and (written[i], levels[i], chosen[i]) == (
            written[start],
            levels[start],
            chosen[start],
        ):
            continue
        runs.append(Run(start, i, written[start], levels[start], chosen[start]))
        start = i
    return runs


def _scripts(text: str) -> list[str]:
    found: list[str] = []
    before = "Zyyy"
    for character in text:
        own = scripts.script(character)
        if own in _SHARED or before in scripts.script_extension(character):
            own = before
        found.append(own)
        before = own
    first = next((s for s in found if s not in _SHARED), "Zyyy")
    return [first if s in _SHARED else s for s in found]


def grapheme_starts(text: str) -> list[int]:
    """Return where the letters of a text start, each with the marks that belong to it.

    Marks, joined and modified emoji, flags and Hangul syllables of several jamo stay together
    (the main rules of Unicode Standard Annex #29).

    >>> grapheme_starts("e\u0301a")
    [0, 2]

    """
    starts: list[int] = []
    flags = 0
    for i, character in enumerate(text):
        before = text[i - 1] if i else ""
        flag = "\U0001f1e6" <= character <= "\U0001f1ff"
        flags = flags + 1 if flag else 0
        stays = i > 0 and (
            unicodedata.category(character) in ("Mn", "Mc", "Me")
            or character == _JOINER
            or (before == _JOINER and unicodedata.category(character) == "So")
            or "\U0001f3fb" <= character <= "\U0001f3ff"
            or (flag and flags % 2 == 0)
            or ("\u1160" <= character <= "\u11ff" and "\u1100" <= before <= "\u11ff")
        )
        if not stays:
            starts.append(i)
    return starts


def _fonts(text: str, fonts: Sequence[Font]) -> list[int]:
    """Return for each character the place of its font; 0 where none has it."""
    if len(fonts) == 1:
        return [0] * len(text)
    starts = grapheme_starts(text)
    chosen = [0] * len(text)
    before = 0
    for start, end in zip(starts, [*starts[1:], len(text)], strict=True):
        letter = text[start:end]
        if letter.isspace():
            found = before
        else:
            order = [n for n in range(len(fonts)) if missing_in(letter, fonts[n]) is None]
            found = order[0] if order else 0
        chosen[start:end] = [found] * (end - start)
        before = found
    return chosen


def missing_in(letter: str, font: Font) -> int | None:
    """Return the place in `letter` of the first character that the font cannot show, or None.

    A letter with marks may be held composed or taken apart; what is never seen is never missing.
    """
    for form in (letter, unicodedata.normalize("NFC", letter)):
        if all(font.has(c) or _unseen(c) for c in form):
            return None
    for place, character in enumerate(letter):
        apart = unicodedata.normalize("NFD", character)
        if not (font.has(character) or _unseen(character) or all(font.has(c) for c in apart)):
            return place
    return None


def _unseen(character: str) -> bool:
    """Whether a character has no shape of its own: format controls, variation selectors."""
    return (
        unicodedata.category(character) in ("Cf", "Cc")
        or "\ufe00" <= character <= "\ufe0f"
        or "\U000e0100" <= character <= "\U000e01ef"
        or character in "\u034f\u115f\u1160\u3164"
    )
