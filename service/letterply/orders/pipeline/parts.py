"""All parts of an order, one by one: those of its copies, and what is made to help with them.

Terms: a *helper* is an assembly frame, one a line however many copies it has; a *kind of blank* is
one shape, size, material and way to be held: lines on blanks of one kind share a *board*, the
fixture whose pockets hold them, one an order. A board belongs to no line: its line is 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from letterply.orders.intake.model import OrderLine
from letterply.orders.pipeline.answers import (
    BlankAnswer,
    LayerAnswer,
    LineLayers,
    PartAnswer,
    Problem,
    StackLayer,
)
from letterply.orders.pipeline.marks import mark_of

__all__ = ["Listed", "board_marks", "board_parts", "boards", "kinds_of_blanks", "line_parts"]

Made = LineLayers | Problem
"""What came of a line."""


@dataclass(frozen=True, slots=True)
class Listed:
    """One part of an order.

    Attributes:
        mark: what it is called.
        copy: of its line.
        layer, part: what its line told of them.

    """

    mark: str
    copy: int
    layer: LayerAnswer
    part: PartAnswer


def line_parts(line: OrderLine, made: LineLayers) -> Iterator[Listed]:
    """Yield the parts of a line that was made: copy after copy, then its helpers."""
    for copy in range(1, line.quantity + 1):
        for layer in made.layers:
            yield from _parts(line.number, copy, layer)
    for helper in made.helpers:
        yield from _parts(line.number, 1, helper)


def kinds_of_blanks(
    lines: Sequence[OrderLine], made: Sequence[Made]
) -> dict[str, list[tuple[OrderLine, StackLayer]]]:
    """Return each kind of blank with the lines on it, each with its layer, in their order."""
    found: dict[str, list[tuple[OrderLine, StackLayer]]] = {}
    for line, layer, blank in _blanks(lines, made):
        found.setdefault(blank.kind, []).append((line, layer))
    return found


def boards(lines: Sequence[OrderLine], made: Sequence[Made]) -> list[LayerAnswer]:
    """Return the boards as layers, in the order of the lines; the kind's number is their letter."""
    return [board for board in _boards(lines, made).values() if board is not None]


def board_parts(lines: Sequence[OrderLine], made: Sequence[Made]) -> Iterator[Listed]:
    """Yield the boards of an order as parts."""
    for layer in boards(lines, made):
        yield from _parts(0, 1, layer)


def board_marks(lines: Sequence[OrderLine], made: Sequence[Made]) -> dict[str, str]:
    """Return the mark of the board of each kind of blank; empty for one that is held otherwise."""
    return {
        kind: mark_of(0, 1, board.parts[0].name) if board else ""
        for kind, board in _boards(lines, made).items()
    }


def _boards(lines: Sequence[OrderLine], made: Sequence[Made]) -> dict[str, LayerAnswer | None]:
    """Return the board of each kind of blank, the first that was made for it."""
    firsts: dict[str, LayerAnswer | None] = {}
    for _, _, blank in _blanks(lines, made):
        firsts.setdefault(blank.kind, blank.board)
    return {
        kind: board and _numbered(board, number)
        for number, (kind, board) in enumerate(firsts.items(), start=1)
    }


def _numbered(board: LayerAnswer, number: int) -> LayerAnswer:
    (part,) = board.parts
    name = f"{number}.{part.name.partition('.')[2]}"
    return replace(board, parts=(replace(part, name=name),))


def _blanks(
    lines: Sequence[OrderLine], made: Sequence[Made]
) -> Iterator[tuple[OrderLine, StackLayer, BlankAnswer]]:
    for line, m in zip(lines, made, strict=True):
        for layer in () if isinstance(m, Problem) else m.layers:
            if layer.blank is not None:
                yield line, layer, layer.blank


def _parts(line: int, copy: int, layer: LayerAnswer) -> Iterator[Listed]:
    for part in layer.parts:
        yield Listed(mark_of(line, copy, part.name), copy, layer, part)
