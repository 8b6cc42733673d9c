"""Marks: what every part of an order is called, `line.copy.letter.layer`.

The letter is what the part carries, as it can be written with a drag point: letters and digits of
ASCII; otherwise its number in reading order. A part without letters is `0`. Marks are unique in
an order: lines and copies are numbers, and letters are made unique within a layer.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from letterply.stacks import Layer

__all__ = ["letter_names", "mark_of", "mark_order"]

_PLAIN = re.compile(r"[A-Za-z0-9]{1,10}")
_MARK = re.compile(r"(\d+)\.(\d+)\.(.*)")


def letter_names(layers: Sequence[Layer]) -> dict[tuple[int, int], str]:
    """Return (number of the layer, number of the part) -> `letter.layer`, unique in the stack."""
    found: dict[tuple[int, int], str] = {}
    used: set[str] = set()
    for at, layer in enumerate(layers):
        plain_layer = re.sub(r"[^A-Za-z0-9-]+", "-", layer.name)
        for number, part in enumerate(layer.parts):
            plain = part.letters if _PLAIN.fullmatch(part.letters) else ""
            if not plain:
                first = part.letter_indices[0] + 1 if part.letter_indices else 0
                plain = str(first)
            name, count = f"{plain}.{plain_layer}", 1
            while name.lower() in used:
                count += 1
                name = f"{plain}-{count}.{plain_layer}"
            used.add(name.lower())
            found[at, number] = name
    return found


def mark_of(line: int, copy: int, letter_name: str) -> str:
    """Return the mark of a part.

    >>> mark_of(7, 1, "A.face")
    '7.1.A.face'

    """
    return f"{line}.{copy}.{letter_name}"


def mark_order(mark: str) -> tuple[int, int, str]:
    """Return what marks are sorted by: line and copy as numbers, then the rest.

    >>> sorted(["10.1.A.face", "2.1.A.face"], key=mark_order)
    ['2.1.A.face', '10.1.A.face']

    """
    found = _MARK.fullmatch(mark)
    return (int(found[1]), int(found[2]), found[3]) if found else (0, 0, mark)
