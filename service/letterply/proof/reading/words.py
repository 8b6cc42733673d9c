"""Lines of a program in, words out: the vocabulary of the subset of RS274/NGC that is read.

A *word* is a letter and a number. *Modal groups* hold words that exclude each other; they follow
NISTIR 6556 (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, NIST, 2000),
Table 4. Comments follow its clause 3.3.4. The limit of 256 characters, the number format and
the range of N are RS274/NGC as commonly described, not checked against the report's text.
Comments after a semicolon are no part of it; small controllers take them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from letterply.shapes import WHOLE

__all__ = ["AXES", "G_GROUPS", "M_GROUPS", "ProgramError", "Words", "read_words", "strip_comments"]

AXES = "XYZ"

MAX_LINE = 256
"""Characters in a line, comments included."""

G_GROUPS: dict[int, int] = {
    0: 1, 10: 1, 20: 1, 30: 1, 800: 1,
    40: 0, 530: 0,
    170: 2,
    900: 3, 910: 3,
    901: 4, 911: 4,
    940: 5,
    200: 6, 210: 6,
    400: 7,
    430: 8, 490: 8,
    540: 12,
    610: 13, 611: 13, 640: 13,
}  # fmt: skip
"""Ten times the number of a G word -> its modal group, NISTIR 6556 Table 4; that of G90.1 and
G91.1, which are not in it, from memory."""

M_GROUPS: dict[int, int] = {0: 4, 1: 4, 2: 4, 30: 4, 6: 6, 3: 7, 4: 7, 5: 7, 7: 8, 8: 8, 9: 8}
"""Number of an M word -> its modal group, NISTIR 6556 Table 4."""

_REFUSED: dict[int, str] = {
    180: "arcs are read in the XY plane (G17) alone",
    190: "arcs are read in the XY plane (G17) alone",
    410: "cutter compensation belongs in the path, not in the machine",
    420: "cutter compensation belongs in the path, not in the machine",
    930: "feeds are read in units a minute (G94) alone",
    280: "where the machine's reference point lies is not known to the proof",
    300: "where the machine's reference point lies is not known to the proof",
    920: "a shifted zero is not known to the proof",
}

_LETTERS = frozenset("GMXYZIJRFSTPNH")
_PLACES = frozenset("XYZIJF")
_MOTIONS = {"0": 0, "1": 10, "2": 20, "3": 30, "00": 0, "01": 10, "02": 20, "03": 30}
_WORD = re.compile(r"([A-Z])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_BLANK = str.maketrans("", "", " \t")
_LIMIT = 1e6
"""Largest magnitude of any number: a kilometre in mm, far beyond any bed."""


class ProgramError(ValueError):
    """A line that the proof cannot read, or that a controller would refuse.

    Attributes:
        code: a key of `letterply.proof.model.FAULT_CODES`.

    """

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(slots=True)
class Words:
    """The words of one line.

    Attributes:
        g: ten times the number of each G word.
        m: numbers of the M words.
        values: letter -> value of every other word, N left out.
        skippable: True when the line starts with the block delete sign.

    """

    g: list[int]
    m: list[int]
    values: dict[str, float]
    skippable: bool


def strip_comments(line: str) -> str:
    """Return a line without comments: in parentheses, not nested, or after a semicolon.

    Raises:
        ProgramError: `syntax` for a parenthesis that is not closed, nested or has no beginning.

    >>> strip_comments("G1 X5 (to the edge) F300 ; slowly (really")
    'G1 X5  F300 '

    """
    if "(" not in line and ")" not in line:
        return line.partition(";")[0]
    kept: list[str] = []
    inside = False
    for sign in line:
        if inside:
            if sign == "(":
                raise ProgramError("syntax", "a comment begins inside a comment")
            inside = sign != ")"
        elif sign == "(":
            inside = True
        elif sign == ")":
            raise ProgramError("syntax", "a comment ends that did not begin")
        elif sign == ";":
            break
        else:
            kept.append(sign)
    if inside:
        raise ProgramError("syntax", "a comment is not closed")
    return "".join(kept)


def read_words(line: str) -> Words:
    """Return the words of one line, checked for letters, numbers and modal groups.

    Raises:
        ProgramError: `syntax`, `unknown-word`, `modal-conflict` or `bad-value`.

    >>> read_words("n20 g1 x +0. 12 34 y7").values
    {'X': 0.1234, 'Y': 7.0}

    """
    if len(line) > MAX_LINE:
        raise ProgramError("syntax", f"{len(line)} characters, {MAX_LINE} are allowed")
    text = strip_comments(line).translate(_BLANK)
    if not text:
        return Words([], [], {}, False)
    if not text.isascii():
        raise ProgramError("syntax", "a sign outside ASCII")
    text = text.upper()
    skippable = text[0] == "/"
    if skippable:
        text = text[1:]
    words = Words([], [], {}, skippable)
    values = words.values
    at = 0
    for letter, digits in _WORD.findall(text):
        if not text.startswith(letter + digits, at):
            break
        # Most words of a program by far.
        if letter in _PLACES and letter not in values and abs(value := float(digits)) <= _LIMIT:
            values[letter] = value
        elif letter == "G" and digits in _MOTIONS:
            words.g.append(_MOTIONS[digits])
        else:
            _take(words, letter, digits, first=at == 0)
        at += 1 + len(digits)
    if at != len(text):
        raise ProgramError("syntax", f"{text[at : at + 12]!r} is no word")
    if len(words.g) > 1:
        _check_groups("G", [(G_GROUPS[g], g / 10) for g in words.g])
    if len(words.m) > 1:
        _check_groups("M", [(M_GROUPS[m], m) for m in words.m])
        if len(words.m) > 4:
            raise ProgramError("modal-conflict", "more than four M words in one line")
    return words


def _take(words: Words, letter: str, digits: str, *, first: bool) -> None:
    value = float(digits)
    if abs(value) > _LIMIT:
        raise ProgramError("bad-value", f"{letter}{digits[:12]} is beyond reach")
    if letter == "G":
        code = round(value * 10)
        if abs(value * 10 - code) > WHOLE or code not in G_GROUPS:
            why = _REFUSED.get(code, "it is not in the subset that the proof reads")
            raise ProgramError("unknown-word", f"G{digits} is refused: {why}")
        words.g.append(code)
    elif letter == "M":
        if value not in M_GROUPS:
            raise ProgramError(
                "unknown-word", f"M{digits} is refused: it is not in the subset that is read"
            )
        words.m.append(int(value))
    elif letter == "N":
        if not first or not digits.isdigit() or len(digits) > 5:
            raise ProgramError("syntax", f"N{digits[:12]} is no line number at the line's start")
    elif letter not in _LETTERS:
        raise ProgramError("unknown-word", f"{letter}{digits} is not in the subset that is read")
    elif letter in words.values:
        raise ProgramError("modal-conflict", f"{letter} stands twice in one line")
    else:
        words.values[letter] = value


def _check_groups(letter: str, members: list[tuple[int, float]]) -> None:
    seen: dict[int, float] = {}
    for group, number in members:
        if group in seen:
            raise ProgramError(
                "modal-conflict",
                f"{letter}{seen[group]:g} and {letter}{number:g} exclude each other",
            )
        seen[group] = number
