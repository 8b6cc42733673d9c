"""Names that people give, as papers, programs and file systems can bear them.

Text in, text out. Terms: a *bidi control* is a character without ink that turns what stands around
it (Unicode Standard Annex #9); in a name it can make one text look like another.
"""

from __future__ import annotations

import re
import unicodedata

from letterply.said import Said, named, say

__all__ = [
    "ascii_mark",
    "ascii_text",
    "device_free",
    "file_name",
    "in_sentence",
    "key_words",
    "layer_words",
    "plain_text",
    "sentence",
    "visible",
]

_UNSEEN = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\u00ad\u2028\u2029]")
"""Bidi controls, marks of byte order, soft hyphens, separators of lines and paragraphs."""

_UNSAFE = re.compile(r"[^A-Za-z0-9._-]+")
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)
"""Names that one common system takes for devices, whatever their extension."""

_MAX_NAME = 100


def visible(text: str) -> str:
    r"""Return text without characters that have no ink and change how the rest is read.

    >>> visible("Avocet\u202e 7"), visible("\u05d0\u200f")
    ('Avocet 7', 'א')

    """
    return _UNSEEN.sub("", text)


def plain_text(text: str, *, lines: bool = False) -> str:
    r"""Return text without anything but visible signs and single blanks; with `lines`, line ends.

    >>> plain_text(" Ada\u202e\x00\tPlover\n"), plain_text("a  b\r\n\n\n\nc", lines=True)
    ('Ada Plover', 'a b\n\nc')

    """
    whole = visible(text.replace("\r\n", "\n").replace("\r", "\n"))
    told = (" ".join(_UNPRINTED.sub(" ", line).split()) for line in whole.split("\n"))
    if not lines:
        return " ".join(filter(None, told))
    return re.sub(r"\n{3,}", "\n\n", "\n".join(told)).strip()


_UNPRINTED = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufff9-\uffff]")
"""Control characters, halves of characters, and what Unicode keeps for itself."""

_SPELT = {"ß": "ss", "ẞ": "SS", "×": "x", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "ł": "l",
          "Ł": "L", "œ": "oe", "Œ": "OE", "þ": "th", "Þ": "Th", "ð": "d", "Ð": "D", "đ": "d",
          "Đ": "D", "ı": "i", "–": "-", "—": "-", "’": "'", "‘": "'"}  # fmt: skip
"""What Unicode takes apart no further, as it is usually spelt."""


def ascii_text(text: str) -> str:
    """Return text in plain ASCII for people: accents are dropped, other letters are code points.

    >>> ascii_text("Große Möwe"), ascii_text("Жй 12 × 3 mm²")
    ('Grosse Mowe', 'U+0416 U+0439 12 x 3 mm2')

    """
    found: list[str] = []
    for character in unicodedata.normalize("NFC", visible(text)):
        if character.isascii():
            found.append(character)
            continue
        plain = _SPELT.get(character) or _ascii(unicodedata.normalize("NFKD", character))
        if not plain and unicodedata.category(character)[0] in "LN":
            plain = _code_point(character, found)
        found.append(plain)
    return "".join(found)


def ascii_mark(text: str) -> str:
    """Return a mark in plain ASCII; different marks stay different.

    >>> ascii_mark("1.face.Жй"), ascii_mark("1.face.é"), ascii_mark("1.face.e")
    ('1.face.U+0416 U+0439', '1.face.U+00E9', '1.face.e')

    """
    found: list[str] = []
    for character in visible(text):
        found.append(character if character.isascii() else _code_point(character, found))
    return "".join(found)


def _code_point(character: str, before: list[str]) -> str:
    # Set off from the one before: both are hexadecimal digits of any length.
    gap = " " if before and before[-1].lstrip().startswith("U+") else ""
    return f"{gap}U+{ord(character):04X}"


def _ascii(text: str) -> str:
    return text.encode("ascii", "ignore").decode()


def in_sentence(name: str) -> Said:
    """Return the name of a thing as it stands in the midst of a sentence: short, in lower case.

    What follows a comma is left out; words in capitals and designations stay.

    >>> in_sentence("Birch plywood"), in_sentence("MDF"), in_sentence("1 mm end mill, 1 flute")
    ('birch plywood', 'MDF', '1 mm end mill')
    >>> in_sentence("Aluminium 6061-T6"), in_sentence("Drag point, 120 degrees")
    ('aluminium 6061-T6', 'drag point')

    """
    short = name.partition(",")[0].strip() or name
    first = short.split(" ")[0]
    capitals = first[1:] != first[1:].lower()
    return named(short if capitals else first.lower() + short[len(first) :])


def sentence(text: str) -> Said:
    """Return a text as whole sentences: a capital in front, a full stop at the end.

    >>> sentence("a gap stays uncut"), sentence("1 mm is too thin."), sentence("")
    ('A gap stays uncut.', '1 mm is too thin.', '')

    """
    told = text.strip()
    end = "" if not told or told[-1] in ".!?" else "."
    whole = f"{told[:1].upper()}{told[1:]}{end}"
    if isinstance(text, Said):
        return Said(whole, text.template, text.values, whole=True)
    return Said(whole)


def key_words(key: str) -> Said:
    """Return the key of a catalogue in words, where its name is not at hand.

    >>> key_words("birch-plywood")
    'birch plywood'

    """
    return named(key.replace("-", " ").replace("_", " "))


def layer_words(name: str) -> Said:
    """Return what a layer is called in the midst of a sentence.

    >>> layer_words("face"), layer_words("top layer"), layer_words("tag-fixture")
    ('the face layer', 'the top layer', 'the tag-fixture')

    """
    last = re.split("[ _-]", name.lower())[-1]
    if last in ("layer", "fixture", "frame"):
        return say("the {layer}", layer=name)
    return say("the {layer} layer", layer=name)


def device_free(name: str) -> str:
    """Return a name that is no device to any common system.

    >>> device_free("con"), device_free("Nul.svg"), device_free("console")
    ('_con', '_Nul.svg', 'console')

    """
    return f"_{name}" if _RESERVED.match(name) else name


def file_name(name: str, *, fallback: str = "file") -> str:
    """Return a file name that every common system takes: no folder, no blank, plain ASCII.

    >>> file_name("../Avocet rack sign: n° 1.svg"), file_name("Увага"), file_name("nul.txt")
    ('Avocet-rack-sign-n-1.svg', 'file', '_nul.txt')

    """
    plain = _UNSAFE.sub("-", name)
    plain = re.sub(r"-?\.-?", ".", re.sub(r"\.{2,}", ".", plain)).strip(".-_ ")
    if not plain:
        return fallback
    plain = device_free(plain)
    if len(plain) <= _MAX_NAME:
        return plain
    stem, dot, extension = plain.rpartition(".")
    if not dot or len(extension) > 8:
        return plain[:_MAX_NAME]
    return stem[: _MAX_NAME - len(extension) - 1] + dot + extension
