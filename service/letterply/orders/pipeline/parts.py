"""All parts of an order, one by one: those of its copies, and what is made to help with them.

Terms: a *helper* is an assembly frame, one a line however many copies it has; a *kind of blank* is
one shape, size, material and way to be held: lines on blanks of one kind share a *board*, the
fixture whose pockets hold them, one an order. A board belongs to no line: its line is 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from letterply.orders.intake.model import OrderLine
from letterply.orders.pipeline.marks import mark_of

__all__ = ["Listed", "board_marks", "board_parts", "boards", "kinds_of_blanks", "line_parts"]

Made = Mapping[str, Any]
"""The answer of the task of a line."""


@dataclass(frozen=True, slots=True)
class Listed:
    """One part of an order.

    Attributes:
        mark: what it is called.
        copy: of its line.
        layer, part: what the task of its line told of them.

    """

    mark: str
    copy: int
    layer: Mapping[str, Any]
    part: Mapping[str, Any]


def line_parts(line: OrderLine, made: Made) -> Iterator[Listed]:
    """Yield the parts of a line that was made: copy after copy, then its helpers."""
    for copy in range(1, line.quantity + 1):
        for layer in made["layers"]:
            yield from _parts(line.number, copy, layer)
    for layer in made["helpers"]:
        yield from _parts(line.number, 1, layer)


def kinds_of_blanks(
    lines: Sequence[OrderLine], made: Sequence[Made]
) -> dict[str, list[tuple[OrderLine, Mapping[str, Any]]]]:
    """Return each kind of blank with the lines on it, each with its layer, in their order."""
    found: dict[str, list[tuple[OrderLine, Mapping[str, Any]]]] = {}
    for line, m in zip(lines, made, strict=True):
        for layer in m["layers"] if m["ok"] else ():
            if layer["blank"] is not None:
                found.setdefault(layer["blank"]["kind"], []).append((line, layer))
    return found


def boards(lines: Sequence[OrderLine], made: Sequence[Made]) -> list[dict[str, Any]]:
    """Return the boards as layers, in the order of the lines; the kind's number is their letter."""
    return [board for board in _boards(lines, made).values() if board is not None]


def board_parts(lines: Sequence[OrderLine], made: Sequence[Made]) -> Iterator[Listed]:
    """Yield the boards of an order as parts."""
    for layer in boards(lines, made):
        yield from _parts(0, 1, layer)


def board_marks(lines: Sequence[OrderLine], made: Sequence[Made]) -> dict[str, str]:
    """Return the mark of the board of each kind of blank; empty for one that is held otherwise."""
    return {
        kind: mark_of(0, 1, board["parts"][0]["name"]) if board else ""
        for kind, board in _boards(lines, made).items()
    }


def _boards(lines: Sequence[OrderLine], made: Sequence[Made]) -> dict[str, dict[str, Any] | None]:
    found: dict[str, dict[str, Any] | None] = {}
    for number, (kind, members) in enumerate(kinds_of_blanks(lines, made).items(), start=1):
        board = members[0][1]["blank"]["board"]
        found[kind] = None
        if board is not None:
            (part,) = board["parts"]
            name = f"{number}.{part['name'].partition('.')[2]}"
            found[kind] = {**board, "parts": [{**part, "name": name}]}
    return found


def _parts(line: int, copy: int, layer: Mapping[str, Any]) -> Iterator[Listed]:
    for part in layer["parts"]:
        yield Listed(mark_of(line, copy, part["name"]), copy, layer, part)
