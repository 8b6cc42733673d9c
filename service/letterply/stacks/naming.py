"""What a part is called in a sentence. A part in, "the y on the face layer" out."""

from __future__ import annotations

from letterply.names import layer_words
from letterply.said import Said, as_it_is, say
from letterply.stacks.model import Part

__all__ = ["letters_words", "part_words"]

_LONGEST = 24
"""Letters of a part that are told in full."""


def part_words(part: Part) -> Said:
    """Return what a part is called in the midst of a sentence.

    It is told by its letters and its layer; a number is told where letters repeat, the one that
    its label in the pictures ends with.

    >>> from shapely import box
    >>> part_words(Part("face.y-2", "face", box(0, 0, 1, 1), "y"))
    'the y (no. 2) on the face layer'
    >>> part_words(Part("board", "board", box(0, 0, 1, 1)))
    'the board layer'

    """
    letters, layer = letters_words(part), layer_words(part.layer)
    if letters is not None:
        return say("{letters} on {layer}", letters=letters, layer=layer)
    if not part.name.startswith(part.layer) or part.letters:
        return as_it_is(part.name)
    number = part.name[len(part.layer) + 1 :]
    return say("piece {number} of {layer}", number=number, layer=layer) if number else layer


def letters_words(part: Part) -> Said | None:
    """Return what a part is called beside others of its layer; None where no letters name it."""
    stem = f"{part.layer}.{part.letters}"
    if not part.letters or not part.name.startswith(stem):
        return None
    number, letters = part.name[len(stem) + 1 :], part.letters
    shown = letters if len(letters) <= _LONGEST else f"{letters[:_LONGEST]}…"
    if len(letters) > 1:
        told = say("the letters {letters}", letters=shown)
    else:
        told = say("the {letter}", letter=shown)
    return say("{letters} (no. {number})", letters=told, number=number) if number else told
