"""Values that JSON can hold, and how documents are written: the same bytes each time."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.numbers import rounded
from letterply.said import Said

__all__ = ["Document", "plain", "points_document", "rings_document", "to_json", "words_document"]

Document = dict[str, Any]


def to_json(document: Document, *, compact: bool = False) -> bytes:
    """Return a document as JSON: UTF-8, one space an indent, keys in the order of the document.

    Lists of plain numbers, and of points, stand on one line each: geometry stays readable. What is
    `compact` is for programs alone: one line, written in a fraction of the time.

    Raises:
        ValueError: for a number that JSON does not know (NaN, infinity).

    >>> print(to_json({"name": "é", "at_mm": [[0.0, 1.5], [2.0, 3.0]]}).decode())
    {
     "name": "é",
     "at_mm": [[0.0, 1.5], [2.0, 3.0]]
    }
    <BLANKLINE>

    """
    words = _leaf(document, _COMPACT) if compact else _written(document, 0)
    return (words + "\n").encode("utf-8", errors="replace")


def _written(value: Any, level: int) -> str:
    if isinstance(value, dict) and value:
        inner = [f"{_leaf(str(k))}: {_written(v, level + 1)}" for k, v in value.items()]
        return _block("{", inner, "}", level)
    if isinstance(value, (list, tuple)) and value:
        if _is_flat(value):
            return _leaf(value)
        return _block("[", [_written(v, level + 1) for v in value], "]", level)
    return _leaf(value)


def _block(start: str, inner: list[str], end: str, level: int) -> str:
    indent = " " * (level + 1)
    return f"{start}\n" + ",\n".join(indent + line for line in inner) + f"\n{' ' * level}{end}"


_COMPACT = (",", ":")


def _leaf(value: Any, separators: tuple[str, str] | None = None) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=separators)


def _is_flat(value: Sequence[Any]) -> bool:
    """Whether a list holds only plain values, or only points."""
    return all(not isinstance(v, (dict, list, tuple)) for v in value) or all(
        isinstance(v, (list, tuple)) and v and all(isinstance(n, (int, float)) for n in v)
        for v in value
    )


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it: numbers rounded, what is no plain value as text."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return rounded(float(value)) if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    return str(value)


def words_document(text: str) -> Document | None:
    """Return what a text is made of, to be said in another language; None for what stays as it is.

    `text` is the template in English, `values` what stands in its braces: text or figures that stay
    as they are, lists of them, or documents of this kind.
    """
    if not isinstance(text, Said) or not text.template:
        return None
    words = {"text": text.template, "values": {k: _word(v) for k, v in text.values.items()}}
    return {**words, "whole": True} if text.whole else words


def _word(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        return [_word(one) for one in value]
    return (words_document(value) if isinstance(value, str) else None) or plain(value)


def points_document(points: NDArray[np.float64]) -> list[list[float]]:
    """Return points as [x, y] pairs, mm."""
    return [[rounded(x), rounded(y)] for x, y in points[:, :2].tolist()]


def rings_document(geometry: BaseGeometry) -> list[list[list[float]]]:
    """Return the rings of a region, first point not repeated, each exterior before its holes.

    Exteriors turn counter-clockwise, holes clockwise.
    """
    return [points_document(ring) for ring in region_rings(geometry)]
