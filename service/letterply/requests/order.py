"""An order as it is asked for: what goes for all of its lines. The lines are vetted one by one."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AliasChoices, Field, WithJsonSchema

from letterply.requests.fields import Figures, Search, mistake
from letterply.requests.prices import PriceRules
from letterply.requests.shop import NamedShop, ShopWish

__all__ = ["OrderRequest"]

_LINE = {
    "anyOf": [
        {"type": "string", "description": "the text alone"},
        {
            "type": "object",
            "properties": {
                "text": {"type": "string"},
                "recipe": {"type": "string", "description": "name of a recipe"},
                "quantity": {"type": ["integer", "string"], "default": 1},
                "font": {"type": "string"},
                "size": {"type": ["string", "number", "object"]},
                "material": {"type": "string"},
                "reference": {"type": "string", "description": "a customer's, unlike all others"},
            },
            "additionalProperties": False,
        },
    ]
}
_ID = re.compile(r"([0-9a-f]{32})?")


def _id_or_nothing(text: str) -> str:
    if not _ID.fullmatch(text):
        raise mistake("bad-value", "This is not the id of an order.", "the id of an earlier order")
    return text


_RecipeName = Annotated[str, Field(min_length=1, max_length=80)]


class OrderRequest(Figures):
    """Have a list of lines made, as one batch.

    Attributes:
        title: what the maker calls it.
        recipe: name of the recipe of lines that name none.
        recipes: recipes of the order's own, by name; `{text}` stands for the text of a line.
        shop: what to cut with and from.
        lines: what to make; left out where a table comes beside the request.
        marks: `drawn` on drawings and documents only, or `scribed` also on a hidden face.
        search_s: seconds for tighter layouts; 0 for the quick, repeatable way.
        prices: rules of the quote, in place of the shipped ones.
        revises: id of an earlier order whose sheets are kept as far as they hold.

    """

    title: Annotated[str, Field(max_length=1000)] = "Order"
    recipe: _RecipeName | None = None
    recipes: Annotated[dict[_RecipeName, dict[str, Any]], Field(max_length=50)] = Field(
        default_factory=dict
    )
    shop: ShopWish = NamedShop()
    lines: Annotated[Any, WithJsonSchema({"type": "array", "items": _LINE})] = None
    marks: Literal["drawn", "scribed"] = "drawn"
    search_s: Annotated[Search, Field(validation_alias=AliasChoices("search_s", "search"))] = 0
    prices: PriceRules = PriceRules()
    revises: Annotated[str, AfterValidator(_id_or_nothing)] = ""
