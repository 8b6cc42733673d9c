"""Pick list and labels of an order: which parts come off which sheet, and where they belong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from letterply.exports.papers.pdf_drawing import wrapped_text
from letterply.exports.papers.pdf_page import TICK, Column, Document
from letterply.exports.primitives.captions import QUIET
from letterply.exports.primitives.label_faces import LabelFaces

__all__ = ["Label", "Pick", "labels_pdf"]

_COLUMNS, _ROWS = 3, 8
_LABEL_MM = (70.0, 37.0)
"""24 labels on an A4 sheet without margins: a usual size (common practice, no source)."""

_TOP_MM = 0.5
_INSET_MM = 4.0


@dataclass(frozen=True, slots=True)
class Pick:
    """What comes off a sheet: its number, what it is, the marks of its parts."""

    sheet: int
    stock: str
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Label:
    """The label of a line: number, words, reference, copies, the marks of its parts."""

    line: int
    text: str
    reference: str
    quantity: int
    marks: tuple[str, ...]


def labels_pdf(
    title: str,
    picks: Sequence[Pick],
    labels: Sequence[Label],
    faces: LabelFaces | None = None,
) -> bytes:
    """Return the pick list, then the labels; a line whose marks are many gets more than one."""
    document = Document(f"{title}: pick list and labels", faces=faces)
    document.page()
    document.heading(
        "Pick list",
        7.0,
        "Which parts come off which sheet. Tick it off when they are sorted.",
    )
    document.table(
        (Column("", 8), Column("sheet", 14), Column("stock", 50), Column("parts", 14, right=True),
         Column("labels", 94)),
        [(TICK, str(p.sheet), p.stock, str(len(p.marks)), ", ".join(p.marks)) for p in picks],
        size_mm=2.9,
    )  # fmt: skip
    pieces = [piece for label in labels for piece in _pieces(label)]
    for start in range(0, len(pieces), _COLUMNS * _ROWS):
        document.page(foot=False)  # labels reach to the edge
        for at, piece in enumerate(pieces[start : start + _COLUMNS * _ROWS]):
            x = (at % _COLUMNS) * _LABEL_MM[0]
            y = _TOP_MM + (at // _COLUMNS) * _LABEL_MM[1]
            _draw(document, piece, x, y)
    return document.finish()


@dataclass(frozen=True, slots=True)
class _Piece:
    label: Label
    lines: tuple[str, ...]
    number: int
    count: int


_MARK_MM = 2.6
_MARK_LINES = 5


def _pieces(label: Label) -> list[_Piece]:
    width = _LABEL_MM[0] - 2 * _INSET_MM
    lines = wrapped_text("  ".join(label.marks), _MARK_MM, width)
    chunks = [tuple(lines[i : i + _MARK_LINES]) for i in range(0, len(lines), _MARK_LINES)]
    chunks = chunks or [()]
    return [_Piece(label, chunk, n, len(chunks)) for n, chunk in enumerate(chunks, start=1)]


def _draw(document: Document, piece: _Piece, x_mm: float, y_mm: float) -> None:
    label = piece.label
    left, right = x_mm + _INSET_MM, x_mm + _LABEL_MM[0] - _INSET_MM
    document.text(str(label.line), left, y_mm + 8.5, 6.0, bold=True)
    words = document.wrapped(label.text, 4.0, _LABEL_MM[0] - 2 * _INSET_MM - 22, bold=True)
    document.text(words[0] if words else "", left + 14, y_mm + 7.6, 4.0, bold=True)
    copies = f"× {label.quantity}" if label.quantity > 1 else ""
    document.text(copies, right, y_mm + 7.6, 4.0, bold=True, align="right")
    facts = [label.reference, f"{piece.number}/{piece.count}" if piece.count > 1 else ""]
    said = " · ".join(filter(None, facts))
    document.text(said, left + 14, y_mm + 12.0, 2.8, colour=QUIET)
    document.line(left, y_mm + 14.0, right, y_mm + 14.0, width_mm=0.15)
    for at, line in enumerate(piece.lines):
        document.text(line, left, y_mm + 17.5 + at * _MARK_MM * 1.4, _MARK_MM)
