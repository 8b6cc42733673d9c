"""What a part is called in a sentence. A part in, "the y on the face layer" out."""

from __future__ import annotations

from letterply.names import layer_words
from letterply.stacks.model import Part

__all__ = ["part_words"]

_LONGEST = 24
"""Letters of a part that are told in full."""


def part_words(part: Part) -> str:
    """Return what a part is called in the midst of a sentence.

    It is told by its letters and its layer; a number is told where letters repeat, the one that
    its label in the pictures ends with.

    >>> from shapely import box
    >>> part_words(Part("face.y-2", "face", box(0, 0, 1, 1), "y"))
    'the y (no. 2) on the face layer'
    >>> part_words(Part("board", "board", box(0, 0, 1, 1)))
    'the board layer'

    """
    stem = f"{part.layer}.{part.letters}" if part.letters else part.layer
    if not part.name.startswith(stem):
        return part.name
    number = part.name[len(stem) + 1 :]
    layer = layer_words(part.layer)
    if not part.letters:
        return f"piece {number} of {layer}" if number else layer
    letters = part.letters
    shown = letters if len(letters) <= _LONGEST else f"{letters[:_LONGEST]}…"
    kind = "the letters " if len(letters) > 1 else "the "
    return f"{kind}{shown} (no. {number}) on {layer}" if number else f"{kind}{shown} on {layer}"
