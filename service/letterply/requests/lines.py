"""Where in a file a field stands: text and dotted path in, number of the line out.

For files that can be read: what is no TOML or JSON at all is told by their readers.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from typing import Any

__all__ = ["line_of"]

_SPACE = re.compile(r"[\s,:]*")
_UNIT = re.compile(r"_(mm|mm_per_min|mm_per_s2)$")


def line_of(text: str, field: str, *, toml: bool) -> int | None:
    r"""Return the line, from 1, at which a field of a TOML or JSON text ends or, in JSON, begins.

    Of a field that is not there, the line of what should hold it; None for the whole text. A name
    may be written with or without its unit, `diameter` as `diameter_mm`.

    >>> line_of('a = 1\n[b.c]\nd = 2\n', "b.c.d", toml=True)
    3
    >>> line_of('{"a": [1,\n {"b": 2}]}', "a.1.b", toml=False)
    2
    >>> line_of('a = [\n {b = 1},\n {b = 2},\n]\n', "a.0.b", toml=True)
    2

    """
    path = _steps(field)
    find = _toml_line if toml else _json_line
    while path:
        found = find(text, path)
        if found is not None:
            return found
        path = path[:-1]
    return None


def _steps(field: str) -> list[str]:
    return field.split(".")


def _same(name: str, step: str) -> bool:
    return name == step or _UNIT.sub("", name) == _UNIT.sub("", step)


def _holds(value: Any, path: Sequence[str]) -> bool:
    for step in path:
        if isinstance(value, dict):
            inner = [value[name] for name in value if _same(name, step)]
        else:
            at = int(step) if step.isdigit() else -1
            inner = value[at : at + 1] if isinstance(value, list) and at >= 0 else []
        if not inner:
            return False
        value = inner[0]
    return True


def _toml_line(text: str, path: Sequence[str]) -> int | None:
    """Return the first line after which the text so far holds the path: it stays so from there."""
    lines = text.splitlines(keepends=True)
    if not _holds(tomllib.loads(text), path):
        return None
    low, high = 0, len(lines)  # the path is there after `high` lines, and not after `low`
    while high - low > 1:
        for middle in _around(low, high):
            so_far = _begun("".join(lines[:middle]))
            if so_far is not None:
                break
        else:
            return high
        if _holds(so_far, path):
            high = middle
        else:
            low = middle
    return high


def _around(low: int, high: int) -> Iterator[int]:
    middle = (low + high) // 2
    yield from range(middle, high)
    yield from range(middle - 1, low, -1)


def _begun(text: str) -> dict[str, Any] | None:
    """Return what the beginning of a TOML text holds; None in the midst of a value."""
    for end in ("", "\n]"):
        try:
            return tomllib.loads(text + end)
        except tomllib.TOMLDecodeError:
            continue
    return None


def _json_line(text: str, path: Sequence[str]) -> int | None:
    read = json.JSONDecoder().raw_decode
    at = _skip(text, 0)
    for depth, step in enumerate(path, start=1):
        kind, at = text[at], _skip(text, at + 1)
        number = 0
        while text[at] not in "]}":
            name = str(number)
            begin = at
            if kind == "{":
                name, at = read(text, at)
                at = _skip(text, at)
            if _same(name, step) and kind in "{[":
                break
            _, at = read(text, at)
            at, number = _skip(text, at), number + 1
        else:
            return None
        found = begin
        if text[at] not in "{[" and depth < len(path):
            return None
    return text.count("\n", 0, found) + 1


def _skip(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return match.end() if match else at
