"""Orders as values: lines as they were read, lines as they are to be made, mistakes with places.

Terms: an *entry* is a line of an order as it was written, each cell still text or a JSON value;
a *line* is an entry that holds, its recipe complete. A *mistake* says what is wrong and where:
`line` counts the lines of the order from 1, `row` is the number of the text line in the file at
which the entry starts (0 for JSON), `column` the name of the column or field.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from letterply.errors import InputError
from letterply.orders.codec import Facts
from letterply.storage import canonical_json, digest

__all__ = [
    "COLUMNS",
    "MAX_LINES",
    "MAX_PIECES",
    "Entry",
    "Mistake",
    "OrderLine",
    "refused",
]

MAX_LINES = 1000
"""Lines in an order."""

MAX_PIECES = 5000
"""Copies in an order, all lines together."""

COLUMNS = ("text", "recipe", "quantity", "font", "size", "material", "reference")
"""What a line may say; all but `text` may be left out."""

_MOST_TOLD = 500


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing that is wrong with an order.

    Attributes:
        code: stable name of the kind of mistake.
        message: one sentence for a person.
        expected: what would be right, in words.
        line: number of the line, from 1; 0 for the order itself.
        row: text line of the file, from 1; 0 for JSON.
        column: name of the column or field, empty for the whole line.
        column_number: which column of the file, from 1; 0 where there is none.

    """

    code: str
    message: str
    expected: str = ""
    line: int = 0
    row: int = 0
    column: str = ""
    column_number: int = 0

    def facts(self) -> dict[str, object]:
        """Return the mistake as JSON values; what does not apply is left out."""
        found: dict[str, object] = {"line": self.line}
        if self.row:
            found["row"] = self.row
        if self.column:
            found["column"] = self.column
        if self.column_number:
            found["column_number"] = self.column_number
        return {**found, "code": self.code, "message": self.message, "expected": self.expected}


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of an order as it was written.

    Attributes:
        number: from 1.
        cells: column -> text, or the JSON value of the field; what is empty is left out.
        row: text line of the file where it starts, from 1; 0 for JSON.
        columns: column -> number of the column in the file, from 1; empty for JSON.

    """

    number: int
    cells: Facts
    row: int = 0
    columns: Mapping[str, int] = field(default_factory=dict)

    def mistake(self, column: str, code: str, message: str, expected: str = "") -> Mistake:
        """Return a mistake in one of its cells; a field's path may follow the column's name."""
        at = self.columns.get(column.partition(".")[0], 0)
        return Mistake(code, message, expected, self.number, self.row, column, at)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A line that is to be made.

    Attributes:
        number: from 1; the first part of its marks.
        text: its lettering.
        quantity: how many copies.
        recipe: complete recipe of one copy, normalised JSON values.
        recipe_name: which one it is, empty for its own.
        reference: what the customer calls it, may be empty.

    """

    number: int
    text: str
    quantity: int
    recipe: Facts = field(hash=False)
    recipe_name: str = ""
    reference: str = ""

    @property
    def hand_minutes(self) -> float:
        """Handwork on one copy, as its recipe states it."""
        minutes = self.recipe.get("hand_minutes", 0.0)
        return float(minutes) if isinstance(minutes, int | float) else 0.0

    @property
    def finishing(self) -> tuple[str, ...]:
        """What is done to it at the bench, as its recipe states it."""
        steps = self.recipe.get("finishing")
        return tuple(map(str, steps)) if isinstance(steps, list | tuple) else ()

    @property
    def design(self) -> str:
        """Key of its design: lines with the same recipe have the same one."""
        return digest(canonical_json(dict(self.recipe)))


def refused(mistakes: Sequence[Mistake]) -> InputError:
    """Return the error that says why an order is not accepted: all mistakes, in their order."""
    told = sorted(mistakes, key=lambda m: (m.line, m.row, m.column_number, m.column, m.code))
    first = told[0]
    place = f"Line {first.line} of the order: " if first.line else ""
    more = f" There are {len(told)} mistakes in all." if len(told) > 1 else ""
    return InputError(
        f"The order was not accepted. {place}{first.message}{more}",
        code="order-not-accepted",
        field=f"lines.{first.line}.{first.column}" if first.line and first.column else None,
        expected=first.expected or None,
        data={"mistake_count": len(told), "mistakes": [m.facts() for m in told[:_MOST_TOLD]]},
    )
