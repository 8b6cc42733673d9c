"""A request for an order in, the order out: whole and vetted, or refused with every mistake.

An order comes as JSON with `lines`, as a table (CSV), or as JSON with a table beside it. Its
normal form decides its id: what was asked for, not how it was written down.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from letterply.catalogue import Catalogue, resolve_shop
from letterply.errors import InputError, shown
from letterply.names import visible
from letterply.orders.intake.cells import BadCell, clean_text
from letterply.orders.intake.charset import decode_text
from letterply.orders.intake.measuring import Measured
from letterply.orders.intake.model import MAX_LINES, Entry, Mistake, OrderLine, refused
from letterply.orders.intake.recipes import shipped_recipes
from letterply.orders.intake.table import read_table
from letterply.orders.intake.vetting import vet_entries
from letterply.orders.quote import PriceRules, price_rules
from letterply.storage import is_digest

__all__ = ["Order", "OrderOptions", "add_measures", "read_order"]

_FIELDS = (
    "title",
    "recipe",
    "recipes",
    "shop",
    "lines",
    "marks",
    "search_s",
    "prices",
    "revises",
)
_MAX_RECIPES = 50
_MAX_SEARCH_S = 600


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

    def facts(self) -> dict[str, Any]:
        """Return the options as JSON values."""
        return {
            "marks": self.marks,
            "search_s": self.search_s,
            "revises": self.revises,
        }


@dataclass(frozen=True, slots=True)
class Order:
    """An order that holds.

    Attributes:
        title: what the maker calls it.
        lines: in the order in which they came.
        shop: machine, cutters, stock and hold-down as asked for.
        options: how it is to be made.
        prices: rules of its quote.

    """

    title: str
    lines: tuple[OrderLine, ...]
    shop: Mapping[str, Any] = field(default_factory=dict, hash=False)
    options: OrderOptions = OrderOptions()
    prices: PriceRules = field(default_factory=PriceRules)

    @property
    def pieces(self) -> int:
        """How many copies there are, all lines together."""
        return sum(line.quantity for line in self.lines)

    def facts(self) -> dict[str, Any]:
        """Return the order as JSON values, in its normal form."""
        return {
            "title": self.title,
            "shop": dict(sorted(self.shop.items())),
            "options": self.options.facts(),
            "prices": self.prices.facts(),
            "lines": [line.facts() for line in self.lines],
        }

    @classmethod
    def from_facts(cls, facts: Mapping[str, Any]) -> Order:
        """Return the order that `facts` described."""
        return cls(
            title=facts["title"],
            lines=tuple(OrderLine.from_facts(f) for f in facts["lines"]),
            shop=facts["shop"],
            options=OrderOptions(**facts["options"]),
            prices=PriceRules(**facts["prices"]),
        )


def read_order(
    request: Mapping[str, Any],
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
        fonts: tells whether a font is on the shelf.
        table: lines as CSV.
        charset: encoding of the table as its sender declares it.

    Raises:
        InputError: `order-not-accepted` with all mistakes of its lines under `mistakes`; another
            code when the order as a whole cannot be read.

    """
    for name in request:
        if name not in _FIELDS:
            raise InputError(
                f"An order has no {shown(name)}.",
                code="unknown-field",
                field=str(name)[:40],
                expected=", ".join(_FIELDS),
            )
    shop_wish = _object(request, "shop")
    shop = resolve_shop(shop_wish, catalogue)
    recipes = {**shipped_recipes(), **_own_recipes(request)}
    usual = request.get("recipe")
    if usual is not None and (not isinstance(usual, str) or usual not in recipes):
        raise InputError(
            f"There is no recipe called {shown(usual, 80)}.",
            code="unknown-recipe",
            field="recipe",
            expected=f"one of: {', '.join(sorted(recipes))}",
        )
    options = _options(request)
    prices = price_rules(_object(request, "prices"))
    if table is not None and "lines" in request:
        raise InputError(
            "The order has lines twice: in the request and in the table.",
            code="unknown-field",
            field="lines",
            expected="either lines or a table",
        )
    if table is not None:
        entries, mistakes = read_table(decode_text(table, charset))
    else:
        entries, mistakes = _entries(request.get("lines"))
    lines, more = vet_entries(entries, recipes, usual, catalogue, shop, fonts)
    mistakes += more
    if mistakes:
        raise refused(mistakes)
    return Order(_title(request), tuple(lines), shop_wish, options, prices)


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


def _title(request: Mapping[str, Any]) -> str:
    raw = request.get("title", "Order")
    try:
        return " ".join(visible(clean_text(raw, "title", most=200)).split()) or "Order"
    except BadCell as bad:
        raise InputError(bad.message, code=bad.code, field="title", expected=bad.expected) from bad


def _object(request: Mapping[str, Any], name: str) -> dict[str, Any]:
    raw = request.get(name)
    if raw is None:
        return {}
    if not isinstance(raw, Mapping):
        raise InputError(
            f"{name} is no object.", code="bad-value", field=name, expected="a JSON object"
        )
    return dict(raw)


def _own_recipes(request: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    own = _object(request, "recipes")
    if len(own) > _MAX_RECIPES:
        raise InputError(
            "The order brings too many recipes.",
            code="too-long",
            field="recipes",
            expected=f"at most {_MAX_RECIPES}",
        )
    for name, recipe in own.items():
        if not isinstance(recipe, Mapping) or not 0 < len(visible(name)) == len(name) <= 80:
            raise InputError(
                f"The recipe {name[:80]!r} is no object, or its name is none.",
                code="bad-recipe",
                field=f"recipes.{name[:80]}",
                expected="an object with title and layers, and lettering where a layer needs it, "
                "under a name of up to 80 characters that can be seen",
            )
    return own


def _options(request: Mapping[str, Any]) -> OrderOptions:
    marks = request.get("marks", "drawn")
    search_s = request.get("search_s", 0)
    revises = request.get("revises") or ""
    if marks not in ("drawn", "scribed"):
        raise InputError(
            f"{shown(marks)} is no way to mark parts.",
            code="unknown-choice",
            field="marks",
            expected="drawn, scribed",
        )
    whole = isinstance(search_s, int) and not isinstance(search_s, bool)
    if not whole or not 0 <= search_s <= _MAX_SEARCH_S:
        raise InputError(
            "search_s is no number of seconds.",
            code="out-of-range",
            field="search_s",
            expected=f"a whole number from 0 to {_MAX_SEARCH_S}",
        )
    if revises and not (isinstance(revises, str) and is_digest(revises)):
        raise InputError(
            "revises is no id of an order.",
            code="bad-value",
            field="revises",
            expected="the id of an earlier order",
        )
    return OrderOptions(marks, search_s, revises)


def _entries(raw: object) -> tuple[list[Entry], list[Mistake]]:
    if not isinstance(raw, list) or not raw:
        raise InputError(
            "The order has no lines.",
            code="no-lines",
            field="lines",
            expected="a list of objects, each with a text",
        )
    mistakes: list[Mistake] = []
    entries: list[Entry] = []
    if len(raw) > MAX_LINES:
        mistakes.append(
            Mistake(
                "too-many-lines",
                f"The order has {len(raw)} lines.",
                f"at most {MAX_LINES} lines an order",
                MAX_LINES + 1,
            )
        )
    for number, item in enumerate(raw[:MAX_LINES], start=1):
        if isinstance(item, str):
            item = {"text": item}
        if not isinstance(item, Mapping):
            mistakes.append(
                Mistake("bad-value", "The line is no object.", "an object with a text", number)
            )
            continue
        entries.append(Entry(number, {k: v for k, v in item.items() if v is not None}))
    return entries, mistakes
