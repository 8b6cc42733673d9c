"""Documents that flow over pages: headings, paragraphs, tables and cautions, one below the other.

Each is written at the cursor, which moves down by it; what does not fit goes on to the next page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from letterply.exports.papers.pdf_drawing import Align, Pages
from letterply.exports.primitives.captions import INK, QUIET
from letterply.exports.primitives.palette import FINDING_COLOUR

__all__ = ["TICK", "Column", "Document"]

TICK = "\u25a1"
"""A cell of a table that holds this alone is a box to tick."""

_GAP_MM = 3.0
"""Between figures at the right of a column and the words beside them."""

_TOGETHER = 8
"""So many lines of a paragraph are not parted by the end of a page."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Attributes:
        heading: at its top.
        width_mm: how wide it is.
        right: True for figures, which stand flush right.

    """

    heading: str
    width_mm: float
    right: bool = False

    @property
    def align(self) -> Align:
        """Where its text stands."""
        return "right" if self.right else "left"


class Document(Pages):
    """A PDF document in the making, `y_mm` its cursor."""

    y_mm = 0.0

    @property
    def room_mm(self) -> float:
        """Height that is left on the page."""
        return self.size_mm[1] - self.margin_mm - self.y_mm

    def page(self, size_mm: tuple[float, float] | None = None, *, foot: bool = True) -> None:
        """Begin a page and put the cursor at its top, see `Pages.page`."""
        super().page(size_mm, foot=foot)
        self.y_mm = self.margin_mm

    def need(self, height_mm: float) -> None:
        """Go on to the next page when so much does not fit on this one."""
        if self.room_mm < height_mm:
            self.page()

    def heading(self, text: str, size_mm: float = 6.0, quiet: str = "") -> None:
        """Write a heading at the cursor, a quieter line below."""
        lines = self.wrapped(text, size_mm, self.width_mm, bold=True)[:2]
        # Not at the foot of a page, with what it heads on the next one.
        self.need(len(lines) * size_mm * 1.25 + 18)
        for line in lines:
            self.y_mm += size_mm
            self.text(line, self.margin_mm, self.y_mm, size_mm, bold=True)
            self.y_mm += 0.25 * size_mm
        for line in self.wrapped(quiet, 3.4, self.width_mm)[:3]:
            self.y_mm += 4.4
            self.text(line, self.margin_mm, self.y_mm, 3.4, colour=QUIET)
        self.y_mm += 3.0

    def paragraph(
        self,
        text: str,
        *,
        size_mm: float = 3.4,
        bold: bool = False,
        colour: str = INK,
        indent_mm: float = 0.0,
        lead: str = "",
    ) -> None:
        """Write text at the cursor, broken into lines; `lead` stands before the first one.

        A short one stays together.
        """
        x = self.margin_mm + indent_mm
        lines = self.wrapped(text, size_mm, self.width_mm - indent_mm, bold=bold)
        if len(lines) <= _TOGETHER:
            self.need(len(lines) * size_mm * 1.4)
        for number, line in enumerate(lines):
            self.need(size_mm * 1.4)
            self.y_mm += size_mm * 1.35
            if lead and not number:
                self.text(lead, self.margin_mm, self.y_mm, size_mm, bold=True, colour=colour)
            self.text(line, x, self.y_mm, size_mm, bold=bold, colour=colour)

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        size_mm: float = 3.1,
        bold_rows: frozenset[int] = frozenset(),
    ) -> None:
        """Write a table at the cursor; it goes on over pages, its heading repeated."""
        self._table_heading(columns, size_mm)
        for number, row in enumerate(rows):
            bold = number in bold_rows
            cells = [
                self.wrapped(
                    cell, size_mm, column.width_mm - (1 + _GAP_MM if column.right else 2), bold=bold
                )
                or [""]
                for cell, column in zip(row, columns, strict=True)
            ]
            height = max(len(c) for c in cells) * size_mm * 1.3 + 1.4
            if self.room_mm < height:
                self.page()
                self._table_heading(columns, size_mm)
            x = self.margin_mm
            for lines, column in zip(cells, columns, strict=True):
                if lines == [TICK]:
                    self.box(x + 1, self.y_mm + 0.9, 3.0, 3.0, stroke=INK)
                    lines = []
                for at, line in enumerate(lines):
                    y = self.y_mm + (at + 1) * size_mm * 1.3
                    side = x + column.width_mm - _GAP_MM if column.right else x + 1
                    self.text(line, side, y, size_mm, bold=bold, align=column.align)
                x += column.width_mm
            self.y_mm += height
            self.line(self.margin_mm, self.y_mm, x, self.y_mm, width_mm=0.1, colour="#C8C8C8")
        self.y_mm += 3.0

    def _table_heading(self, columns: Sequence[Column], size_mm: float) -> None:
        self.need(3 * size_mm * 1.6)
        self.y_mm += size_mm * 1.3
        x = self.margin_mm
        for column in columns:
            side = x + column.width_mm - _GAP_MM if column.right else x + 1
            self.text(
                column.heading, side, self.y_mm, size_mm, bold=True, colour=QUIET,
                align=column.align,
            )  # fmt: skip
            x += column.width_mm
        self.y_mm += 1.2
        self.line(self.margin_mm, self.y_mm, x, self.y_mm, width_mm=0.3)
        self.y_mm += 0.4

    def caution(self, lines: Sequence[str]) -> None:
        """Write cautions at the cursor, set off by a bar at their left."""
        if not lines:
            return
        size = 3.2
        broken = [self.wrapped(t, size, self.width_mm - 6) for t in lines]
        height = sum(len(b) for b in broken) * size * 1.35 + len(lines) * 0.8 + 2
        self.need(min(height, 60.0))
        top = self.y_mm
        self.y_mm += 1.0
        for part in broken:
            for line in part:
                self.y_mm += size * 1.35
                self.text(line, self.margin_mm + 5, self.y_mm, size)
            self.y_mm += 0.8
        self.y_mm += 1.2
        self.box(self.margin_mm, top, 1.6, self.y_mm - top, fill=FINDING_COLOUR)
        self.y_mm += 3.0
