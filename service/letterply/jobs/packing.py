"""Values of the engine to bytes and back: what a stored answer is made of.

In: frozen dataclasses of letterply with all that they hold: numbers, text, enums, tuples,
mappings, arrays, shapes. Out: one message (MessagePack; arrays as they lie in memory, shapes as
WKB), and from it the same values again. Nothing in a message is run: it names classes, and only
dataclasses and enums of letterply are taken. A value that is met twice is written once.

Terms: an *object* is a value that the message keeps in its table: a dataclass, an enum's member,
an array, a shape, a text with its words. Wherever it occurs there stands its number.
"""

from __future__ import annotations

import dataclasses
import importlib
import zlib
from collections.abc import Mapping
from enum import Enum
from typing import Any

import msgpack
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from letterply import ENGINE_VERSION
from letterply.errors import LetterplyError
from letterply.said import Said

__all__ = ["Runs", "pack", "unpack"]

_FORMAT = 1
_OBJECT = 1
_AS_IT_IS = frozenset({type(None), bool, bytes, int, float, str})
_LARGE_BYTES = 1 << 16
"""Arrays from here on are written as runs of equal cells: height fields are mostly flat."""


Runs = dict[int, tuple[np.ndarray[Any, Any], list[Any]]]
"""Large arrays by their ids, each with its entry: none is written as runs twice for one job."""


def pack(value: Any, runs: Runs | None = None) -> bytes:
    """Return a value of the engine as a message.

    Args:
        value: what to pack.
        runs: large arrays that were packed before and have not changed since; those of the value
            are added.

    Raises:
        TypeError: it holds something that a message can not: a function, another class.

    """
    packer = _Packer({} if runs is None else runs)
    root = packer.put(value)
    message = [_FORMAT, ENGINE_VERSION, list(packer.classes), packer.objects, root]
    return bytes(msgpack.packb(message))


def unpack(data: bytes) -> Any:
    """Return the value that was packed.

    Raises:
        LetterplyError: `answer-outdated`, the message is of another version or none of ours.

    """
    try:
        form, version, classes, objects, root = msgpack.unpackb(
            data, strict_map_key=False, use_list=False
        )
        if (form, version) == (_FORMAT, ENGINE_VERSION):
            return _Unpacker([_class(name) for name in classes]).read(objects, root)
    except (ValueError, TypeError, AttributeError, ImportError, LookupError, zlib.error) as exc:
        raise _outdated() from exc
    raise _outdated()


def _outdated() -> LetterplyError:
    return LetterplyError(
        "The stored answer is of another version of the service: ask for it again.",
        code="answer-outdated",
    )


def _class(name: str) -> type:
    module, _, qualified = name.partition(":")
    if module.split(".")[0] != "letterply":
        raise ValueError(f"{name} is none of letterply's")
    found = getattr(importlib.import_module(module), qualified)
    if not (dataclasses.is_dataclass(found) or issubclass(found, Enum)):
        raise ValueError(f"{name} is no value")
    return found  # type: ignore[no-any-return]


def _names(kind: type) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(kind))


class _Packer:
    """Puts values into a message, objects first into its table."""

    def __init__(self, runs: Runs) -> None:
        self.runs = runs
        self.classes: dict[str, int] = {}
        self.objects: list[Any] = []
        self._numbers: dict[int, msgpack.ExtType] = {}
        self._alive: list[Any] = []  # ids stay unique only as long as their values live
        self._fields: dict[type, tuple[str, ...]] = {}

    def put(self, value: Any) -> Any:
        """Return what stands for a value in the message."""
        if type(value) in _AS_IT_IS:
            return value
        if isinstance(value, Enum):
            return self._object(value, lambda: ["e", self._named(type(value)), value.value])
        if isinstance(value, Said):
            return self._object(value, lambda: ["s", *map(self.put, value.__getnewargs__())])
        if isinstance(value, str):
            return str(value)
        if isinstance(value, int | np.integer):
            return int(value)
        if isinstance(value, float | np.floating):
            return float(value)
        if isinstance(value, tuple | list):
            return [self.put(v) for v in value]
        if isinstance(value, Mapping):
            return {self.put(k): self.put(v) for k, v in value.items()}
        if isinstance(value, np.ndarray):
            return self._object(value, lambda: self._array(value))
        if isinstance(value, BaseGeometry):
            return self._object(value, lambda: ["g", shapely.to_wkb(value)])
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return self._object(value, lambda: self._dataclass(value))
        raise TypeError(f"a message can not hold {type(value).__name__}")

    def _object(self, value: Any, entry: Any) -> msgpack.ExtType:
        known = self._numbers.get(id(value))
        if known is None:
            self.objects.append(entry())
            known = msgpack.ExtType(_OBJECT, (len(self.objects) - 1).to_bytes(4, "big"))
            self._numbers[id(value)] = known
            self._alive.append(value)
        return known

    def _named(self, kind: type) -> int:
        return self.classes.setdefault(f"{kind.__module__}:{kind.__qualname__}", len(self.classes))

    def _dataclass(self, value: Any) -> list[Any]:
        kind = type(value)
        if kind not in self._fields:
            self._fields[kind] = _names(kind)
        return ["d", self._named(kind), [self.put(getattr(value, f)) for f in self._fields[kind]]]

    def _array(self, value: np.ndarray[Any, Any]) -> list[Any]:
        if value.nbytes < _LARGE_BYTES:
            return ["a", value.dtype.str, value.shape, np.ascontiguousarray(value).tobytes()]
        if id(value) not in self.runs:
            self.runs[id(value)] = value, self._as_runs(value)
        return self.runs[id(value)][1]

    @staticmethod
    def _as_runs(value: np.ndarray[Any, Any]) -> list[Any]:
        # Bit by bit: what is no number and a nought below nought come back as they were.
        cells = np.ascontiguousarray(value).ravel().view(f"u{value.dtype.itemsize}")
        last = np.append(np.flatnonzero(cells[1:] != cells[:-1]), len(cells) - 1)
        lengths = np.diff(last, prepend=-1).astype(np.uint32)
        runs = [zlib.compress(part.tobytes(), 1) for part in (cells[last], lengths)]
        return ["r", value.dtype.str, value.shape, *runs]


class _Unpacker:
    """Reads a message: its table from the front, each object from those before it."""

    def __init__(self, classes: list[type]) -> None:
        self._classes = classes
        self._fields = {k: _names(k) for k in classes if dataclasses.is_dataclass(k)}
        self._objects: list[Any] = []

    def read(self, objects: tuple[Any, ...], root: Any) -> Any:
        """Return the value that the message stands for."""
        for entry in objects:
            self._objects.append(self._entry(*entry))
        return self._value(root)

    def _value(self, stored: Any) -> Any:
        if isinstance(stored, msgpack.ExtType):
            return self._objects[int.from_bytes(stored.data, "big")]
        if isinstance(stored, tuple):
            return tuple(self._value(v) for v in stored)
        if isinstance(stored, dict):
            return {self._value(k): self._value(v) for k, v in stored.items()}
        return stored

    def _entry(self, kind: str, *facts: Any) -> Any:
        if kind == "g":
            return shapely.from_wkb(facts[0])
        if kind == "s":
            text, template, values, whole = facts
            return Said(text, template, self._value(values), whole)
        if kind == "a":
            dtype, shape, data = facts
            return np.frombuffer(data, np.dtype(dtype)).reshape(shape)
        if kind == "r":
            dtype, shape, *runs = facts
            cells = np.frombuffer(zlib.decompress(runs[0]), np.dtype(dtype))
            lengths = np.frombuffer(zlib.decompress(runs[1]), np.uint32)
            return np.repeat(cells, lengths).reshape(shape)
        found, rest = self._classes[facts[0]], facts[1]
        if kind == "e":
            return found(rest)
        # As it was when it was packed: its own checks have been passed.
        made = found.__new__(found)
        for name, stored in zip(self._fields[found], rest, strict=True):
            object.__setattr__(made, name, self._value(stored))
        return made
