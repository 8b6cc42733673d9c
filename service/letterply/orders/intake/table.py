"""A table as spreadsheets export it in, entries with their places out.

Commas, semicolons, tabs and bars are told apart by the heading: the one that splits it into the
most known columns. A first row `sep=;` is heeded. Quoted cells may hold line ends (RFC 4180).
Empty rows are passed over, as are columns without a heading when they are empty throughout.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator

from letterply.orders.intake.model import COLUMNS, MAX_LINES, Entry, Mistake

__all__ = ["read_table"]

_DELIMITERS = ",;\t|"
_MAX_CELL = 4000


def read_table(text: str) -> tuple[list[Entry], list[Mistake]]:
    """Return the entries of a table and what is wrong with the table itself.

    Args:
        text: a heading with names of `COLUMNS` in any order, then a row a line.

    """
    text, skipped, forced = _without_hint(text)
    if "\0" in text:
        row = text.count("\n", 0, text.index("\0")) + 1 + skipped
        return [], [
            Mistake(
                "bad-table",
                "The table is not plain text.",
                "a CSV file, as a spreadsheet exports it",
                row=row,
            )
        ]
    delimiter = forced or _delimiter(text)
    rows = _rows(text, delimiter, skipped)
    entries: list[Entry] = []
    mistakes: list[Mistake] = []
    heading: dict[int, str] | None = None
    stray: dict[int, int] = {}
    for row, cells, wrong in rows:
        if wrong:
            mistakes.append(
                Mistake("bad-table", wrong, "a CSV file, as a spreadsheet exports it", row=row)
            )
            break
        if not any(cell.strip() for cell in cells):
            continue
        if heading is None:
            heading, found = _heading(cells, row)
            mistakes += found
            if any(m.code == "no-heading" for m in found):
                break
            continue
        number = len(entries) + 1
        if number > MAX_LINES:
            mistakes.append(
                Mistake(
                    "too-many-lines",
                    f"The order has more than {MAX_LINES} lines.",
                    f"at most {MAX_LINES} lines in an order",
                    number,
                    row,
                )
            )
            break
        places = {name: at + 1 for at, name in heading.items()}
        given = {n: cells[at].strip() for at, n in heading.items() if at < len(cells)}
        entry = Entry(number, {n: c for n, c in given.items() if c}, row, places)
        entries.append(entry)
        for at, cell in enumerate(cells):
            if cell.strip() and at not in heading:
                stray.setdefault(at, row)
    if heading is None and not mistakes:
        mistakes.append(_no_heading(1 + skipped))
    for at, row in stray.items():
        mistakes.append(
            Mistake(
                "unnamed-column",
                f"Column {at + 1} has values but no heading.",
                "a heading for every column in use",
                row=row,
                column_number=at + 1,
            )
        )
    if heading is not None and not entries and not mistakes:
        mistakes.append(Mistake("no-lines", "The order has no lines.", "at least one line"))
    return entries, mistakes


def _without_hint(text: str) -> tuple[str, int, str | None]:
    """Return the text without a `sep=` row, how many rows that took, and what it says."""
    first, end, rest = text.partition("\n")
    hint = first.rstrip("\r").strip('"')
    if end and len(hint) == 5 and hint.lower().startswith("sep=") and hint[4] in _DELIMITERS:
        return rest, 1, hint[4]
    return text, 0, None


def _delimiter(text: str) -> str:
    """Return the delimiter that splits the heading into the most known columns."""

    def known(delimiter: str) -> int:
        for _, cells, wrong in _rows(text, delimiter, 0):
            if wrong or any(c.strip() for c in cells):
                return sum(_named(c) in COLUMNS for c in cells)
        return 0

    return max(_DELIMITERS, key=known)


def _rows(text: str, delimiter: str, skipped: int) -> Iterator[tuple[int, list[str], str]]:
    """Yield rows as (number of their first text line, cells, what is wrong)."""
    # Line ends as they are: the reader wants to see those inside quotes.
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
    while True:
        row = reader.line_num + 1 + skipped
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as exc:
            yield row, [], _in_words(str(exc))
            return
        long = next((c for c in cells if len(c) > _MAX_CELL), None)
        if long is not None:
            yield row, [], f"A cell has more than {_MAX_CELL} characters: a quote may be missing."
            return
        yield row, cells, ""


def _lines(text: str) -> Iterator[str]:
    """Yield the lines of a text; old line ends of a single return count too."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    start = 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end + 1
        yield text[start:end]
        start = end


def _in_words(said: str) -> str:
    if "unexpected end of data" in said:
        return "A quoted cell that starts here is never closed."
    if "expected after" in said:
        return "Text follows the closing quote of a cell."
    if "field larger than" in said:
        return "A cell is far too long: a quote may be missing."
    return "This row cannot be read as a table."


def _named(cell: str) -> str:
    return cell.strip().lower()


def _no_heading(row: int) -> Mistake:
    expected = f"a first row that names the columns: {', '.join(COLUMNS)}"
    return Mistake("no-heading", "The first row has no column called 'text'.", expected, row=row)


def _heading(cells: list[str], row: int) -> tuple[dict[int, str], list[Mistake]]:
    """Return place -> column, and what is wrong with the heading."""
    found: dict[int, str] = {}
    mistakes: list[Mistake] = []
    for at, cell in enumerate(cells):
        name = _named(cell)
        if not name:
            continue
        if name not in COLUMNS:
            code, says = "unknown-column", f"There is no column called {cell.strip()[:40]!r}."
        elif name in found.values():
            code, says = "duplicate-column", f"There are two columns called {name!r}."
        else:
            found[at] = name
            continue
        mistakes.append(Mistake(code, says, _COLUMNS, 0, row, cell.strip()[:40], at + 1))
        found[at] = f"?{at}"
    if "text" not in found.values():
        return {}, [_no_heading(row)]
    return found, mistakes


_COLUMNS = f"one of: {', '.join(COLUMNS)}"
