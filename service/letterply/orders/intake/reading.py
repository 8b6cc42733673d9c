"""A request for an order in, the order out: whole and vetted, or refused with every mistake.

An order comes as JSON with `lines`, as a table (CSV), or as JSON with a table beside it. Its
normal form decides its id: what was asked for, not how it was written down.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from letterply.catalogue import Catalogue, resolve_shop
from letterply.errors import InputError, shown
from letterply.names import visible
from letterply.orders.codec import Facts
from letterply.orders.intake.cells import BadCell, clean_text
from letterply.orders.intake.charset import decode_text
from letterply.orders.intake.measuring import Measured
from letterply.orders.intake.model import MAX_LINES, Entry, Mistake, OrderLine, refused
from letterply.orders.intake.recipes import shipped_recipes
from letterply.orders.intake.table import read_table
from letterply.orders.intake.vetting import vet_entries
from letterply.requests import OrderRequest, PriceRules, read_request

__all__ = ["Order", "OrderOptions", "add_measures", "read_order"]


@dataclass(frozen=True, slots=True)
class OrderOptions:
    """How an order is to be made.

    Attributes:
        marks: `drawn` on drawings and documents only, or `scribed` also on a hidden face.
        search_s: seconds for tighter layouts; 0 for the quick, repeatable way.
        revises: id of an earlier order whose sheets are kept as far as they hold.

    """

    marks: str = "drawn"
    search_s: int = 0
    revises: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """An order that holds.

    Attributes:
        title: what the maker calls it.
        lines: in the order in which they came.
        shop: machine, cutters, stock and hold-down as asked for, in normal form.
        options: how it is to be made.
        prices: rules of its quote.

    """

    title: str
    lines: tuple[OrderLine, ...]
    shop: Facts = field(default_factory=dict, hash=False)
    options: OrderOptions = OrderOptions()
    prices: PriceRules = field(default_factory=PriceRules)

    @property
    def pieces(self) -> int:
        """How many copies there are, all lines together."""
        return sum(line.quantity for line in self.lines)


def read_order(
    request: Facts,
    catalogue: Catalogue,
    fonts: Callable[[str], bool],
    *,
    table: bytes | None = None,
    charset: str | None = None,
) -> Order:
    """Return the order that a request describes.

    Args:
        request: decoded JSON; without `lines` where a table comes beside it.
        catalogue: materials, machines, stock.
        fonts: tells whether a font is in the library.
        table: lines as CSV.
        charset: encoding of the table as its sender declares it.

    Raises:
        InputError: `order-not-accepted` with all mistakes of its lines under `mistakes`; another
            code when the order as a whole cannot be read.

    """
    asked = read_request(OrderRequest, request)
    shop = resolve_shop(asked.shop, catalogue)
    recipes = {**shipped_recipes(), **asked.recipes}
    if asked.recipe is not None and asked.recipe not in recipes:
        raise InputError(
            f"There is no recipe called {shown(asked.recipe, 80)}.",
            code="unknown-recipe",
            field="recipe",
            expected=f"one of: {', '.join(sorted(recipes))}",
        )
    if table is not None and "lines" in request:
        raise InputError(
            "The order has lines both in the request and in a table.",
            code="unknown-field",
            field="lines",
            expected="one of them, not both",
        )
    if table is not None:
        entries, mistakes = read_table(decode_text(table, charset))
    else:
        entries, mistakes = _entries(asked.lines)
    lines, more = vet_entries(entries, recipes, asked.recipe, catalogue, shop, fonts)
    mistakes += more
    if mistakes:
        raise refused(mistakes)
    return Order(
        title=_title(asked.title),
        lines=tuple(lines),
        shop=asked.shop.normal(),
        options=OrderOptions(asked.marks, asked.search_s, asked.revises),
        prices=asked.prices,
    )


def add_measures(order: Order, measures: Sequence[Measured]) -> None:
    """Raise the error that says why an order is refused, when a measure of a line says so.

    Raises:
        InputError: `order-not-accepted`.

    """
    mistakes = [
        Mistake(
            found.code,
            found.message,
            found.expected,
            line.number,
            column=_column(found),
        )
        for line, found in zip(order.lines, measures, strict=True)
        if found.code
    ]
    if mistakes:
        raise refused(mistakes)


def _column(found: Measured) -> str:
    """Return the column that a maker would change."""
    if found.code == "glyph-missing":
        return "text"
    if found.code == "larger-than-any-sheet":
        return "size"
    return found.field


def _title(raw: str) -> str:
    try:
        return " ".join(visible(clean_text(raw, "title", most=200)).split()) or "Order"
    except BadCell as bad:
        raise InputError(bad.message, code=bad.code, field="title", expected=bad.expected) from bad


def _entries(raw: object) -> tuple[list[Entry], list[Mistake]]:
    if not isinstance(raw, list) or not raw:
        raise InputError(
            "The order has no lines.",
            code="no-lines",
            field="lines",
            expected="a list of lines, each with a text",
        )
    mistakes: list[Mistake] = []
    entries: list[Entry] = []
    if len(raw) > MAX_LINES:
        mistakes.append(
            Mistake(
                "too-many-lines",
                f"The order has {len(raw)} lines.",
                f"at most {MAX_LINES} lines in an order",
                MAX_LINES + 1,
            )
        )
    for number, item in enumerate(raw[:MAX_LINES], start=1):
        if isinstance(item, str):
            item = {"text": item}
        if not isinstance(item, Mapping):
            mistakes.append(
                Mistake(
                    "bad-value", "The line is not a JSON object.", "an object with a text", number
                )
            )
            continue
        entries.append(Entry(number, {k: v for k, v in item.items() if v is not None}))
    return entries, mistakes
