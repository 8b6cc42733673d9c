"""Layers as bytes and back: what one task made, for the next to read.

JSON with geometry as well-known binary, compressed. Only the kinds of values that a layer is made
of are read; anything else in a file is an error, so a file cannot bring anything of its own.
"""

from __future__ import annotations

import json
import zlib
from dataclasses import fields, is_dataclass, replace
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.stacks import Groove, Hole, Layer, Part, Pocket, Scribe

__all__ = ["layer_bytes", "layer_from", "part_bytes"]

_KINDS = {kind.__name__: kind for kind in (Groove, Hole, Layer, Part, Pocket, Scribe)}


def layer_bytes(layer: Layer) -> bytes:
    """Return a layer as bytes, without its repairs and its fixture; same layer, same bytes."""
    return _packed(_plain(replace(layer, repair=None, fixture=None)))


def part_bytes(part: Part) -> bytes:
    """Return a part as bytes; same part, same bytes."""
    return _packed(_plain(part))


def layer_from(data: bytes) -> Layer:
    """Return the layer in `data`; raises `ValueError` for anything else."""
    found = _value(json.loads(zlib.decompress(data)))
    if not isinstance(found, Layer):
        raise ValueError("this is no layer")
    return found


def _packed(value: Any) -> bytes:
    return zlib.compress(json.dumps(value, sort_keys=True, separators=(",", ":")).encode(), 6)


def _plain(value: Any) -> Any:
    if isinstance(value, BaseGeometry):
        return {"wkb": shapely.to_wkb(value, hex=True, byte_order=1)}
    if is_dataclass(value) and type(value).__name__ in _KINDS:
        return {"is": type(value).__name__} | {
            f.name: _plain(getattr(value, f.name)) for f in fields(value)
        }
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, str | int | float | bool):
        return value
    raise TypeError(f"a {type(value).__name__} is not part of a layer")


def _value(raw: Any) -> Any:
    if isinstance(raw, list):
        return tuple(_value(v) for v in raw)
    if isinstance(raw, dict):
        if set(raw) == {"wkb"}:
            return shapely.from_wkb(raw["wkb"])
        return _KINDS[raw["is"]](**{k: _value(v) for k, v in raw.items() if k != "is"})
    return raw
