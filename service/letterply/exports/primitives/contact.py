"""Several of our own pictures on one page, side by side. SVG text in and out, y down."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from letterply.exports.primitives.numbers import number

__all__ = ["side_by_side"]

_ROOT = re.compile(r'<svg [^>]*?viewBox="0 0 (\d+) (\d+)"[^>]*>', re.DOTALL)
_WIDE = 1000.0
_GAP = 20.0


def side_by_side(pictures: Sequence[str]) -> str:
    """Return one picture that shows all of them, in rows of about equal width.

    Args:
        pictures: made by `letterply.exports`: their root has a view box from 0 0.

    Raises:
        ValueError: with no picture, or one whose root is none of ours.

    """
    if not pictures:
        raise ValueError("no picture to show")
    if len(pictures) == 1:
        return pictures[0]
    columns = math.ceil(math.sqrt(len(pictures)))
    found: list[str] = []
    y = 0.0
    for first in range(0, len(pictures), columns):
        row = pictures[first : first + columns]
        tallest = 0.0
        for column, picture in enumerate(row):
            root = _ROOT.search(picture)
            if root is None:
                raise ValueError("a picture without a view box cannot be placed")
            width, height = float(root[1]), float(root[2])
            scaled = _WIDE * height / width
            tallest = max(tallest, scaled)
            body = picture[root.end() :].replace(' id="title"', "").replace(' id="description"', "")
            found.append(
                f'<svg x="{number(column * (_WIDE + _GAP))}" y="{number(y)}" '
                f'width="{number(_WIDE)}" height="{number(scaled)}" '
                f'viewBox="0 0 {root[1]} {root[2]}">{body}'
            )
        y += tallest + _GAP
    width = columns * (_WIDE + _GAP) - _GAP
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" '
        f'height="{number(y - _GAP)}" viewBox="0 0 {number(width)} {number(y - _GAP)}">\n'
        + "\n".join(found)
        + "</svg>\n"
    )
